"""The store: all sessions in one database, so that they can be compared.

A SQLite file of the user's own, or a PostgreSQL database that several stations share. Journals are
the source: the store can be thrown away and filled again from them.
"""

from __future__ import annotations

import contextlib
import importlib.resources
import logging
from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Any, Final, TypeVar

import msgspec
from alembic import command
from alembic.config import Config
from alembic.util import CommandError
from sqlalchemy import (
    ColumnElement,
    Connection,
    Insert,
    delete,
    func,
    insert,
    select,
    text,
)
from sqlalchemy.dialects import postgresql, sqlite

from feedback.records.answers import uids_kept
from feedback.records.database import open_engine, told_of_faults
from feedback.records.rows import DamagedRowError, check, digest_of, row_of
from feedback.records.summary import CountsAs, Digest, MeanValue, Origin
from feedback.records.tables import AthleteRow, ErasedRow, MeanRow, SessionRow, TraceRow
from shared.closing import Closing
from shared.flow import View
from shared.identity import id_of
from shared.language import _
from shared.problems import UserError
from shared.targets import SessionKind

LOCK: Final = 0x42534C44
"""Number of the lock under which writers of a shared database take turns."""


R = TypeVar("R")
T = TypeVar("T")


class SessionLine(CountsAs, msgspec.Struct, frozen=True, kw_only=True):
    """One session, as it is listed."""

    uid: str
    athlete_id: str
    code_name: str
    """As it was then."""
    started_utc: str
    view: View
    belt_speed_kmh: float | None
    kind: SessionKind | None
    number: int | None
    run_s: float
    steps: int
    pain_worst: int | None
    effort_last: int | None
    journal: str
    baseline: bool = False
    """The runner's own values were taken."""
    trial: bool = False
    """To try things out: it counts for nothing."""


class AthleteLine(msgspec.Struct, frozen=True, kw_only=True):
    """An athlete under one code name, as it is listed."""

    athlete_id: str
    code_name: str
    sessions: int


