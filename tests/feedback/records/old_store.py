"""A store as an older version of the program has left it."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from alembic import command
from alembic.config import Config
from sqlalchemy import insert, text

from feedback.records.digest import Digest
from feedback.records.store import _engine, _mean_row, _session_row
from feedback.records.tables import MeanRow, SessionRow


def old_store(url: str, revision: str, sessions: Sequence[tuple[Digest, Path]]) -> None:
    """Tables of that revision, before there were ids of athletes, with these sessions in them."""
    engine = _engine(url)
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
            connection.execute(insert(SessionRow).values({**row, "id": number}))
            means = [_mean_row(mean, number) for mean in digest.means]
            connection.execute(insert(MeanRow), means)
    engine.dispose()
