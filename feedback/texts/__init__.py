"""Every text that people read, by screen."""
