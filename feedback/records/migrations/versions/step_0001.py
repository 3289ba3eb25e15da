"""The first tables."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Go one step on."""
    op.create_table(
        "athlete",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("code_name", sa.String(40), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_athlete"),
        sa.UniqueConstraint("code_name", name="uq_athlete_code_name"),
    )
    op.create_table(
        "session",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("uid", sa.String(32), nullable=False),
        sa.Column("athlete_id", sa.Integer(), nullable=False),
        sa.Column("origin", sa.String(40), nullable=False),
        sa.Column("started_utc", sa.String(32), nullable=False),
        sa.Column("view", sa.String(40), nullable=False),
        sa.Column("belt_speed_kmh", sa.Float()),
        sa.Column("kind", sa.String(40)),
        sa.Column("number", sa.Integer()),
        sa.Column("run_s", sa.Float(), nullable=False),
        sa.Column("steps", sa.Integer(), nullable=False),
        sa.Column("pain_worst", sa.Integer()),
        sa.Column("effort_last", sa.Integer()),
        sa.Column("journal", sa.String(255), nullable=False),
        sa.Column("journal_bytes", sa.Integer(), nullable=False),
        sa.Column("digest", sa.LargeBinary(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_session"),
        sa.UniqueConstraint("uid", name="uq_session_uid"),
        sa.ForeignKeyConstraint(
            ["athlete_id"], ["athlete.id"], name="fk_session_athlete_id", ondelete="CASCADE"
        ),
    )
    op.create_index("ix_session_athlete_id_started_utc", "session", ["athlete_id", "started_utc"])
    op.create_table(
        "mean",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("session_id", sa.Integer(), nullable=False),
        sa.Column("measure", sa.String(40), nullable=False),
        sa.Column("side", sa.String(40)),
        sa.Column("unit", sa.String(40), nullable=False),
        sa.Column("part", sa.String(40), nullable=False),
        sa.Column("mean", sa.Float(), nullable=False),
        sa.Column("sd", sa.Float()),
        sa.Column("values", sa.Integer(), nullable=False),
        sa.Column("sem", sa.Float()),
        sa.Column("stated", sa.Float()),
        sa.PrimaryKeyConstraint("id", name="pk_mean"),
        sa.ForeignKeyConstraint(
            ["session_id"], ["session.id"], name="fk_mean_session_id", ondelete="CASCADE"
        ),
    )
    op.create_index("ix_mean_session_id", "mean", ["session_id"])
    op.create_table(
        "erased",
        sa.Column("uid", sa.String(32), nullable=False),
        sa.PrimaryKeyConstraint("uid", name="pk_erased"),
    )
