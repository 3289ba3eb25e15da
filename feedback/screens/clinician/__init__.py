"""The clinician's panel and console."""
