"""The station: the process that does all that is timed."""
