"""Picture to measure: frames, pose, gait events and measures by step."""

import shared.threads as _threads  # noqa: F401 - before numpy
