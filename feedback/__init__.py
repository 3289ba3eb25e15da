"""Measure to cue, and all that people touch: judging, cues, sound, screens, records."""

import shared.threads as _threads  # noqa: F401 - before numpy
