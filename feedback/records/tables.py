"""The store's tables: athletes, sessions, their means and traces, and what was erased."""

from __future__ import annotations

from sqlalchemy import (
    Boolean,
    Float,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    String,
    UniqueConstraint,
    false,
)
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column

UID = 32
UUID = 36
NAME = 40
"""Longest code name, name of a measure and the like."""


class Base(DeclarativeBase):
    """All tables; constraints have names, so that a migration can speak of them."""

    metadata = MetaData(
        naming_convention={
            "ix": "ix_%(table_name)s_%(column_0_N_name)s",
            "uq": "uq_%(table_name)s_%(column_0_N_name)s",
            "fk": "fk_%(table_name)s_%(column_0_N_name)s",
            "pk": "pk_%(table_name)s",
        }
    )


class AthleteRow(Base):
    """An athlete under one code name; who has had several has a row for each."""

    __tablename__ = "athlete"
    __table_args__ = (UniqueConstraint("uuid", "code_name"),)

    id: Mapped[int] = mapped_column(Integer, primary_key=True)
    uuid: Mapped[str] = mapped_column(String(UUID))
    """The athlete's id, by which all of the athlete is found."""
    code_name: Mapped[str] = mapped_column(String(NAME))


class SessionRow(Base):
    """One session; what is searched for stands in columns, all of it in ``digest``."""

    __tablename__ = "session"
    __table_args__ = (Index(None, "athlete_id", "started_utc"),)

    id: Mapped[int] = mapped_column(Integer, primary_key=True)
    uid: Mapped[str] = mapped_column(String(UID), unique=True)
    athlete_id: Mapped[int] = mapped_column(ForeignKey("athlete.id", ondelete="CASCADE"))
    origin: Mapped[str] = mapped_column(String(NAME))
    started_utc: Mapped[str] = mapped_column(String(32))
    view: Mapped[str] = mapped_column(String(NAME))
    belt_speed_kmh: Mapped[float | None] = mapped_column(Float)
    kind: Mapped[str | None] = mapped_column(String(NAME))
    number: Mapped[int | None] = mapped_column(Integer)
    run_s: Mapped[float] = mapped_column(Float)
    steps: Mapped[int] = mapped_column(Integer)
    pain_worst: Mapped[int | None] = mapped_column(Integer)
    effort_last: Mapped[int | None] = mapped_column(Integer)
    baseline: Mapped[bool] = mapped_column(Boolean, server_default=false())
    """The runner's own values were taken."""
    trial: Mapped[bool] = mapped_column(Boolean, server_default=false())
    """To try things out: it counts for nothing."""
    journal: Mapped[str] = mapped_column(String(255))
    """File name of the journal, at the station that holds it."""
    journal_bytes: Mapped[int] = mapped_column(Integer)
    """How long the journal was when it was read; a longer one is read again."""
    digest: Mapped[bytes] = mapped_column(LargeBinary)
    """The whole digest, JSON."""


class MeanRow(Base):
    """One mean of a session."""

    __tablename__ = "mean"
    __table_args__ = (Index(None, "session_id"),)

    id: Mapped[int] = mapped_column(Integer, primary_key=True)
    session_id: Mapped[int] = mapped_column(ForeignKey("session.id", ondelete="CASCADE"))
    measure: Mapped[str] = mapped_column(String(NAME))
    side: Mapped[str | None] = mapped_column(String(NAME))
    unit: Mapped[str] = mapped_column(String(NAME))
    part: Mapped[str] = mapped_column(String(NAME))
    mean: Mapped[float] = mapped_column(Float)
    sd: Mapped[float | None] = mapped_column(Float)
    values: Mapped[int] = mapped_column(Integer)
    sem: Mapped[float | None] = mapped_column(Float)
    stated: Mapped[float | None] = mapped_column(Float)
    freedom: Mapped[float | None] = mapped_column(Float)


class TraceRow(Base):
    """The single values of a session (:mod:`feedback.records.packed_values`).

    They stand apart, since they are long. Sessions without any have no row.
    """

    __tablename__ = "trace"

    session_id: Mapped[int] = mapped_column(
        ForeignKey("session.id", ondelete="CASCADE"), primary_key=True, autoincrement=False
    )
    packed: Mapped[bytes] = mapped_column(LargeBinary)


class ErasedRow(Base):
    """A session that was erased on purpose: no station may put it back from a journal."""

    __tablename__ = "erased"

    uid: Mapped[str] = mapped_column(String(UID), primary_key=True)