class Store(Closing):
    """One open store. Every method is one transaction: it happens whole or not at all.

    Raises UserError ``store_unreachable`` wherever the database does not answer.
    """

    def __init__(self, url: str = "") -> None:
        self._engine = open_engine(url)
        self.damaged = False
        """Whether rows were left out of what was read, since they hold what cannot be."""
        try:
            self._migrate()
        except BaseException:
            self._engine.dispose()
            raise

    def close(self) -> None:
        """Let go of the database."""
        self._engine.dispose()

    # writing

    def put(self, digest: Digest, journal: str, journal_bytes: int, trace: bytes = b"") -> bool:
        """Keep a session, in place of what was kept of it before; ``trace`` as it was packed.

        False when it was erased on purpose: then nothing is kept. Raises ValueError where it holds
        what cannot be.
        """
        check(digest)
        with self._writing() as connection:
            gone = select(ErasedRow.uid).where(ErasedRow.uid == digest.uid)
            if connection.execute(gone).first() is not None:
                return False
            connection.execute(delete(SessionRow).where(SessionRow.uid == digest.uid))
            athlete = self._athlete_row(connection, id_of(digest), digest.code_name)
            row = _session_row(digest, athlete, journal, journal_bytes)
            made = connection.execute(insert(SessionRow).values(row).returning(SessionRow.id))
            session = made.scalar_one()
            if digest.means:
                rows = [_mean_row(mean, session) for mean in digest.means]
                connection.execute(insert(MeanRow), rows)
            if trace:
                connection.execute(insert(TraceRow).values(session_id=session, packed=trace))
        return True

    def erase_athlete(self, athlete_id: str) -> tuple[str, ...]:
        """Erase all of one athlete for good; returns the sessions' uids."""
        athlete = select(AthleteRow.id).where(AthleteRow.uuid == athlete_id)
        with self._writing() as connection:
            of_athlete = SessionRow.athlete_id.in_(athlete)
            uids = tuple(connection.scalars(select(SessionRow.uid).where(of_athlete)))
            self._bury(connection, uids)
            connection.execute(delete(AthleteRow).where(AthleteRow.uuid == athlete_id))
        self._forget()
        return uids

    def erase_sessions(self, uids: Sequence[str]) -> None:
        """Erase some sessions for good."""
        with self._writing() as connection:
            self._bury(connection, uids)
            connection.execute(delete(AthleteRow).where(_without_sessions()))
        self._forget()

    def leave_out(self, uids: Sequence[str]) -> None:
        """Take sessions out that may come back, with their records; else as erased ones."""
        with self._writing() as connection:
            for uid in uids:
                connection.execute(delete(SessionRow).where(SessionRow.uid == uid))
            connection.execute(delete(AthleteRow).where(_without_sessions()))

    def clear(self) -> None:
        """Forget all sessions, to fill the store again; what was erased stays erased."""
        with self._writing() as connection:
            for table in (TraceRow, MeanRow, SessionRow, AthleteRow):
                connection.execute(delete(table))

    # reading

    def holds(self, uid: str) -> bool:
        """Whether a session is in the store."""
        with self._reading() as connection:
            wanted = select(SessionRow.id).where(SessionRow.uid == uid)
            return connection.execute(wanted).first() is not None

    def journal_of(self, uid: str) -> str | None:
        """The file that a session was read from; None where it is not in the store."""
        with self._reading() as connection:
            return connection.scalar(select(SessionRow.journal).where(SessionRow.uid == uid))

    def files(self) -> dict[str, int]:
        """How long each journal was when it was read, by file name."""
        with self._reading() as connection:
            rows = connection.execute(select(SessionRow.journal, SessionRow.journal_bytes)).all()
        return {row.journal: row.journal_bytes for row in rows}

    def erased(self) -> frozenset[str]:
        """Sessions that were erased on purpose."""
        with self._reading() as connection:
            return frozenset(connection.scalars(select(ErasedRow.uid)))

    def athletes(self) -> tuple[AthleteLine, ...]:
        """Every athlete under each code name with how many sessions, the newest name first."""
        newest = func.max(SessionRow.started_utc)
        wanted = (
            select(AthleteRow.uuid, AthleteRow.code_name, func.count().label("sessions"))
            .join(SessionRow, SessionRow.athlete_id == AthleteRow.id)
            .group_by(AthleteRow.uuid, AthleteRow.code_name)
            .order_by(newest.desc(), AthleteRow.code_name, AthleteRow.uuid)
        )
        with self._reading() as connection:
            rows = connection.execute(wanted).all()
        return tuple(
            AthleteLine(athlete_id=row.uuid, code_name=row.code_name, sessions=row.sessions)
            for row in rows
        )

    def sessions(self, athlete_id: str | None = None) -> tuple[SessionLine, ...]:
        """Sessions of one athlete, or of all, the oldest first."""
        row = SessionRow
        wanted = select(
            row.uid, AthleteRow.uuid.label("athlete_id"), AthleteRow.code_name, row.started_utc,
            row.view, row.belt_speed_kmh, row.kind, row.number, row.run_s, row.steps,
            row.pain_worst, row.effort_last, row.journal, row.baseline, row.trial,
        ).join(AthleteRow, row.athlete_id == AthleteRow.id)  # fmt: skip
        if athlete_id is not None:
            wanted = wanted.where(AthleteRow.uuid == athlete_id)
        wanted = wanted.order_by(row.started_utc, row.uid)
        with self._reading() as connection:
            rows = connection.execute(wanted).mappings().all()
        return tuple(self._sound(rows, lambda one: row_of(dict(one), SessionLine)))

    def digest(self, uid: str) -> Digest:
        """One session. Raises KeyError for an unknown one, UserError ``session_damaged``."""
        with self._reading() as connection:
            wanted = select(SessionRow.digest).where(SessionRow.uid == uid)
            found = connection.scalar(wanted)
        if found is None:
            raise KeyError(uid)
        try:
            return digest_of(found)
        except DamagedRowError as error:
            raise UserError("session_damaged", str(error), why=str(error)) from error

    def trace(self, uid: str) -> bytes:
        """The packed single values of a session; empty where there are none."""
        wanted = select(TraceRow.packed).join(SessionRow, TraceRow.session_id == SessionRow.id)
        with self._reading() as connection:
            return connection.scalar(wanted.where(SessionRow.uid == uid)) or b""

    def digests(self, athlete_id: str) -> tuple[Digest, ...]:
        """All sessions of one athlete, the oldest first."""
        wanted = (
            select(SessionRow.digest)
            .join(AthleteRow, SessionRow.athlete_id == AthleteRow.id)
            .where(AthleteRow.uuid == athlete_id)
            .order_by(SessionRow.started_utc, SessionRow.uid)
        )
        with self._reading() as connection:
            return tuple(self._sound(connection.scalars(wanted), digest_of))

    # inside

    def _sound(self, rows: Iterable[R], make: Callable[[R], T]) -> Iterator[T]:
        """What is made of each row; one that is damaged does not hide the others."""
        for row in rows:
            try:
                yield make(row)
            except DamagedRowError as error:
                logging.getLogger("beltside").warning("a row of the store: %s", error)
                self.damaged = True

    def _migrate(self) -> None:
        """Bring the tables up to date; stations that start at once take turns."""
        config = Config()
        folder = importlib.resources.files("feedback.records") / "migrations"
        config.set_main_option("script_location", str(folder))
        try:
            with self._rebuilding(), self._writing() as connection:
                config.attributes["connection"] = connection
                command.upgrade(config, "head")
        except CommandError as error:
            why = _("a newer version of the program has made its tables; install that one here too")
            raise UserError("store_unreachable", str(error), why=why) from error

    def _athlete_row(self, connection: Connection, athlete_id: str, code_name: str) -> int:
        connection.execute(self._insert_new(AthleteRow, uuid=athlete_id, code_name=code_name))
        named = AthleteRow.uuid == athlete_id, AthleteRow.code_name == code_name
        wanted = select(AthleteRow.id).where(*named)
        return connection.execute(wanted).scalar_one()

    def _bury(self, connection: Connection, uids: Sequence[str]) -> None:
        for uid in uids:
            wanted = select(SessionRow.digest).where(SessionRow.uid == uid)
            known = [uid, *_answered(connection.scalar(wanted))]
            for one in known:
                connection.execute(self._insert_new(ErasedRow, uid=one))
            connection.execute(delete(SessionRow).where(SessionRow.uid == uid))

    def _insert_new(self, table: type[AthleteRow | ErasedRow], **values: Any) -> Insert:
        if self._engine.dialect.name == "postgresql":
            return postgresql.insert(table).values(**values).on_conflict_do_nothing()
        return sqlite.insert(table).values(**values).on_conflict_do_nothing()

    def _forget(self) -> None:
        """Give back the room of what was erased, so that it is not in the file any more."""
        if self._engine.dialect.name == "sqlite":
            with told_of_faults(), self._engine.connect() as connection:
                connection.connection.execute("VACUUM")  # outside any transaction

    @contextlib.contextmanager
    def _rebuilding(self) -> Iterator[None]:
        """SQLite changes a table by making it anew: what hangs on its rows must not go with it."""
        if self._engine.dialect.name != "sqlite":
            yield
            return
        # Said outside of any transaction, or it is not heeded. Then the connection is closed, and
        # each later one watches over its references as before.
        with told_of_faults(), self._engine.connect() as connection:
            connection.connection.execute("PRAGMA foreign_keys = OFF")
        try:
            yield
        finally:
            self._engine.dispose()

    @contextlib.contextmanager
    def _reading(self) -> Iterator[Connection]:
        with told_of_faults(), self._engine.begin() as connection:
            yield connection

    @contextlib.contextmanager
    def _writing(self) -> Iterator[Connection]:
        with self._reading() as connection:
            if self._engine.dialect.name == "postgresql":
                connection.execute(text("SELECT pg_advisory_xact_lock(:n)"), {"n": LOCK})
            yield connection


