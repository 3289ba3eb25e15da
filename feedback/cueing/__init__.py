"""From a measure to a cue: judge, cues, and one target with both."""
