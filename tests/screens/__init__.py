"""Pictures of all screens in all their states."""
