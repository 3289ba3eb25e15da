"""A store as an older version of the program has left it."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from alembic import command
from alembic.config import Config
from sqlalchemy import Connection, insert, inspect, text

from feedback.records.database import open_engine
from feedback.records.store import _mean_row, _session_row
from feedback.records.summary import Digest
from feedback.records.tables import MeanRow, SessionRow


def old_store(url: str, revision: str, sessions: Sequence[tuple[Digest, Path]]) -> None:
    """Tables of that revision, before there were ids of athletes, with these sessions in them."""
    engine = open_engine(url)
    config = Config()
    config.set_main_option("script_location", "feedback:records/migrations")
    names = {digest.code_name: None for digest, _ in sessions}
    with engine.begin() as connection:
        config.attributes["connection"] = connection
        command.upgrade(config, revision)
        for number, name in enumerate(names, start=1):
            added = text("INSERT INTO athlete (id, code_name) VALUES (:id, :name)")
            connection.execute(added, {"id": number, "name": name})
        for number, (digest, path) in enumerate(sessions, start=1):
            whose = list(names).index(digest.code_name) + 1
            row = _session_row(digest, whose, path.name, path.stat().st_size)
            _insert(connection, SessionRow, {**row, "id": number})
            for mean in digest.means:
                _insert(connection, MeanRow, _mean_row(mean, number))
    engine.dispose()


def _insert(
    connection: Connection, row: type[SessionRow | MeanRow], values: dict[str, Any]
) -> None:
    """A row, without the columns that its table does not have yet."""
    known = {one["name"] for one in inspect(connection).get_columns(row.__tablename__)}
    kept = {name: value for name, value in values.items() if name in known}
    connection.execute(insert(row).values(kept))
