"""``serve``: runs the web server; with ``--demo`` on a throw-away folder with an invented practice."""

from __future__ import annotations

import argparse
import importlib
import logging
import shutil
import signal
import socket
import sys
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from fastapi import FastAPI
from sqlalchemy.exc import DBAPIError

from app.cli.first_start import first_start_on_this_terminal
from app.cli.settings_in_force import DEFAULT, InForce, check_data_folder, contradictions, settings_in_force
from app.core.errors import InputError
from app.settings import Settings
from app.storage.database import Store
from app.storage.trouble import trouble_of
from app.web.application import create_application
from app.web.log_lines import install_log
from app.web.server import Server
from app.work.accounts import is_first_start

log = logging.getLogger("fullcount")


def run(arguments: list[str]) -> int:
    """Serve until stopped; 0 where it was stopped by hand."""
    parser = argparse.ArgumentParser(prog="python -m app serve", description="Runs the web server.")
    parser.add_argument("--demo", action="store_true", help="an invented practice in a throw-away data folder")
    parser.add_argument("--config", metavar="FILE", help="TOML file with settings; else FULLCOUNT_CONFIG names it")
    parser.add_argument("--host", help="address to listen on; 127.0.0.1 by default")
    parser.add_argument("--port", type=int, help="port to listen on, 0 for any free one; 8123 by default")
    options = parser.parse_args(arguments)
    given = {name: value for name in ("host", "port") if (value := getattr(options, name)) is not None}
    # By default this signal ends the process on the spot, and the throw-away folder would stay behind.
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(0))
    with _data_folder(demo=options.demo) as folder:
        found = settings_in_force(given | ({"data_folder": folder} if folder is not None else {}), options.config)
        check_data_folder(found)
        settings = _quiet(found) if options.demo else found.settings
        install_log(settings)
        for each in contradictions(settings):
            log.warning("%s.", each)
        log_ins = _build_demo(settings.data_folder) if options.demo else ()
        return _serve(settings, log_ins, thrown_away=folder)


@contextmanager
def _data_folder(*, demo: bool) -> Iterator[Path | None]:
    if not demo:
        yield None
        return
    with tempfile.TemporaryDirectory(prefix="fullcount-demo-", ignore_cleanup_errors=True) as folder:
        yield Path(folder)


def _quiet(found: InForce) -> Settings:
    """The demo's log-ins stay in sight: a line for each request is told only where somebody asked for it."""
    if found.origins["log_level"] != DEFAULT:
        return found.settings
    return found.settings.model_copy(update={"log_level": "warning"})


def _build_demo(folder: Path) -> Sequence[Any]:
    print("building the demo practice, a moment …", file=sys.stderr, flush=True)
    log_ins: Sequence[Any] = importlib.import_module("seed.demo").build(folder)
    return log_ins


def _serve(settings: Settings, log_ins: Sequence[Any], *, thrown_away: Path | None) -> int:
    if not log_ins:
        first_start_on_this_terminal(settings)
    listening = _listen(settings.host, settings.port)
    application = create_application(settings)
    address = f"http://{_in_address(settings.host)}:{listening.getsockname()[1]}"
    _announce(settings, application, address, log_ins)

    def clear_up() -> None:
        if thrown_away is not None:
            shutil.rmtree(thrown_away, ignore_errors=True)

    server = Server(application, settings, clear_up)
    try:
        server.run(sockets=[listening])
    except KeyboardInterrupt:
        pass
    finally:
        listening.close()
    return 0 if server.started else 1


def _in_address(host: str) -> str:
    return f"[{host}]" if ":" in host else host


def _listen(host: str, port: int) -> socket.socket:
    """Take the port before anything is announced, so that the address printed is the one that answers."""
    try:
        family, kind, protocol, _, place = socket.getaddrinfo(
            host, port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE
        )[0]
        listening = socket.socket(family, kind, protocol)
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listening.bind(place)
        # Whoever reads the address may come at once: until the server answers, they wait in the queue.
        listening.listen(128)
    except (OSError, UnicodeError) as error:
        reason = getattr(error, "strerror", None) or error
        raise InputError(
            f"{host}:{port}", f"cannot be listened on ({reason}). Choose another with --host or --port"
        ) from error
    return listening


def _open(folder: Path) -> Store:
    """The data folder, brought to the newest revision; told in one line where that cannot be."""
    try:
        store = Store(folder)
        store.migrate()
    except (DBAPIError, OSError) as error:
        trouble = trouble_of(error)
        if trouble is None:
            raise
        raise InputError(str(folder), str(trouble)) from error
    return store


def _announce(settings: Settings, application: FastAPI, address: str, log_ins: Sequence[Any]) -> None:
    # A folder that cannot be opened is told before anything is promised.
    store = _open(settings.data_folder)
    print(f"fullcount answers at {address}", flush=True)
    if log_ins:
        store.close()
        print("An invented practice, thrown away when the server stops. Log in as:")
        for each in log_ins:
            print(f"  {each.login:<12} {each.password:<24} {each.name}, {str(each.role).replace('_', ' ')}")
        print(flush=True)
        return
    try:
        if is_first_start(store):
            print(f"Nobody works here yet. Open {address}/first-start and enter this code:")
            print(f"  {application.state.first_code.shown}", flush=True)
    finally:
        store.close()
