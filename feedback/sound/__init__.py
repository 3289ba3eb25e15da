"""Cues and the beat as sound: what they sound like, and the output that plays them."""
