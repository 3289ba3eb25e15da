"""Tests of the link."""
