"""The window of the camera check."""
