"""Run by Alembic: takes the connection that the store hands over."""

from __future__ import annotations

from alembic import context

from feedback.records.tables import Base

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=Base.metadata,
    render_as_batch=True,
)
with context.begin_transaction():
    context.run_migrations()
