"""Picture to measure: frames, pose, gait events and measures by step."""
