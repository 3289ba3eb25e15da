"""The steps by which the store's tables came to be what they are (Alembic)."""
