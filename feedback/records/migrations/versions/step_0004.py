"""How surely means are known, and which sessions were baselines or trials."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"


def upgrade() -> None:
    """Go one step on."""
    op.add_column("mean", sa.Column("freedom", sa.Float(), nullable=True))
    for name in ("baseline", "trial"):
        column: sa.Column[bool] = sa.Column(
            name, sa.Boolean(), nullable=False, server_default=sa.false()
        )
        op.add_column("session", column)
    # What was kept was worked out by older rules: at the station that holds its file each session
    # is read once more.
    op.execute("UPDATE session SET journal_bytes = -1")