def _answered(content: bytes | None) -> Iterator[str]:
    """What else is kept of an erased session, so that no copy of its result comes back."""
    with contextlib.suppress(DamagedRowError):
        if content is not None and (found := digest_of(content)).origin is Origin.HOME:
            yield from uids_kept(found)


def _without_sessions() -> ColumnElement[bool]:
    return ~select(SessionRow.id).where(SessionRow.athlete_id == AthleteRow.id).exists()


def _session_row(
    digest: Digest, athlete: int, journal: str, journal_bytes: int
) -> dict[str, object]:
    return {
        "uid": digest.uid,
        "athlete_id": athlete,
        "origin": digest.origin.value,
        "started_utc": digest.started_utc,
        "view": digest.view.value,
        "belt_speed_kmh": digest.belt_speed_kmh,
        "kind": digest.kind,
        "number": digest.number,
        "run_s": digest.run_s,
        "steps": digest.steps,
        "pain_worst": digest.pain_worst,
        "effort_last": digest.effort_last,
        "baseline": digest.baseline,
        "trial": digest.trial,
        "journal": journal,
        "journal_bytes": journal_bytes,
        "digest": msgspec.json.encode(digest),
    }


def _mean_row(mean: MeanValue, session: int) -> dict[str, object]:
    return {**msgspec.to_builtins(mean), "session_id": session}
