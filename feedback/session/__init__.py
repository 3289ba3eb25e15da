"""The session: all that is known and decided while somebody runs."""
