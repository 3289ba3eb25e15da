"""A made-up runner that hears cues and learns, and its rehearsal of a plan."""
