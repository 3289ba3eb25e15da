"""The camera check's small station."""
