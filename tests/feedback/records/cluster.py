"""A PostgreSQL server of the tests' own, in a folder of its own; never one that is running."""

from __future__ import annotations

import contextlib
import os
import pwd
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from pathlib import Path

import psycopg

PORT = 55432
"""Of the socket's name only: the server listens to no network."""


def programs() -> Path | None:
    """The folder with initdb and pg_ctl; None without PostgreSQL."""
    folders = sorted(Path("/usr/lib/postgresql").glob("*/bin"), reverse=True)
    found = shutil.which("initdb")
    places = [*folders, *([Path(found).parent] if found else [])]
    return next((one for one in places if (one / "initdb").exists()), None)


@contextlib.contextmanager
def cluster() -> Iterator[str]:
    """Start a server; gives the URL of its first database. The server refuses to run as root."""
    found = programs()
    if found is None:
        raise RuntimeError("PostgreSQL is not installed (on Debian: apt install postgresql)")
    folder = Path(tempfile.mkdtemp(prefix="beltside-pg-"))
    user = "postgres" if os.geteuid() == 0 else pwd.getpwuid(os.geteuid()).pw_name
    if os.geteuid() == 0:
        shutil.chown(folder, user, user)
    data = folder / "data"
    options = f"-k {folder} -p {PORT} -c listen_addresses= -c fsync=off"
    try:
        _as(user, found / "initdb", "-D", data, "-A", "trust", "-U", "beltside", "-E", "UTF8", "-N")
        _as(user, found / "pg_ctl", "-D", data, "-w", "-l", folder / "log", "-o", options, "start")
        try:
            yield f"postgresql://beltside@/postgres?host={folder}&port={PORT}"
        finally:
            _as(user, found / "pg_ctl", "-D", data, "-w", "-m", "immediate", "stop")
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _as(user: str, *words: str | Path) -> None:
    line = [str(word) for word in words]
    if os.geteuid() == 0:
        line = ["runuser", "-u", user, "--", *line]
    done = subprocess.run(line, capture_output=True, text=True, check=False, timeout=120, cwd="/")
    if done.returncode:
        raise RuntimeError(f"{line}: {done.stdout}{done.stderr}")


def fresh_database(server: str, name: str) -> str:
    """A new, empty database on the server."""
    with psycopg.connect(server, autocommit=True) as connection:
        connection.execute(f"CREATE DATABASE {name}")
    return server.replace("/postgres?", f"/{name}?")
