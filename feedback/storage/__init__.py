"""The user's own data: folders, fields of TOML files, settings, and one writer at a time."""
