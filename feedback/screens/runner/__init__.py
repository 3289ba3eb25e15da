"""The runner's screen."""
