"""The rules that keep a session safe, the hazards that end it, and the warnings."""
