"""The database that the store is in: a SQLite file of the user's own, or a PostgreSQL server."""

from __future__ import annotations

import contextlib
import errno
import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

import platformdirs
from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.engine import make_url
from sqlalchemy.exc import ArgumentError, DataError, SQLAlchemyError

from shared.files import private_folder
from shared.language import _
from shared.problems import UserError, reason_of

BUSY_S: Final = 30.0
"""So long one station waits for another to finish writing."""
CONNECT_S: Final = 5
"""So long a database may take to answer at all: nobody stands waiting for it before a session."""


def default_file() -> Path:
    """Where the store is without any setting."""
    return Path(platformdirs.user_data_dir("beltside", appauthor=False)) / "store.sqlite"


@contextlib.contextmanager
def told_of_faults() -> Iterator[None]:
    """Raise UserError ``store_unreachable`` for what the database cannot do."""
    try:
        yield
    except DataError:  # a value that no column takes says nothing against the database
        raise
    except SQLAlchemyError as error:
        original = getattr(error, "orig", None) or error
        why = str(original).strip().splitlines()[0] if str(original).strip() else _("no answer")
        raise UserError("store_unreachable", str(error), why=why) from error


def open_engine(url: str) -> Engine:
    """The engine for a URL; empty for the user's own SQLite file."""
    if not url:
        return _sqlite(default_file())
    try:
        parts = make_url(url)
        if parts.get_backend_name() == "sqlite" and parts.database:
            return _sqlite(Path(parts.database))
        if parts.get_backend_name() in {"postgresql", "postgres"}:
            parts = parts.set(drivername="postgresql+psycopg")
            waits = {"connect_timeout": CONNECT_S}
            return create_engine(parts, pool_pre_ping=True, connect_args=waits)
    except ImportError as error:
        why = _("for PostgreSQL the package psycopg is needed: pip install 'beltside[postgresql]'")
        raise UserError("store_unreachable", str(error), why=why) from error
    except ArgumentError as error:
        raise UserError("store_unreachable", why=_("its address cannot be read")) from error
    raise UserError("store_unreachable", why=_("only sqlite:/// and postgresql:// are known"))


def _sqlite(file: Path) -> Engine:
    try:
        _make_file(file)
    except OSError as error:
        why = reason_of(error)
        raise UserError("store_unreachable", str(error), why=f"{file}: {why}") from error
    engine = create_engine(f"sqlite:///{file}", connect_args={"timeout": BUSY_S})

    # The driver would begin a transaction only at the first write, too late to take turns.
    @event.listens_for(engine, "connect")
    def on_connect(connection: Any, _record: object) -> None:
        connection.isolation_level = None
        for pragma in ("foreign_keys = ON", "secure_delete = ON"):
            connection.execute(f"PRAGMA {pragma}")

    @event.listens_for(engine, "begin")
    def on_begin(connection: Connection) -> None:
        connection.exec_driver_sql("BEGIN IMMEDIATE")

    return engine


def _make_file(file: Path) -> None:
    """An empty one for its owner only, where there is none. Raises OSError."""
    private_folder(file.parent)
    if file.exists() and not file.is_file():
        raise OSError(errno.EINVAL, _("it is a folder, a pipe or a device, not a file"))
    os.close(os.open(file, os.O_CREAT | os.O_RDWR, 0o600))
