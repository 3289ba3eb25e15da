"""Measure to cue, and all that people touch: judging, cues, sound, screens, records."""
