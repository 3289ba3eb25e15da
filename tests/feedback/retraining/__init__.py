"""Tests of baseline, targets, drills, plans, home sessions and the made-up runner."""
