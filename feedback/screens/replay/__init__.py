"""The replay window."""
