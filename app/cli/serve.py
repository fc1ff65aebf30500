"""``serve``: runs the web server; with ``--demo`` on a throw-away folder with an invented practice."""

from __future__ import annotations

import argparse
import importlib
import signal
import socket
import sys
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import uvicorn
from fastapi import FastAPI
from pydantic import ValidationError

from app.cli.first_start import first_start_on_this_terminal
from app.core.errors import InputError
from app.settings import Settings
from app.storage.database import Store
from app.web.application import create_application
from app.work.accounts import is_first_start


def run(arguments: list[str]) -> int:
    """Serve until stopped; 0 where it was stopped by hand."""
    parser = argparse.ArgumentParser(prog="python -m app serve", description="Runs the web server.")
    parser.add_argument("--demo", action="store_true", help="an invented practice in a throw-away data folder")
    parser.add_argument("--host", help="address to listen on; 127.0.0.1 by default")
    parser.add_argument("--port", type=int, help="port to listen on, 0 for any free one; 8123 by default")
    options = parser.parse_args(arguments)
    given = {name: value for name in ("host", "port") if (value := getattr(options, name)) is not None}
    # By default this signal ends the process on the spot, and the throw-away folder would stay behind.
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(0))
    with _data_folder(demo=options.demo) as folder:
        settings = _settings(given | ({"data_folder": folder} if folder is not None else {}))
        log_ins = _build_demo(settings.data_folder) if options.demo else ()
        return _serve(settings, log_ins)


@contextmanager
def _data_folder(*, demo: bool) -> Iterator[Path | None]:
    if not demo:
        yield None
        return
    with tempfile.TemporaryDirectory(prefix="fullcount-demo-", ignore_cleanup_errors=True) as folder:
        yield Path(folder)


def _settings(given: dict[str, Any]) -> Settings:
    try:
        return Settings(**given)
    except ValidationError as error:
        first = error.errors()[0]
        name = ".".join(str(part) for part in first["loc"])
        source = f"--{name}" if name in given else f"FULLCOUNT_{name.upper()}"
        raise InputError(source, f"{first['msg']}; {first['input']!r} stood there. Correct it") from error


def _build_demo(folder: Path) -> Sequence[Any]:
    print("building the demo practice, a moment …", file=sys.stderr, flush=True)
    log_ins: Sequence[Any] = importlib.import_module("seed.demo").build(folder)
    return log_ins


def _serve(settings: Settings, log_ins: Sequence[Any]) -> int:
    if not log_ins:
        first_start_on_this_terminal(settings)
    listening = _listen(settings.host, settings.port)
    application = create_application(settings)
    address = f"http://{_in_address(settings.host)}:{listening.getsockname()[1]}"
    _announce(settings, application, address, log_ins)
    server = uvicorn.Server(
        uvicorn.Config(
            application,
            loop="uvloop",
            log_level="warning",
            server_header=False,
            date_header=True,
            proxy_headers=False,
        )
    )
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


def _announce(settings: Settings, application: FastAPI, address: str, log_ins: Sequence[Any]) -> None:
    print(f"fullcount answers at {address}", flush=True)
    if log_ins:
        print("An invented practice, thrown away when the server stops. Log in as:")
        for each in log_ins:
            print(f"  {each.login:<12} {each.password:<24} {each.name}, {str(each.role).replace('_', ' ')}")
        print(flush=True)
        return
    store = Store(settings.data_folder)
    try:
        store.migrate()
        if is_first_start(store):
            print(f"Nobody works here yet. Open {address}/first-start and enter this code:")
            print(f"  {application.state.first_code.shown}", flush=True)
    finally:
        store.close()
