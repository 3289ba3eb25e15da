"""Rendered runners with exact truth: generator, clips and their tests."""
