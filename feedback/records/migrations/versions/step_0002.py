"""Single values by step, for reports made where the journal does not lie."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Go one step on."""
    op.create_table(
        "trace",
        sa.Column("session_id", sa.Integer(), nullable=False),
        sa.Column("packed", sa.LargeBinary(), nullable=False),
        sa.PrimaryKeyConstraint("session_id", name="pk_trace"),
        sa.ForeignKeyConstraint(
            ["session_id"], ["session.id"], name="fk_trace_session_id", ondelete="CASCADE"
        ),
    )
    # Journals that were read before are read once more, at the station that holds them.
    op.execute("UPDATE session SET journal_bytes = -1 WHERE origin = 'station'")
