"""Every athlete has an id of its own, and a code name that others may have as well."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from shared.identity import derived_id

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    """Go one step on."""
    op.add_column("athlete", sa.Column("uuid", sa.String(36)))
    known = sa.table("athlete", sa.column("id"), sa.column("code_name"), sa.column("uuid"))
    connection = op.get_bind()
    for row in connection.execute(sa.select(known.c.id, known.c.code_name)).all():
        named = known.update().where(known.c.id == row.id)
        connection.execute(named.values(uuid=derived_id(row.code_name)))
    with op.batch_alter_table("athlete") as athlete:
        athlete.alter_column("uuid", existing_type=sa.String(36), nullable=False)
        athlete.drop_constraint("uq_athlete_code_name", type_="unique")
        athlete.create_unique_constraint("uq_athlete_uuid_code_name", ["uuid", "code_name"])
