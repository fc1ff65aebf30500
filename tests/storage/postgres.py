"""A throw-away PostgreSQL cluster: Debian's own server, started on a free port of this machine."""

from __future__ import annotations

import os
import pwd
import shutil
import socket
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import psycopg


class Cluster:
    """A running server; makes empty databases."""

    def __init__(self, port: int) -> None:
        self._port = port
        self._made = 0

    def new_database(self) -> str:
        """The SQLAlchemy address of an empty database."""
        self._made += 1
        name = f"d{self._made}"
        with psycopg.connect(f"postgresql://app@127.0.0.1:{self._port}/postgres", autocommit=True) as connection:
            connection.execute(f"create database {name}")
        return f"postgresql+psycopg://app@127.0.0.1:{self._port}/{name}"


def binaries() -> Path | None:
    """The folder with initdb and pg_ctl: Debian's newest, else wherever PATH finds them."""
    folders = sorted(
        Path("/usr/lib/postgresql").glob("*/bin"), key=lambda each: int(each.parent.name), reverse=True
    )
    found = shutil.which("initdb")
    if found is not None:
        folders.append(Path(found).resolve().parent)
    return next((each for each in folders if (each / "initdb").exists() and (each / "pg_ctl").exists()), None)


def what_is_missing() -> str:
    """Why no server can be started here; empty where one can."""
    if binaries() is None:
        return "no PostgreSQL server: initdb and pg_ctl are missing (apt-get install postgresql)"
    if os.geteuid() == 0:
        try:
            pwd.getpwnam("postgres")
        except KeyError:
            return "no user postgres, and the server refuses to run as root (apt-get install postgresql)"
    return ""


@contextmanager
def running_cluster() -> Iterator[Cluster]:
    """A cluster in a folder of its own, gone afterwards."""
    folder = binaries()
    assert folder is not None, what_is_missing()
    # Not below pytest's own folder: that one lets only root in, and the server is not root.
    home = Path(tempfile.mkdtemp(prefix="cluster-"))
    data = home / "data"
    port = _free_port()
    # Durability is for data that is kept; this cluster lives for one test run.
    options = f"-p {port} -c listen_addresses=127.0.0.1 -k {home} -c fsync=off"
    try:
        if os.geteuid() == 0:
            shutil.chown(home, "postgres", "postgres")
        _run(home, folder / "initdb", "-D", data, *"-A trust -U app --no-sync -E UTF8 --locale=C.UTF-8".split())
        _run(home, folder / "pg_ctl", "-D", data, "-w", "-l", home / "log", "-o", options, "start")
        try:
            yield Cluster(port)
        finally:
            _run(home, folder / "pg_ctl", "-D", data, "-m", "immediate", "stop")
    finally:
        shutil.rmtree(home, ignore_errors=True)


def _run(home: Path, *words: object) -> None:
    user: dict[str, object] = {}
    if os.geteuid() == 0:
        entry = pwd.getpwnam("postgres")
        user = {"user": entry.pw_uid, "group": entry.pw_gid, "extra_groups": []}
    # To a file, not a pipe: the server inherits it, and a pipe would never end.
    with (home / "said").open("w+") as said:
        done = subprocess.run([str(word) for word in words], cwd=home, stdout=said, stderr=said, **user)
        said.seek(0)
        assert done.returncode == 0, f"{words[0]} failed: {said.read()}"


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])
