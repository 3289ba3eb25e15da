"""Checks of feedback/demo."""
