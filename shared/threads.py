"""How threads share two cores: numpy keeps to one, and what can wait steps aside.

To be imported before numpy is, which reads its settings once. Our matrices are small: a second
thread gains them little, and while it waits for its next share it keeps a core busy that the pose
model wants. On two cores the model's slowest calls then took a third longer.
"""

from __future__ import annotations

import os
import sys
import threading
from typing import Final

_SETTINGS: Final = (
    "OPENBLAS_NUM_THREADS",
    "MKL_NUM_THREADS",
    "BLIS_NUM_THREADS",
    "VECLIB_MAXIMUM_THREADS",
)
"""One for each library that numpy may have been built with."""

for _name in _SETTINGS:
    os.environ.setdefault(_name, "1")  # who has set it otherwise knows why


def step_aside(steps: int) -> None:
    """Have other threads go before this one, and before those that it begins.

    ``steps`` of niceness, as the system counts it; only Linux can do so for a single thread.
    """
    if sys.platform == "linux":
        thread = threading.get_native_id()
        own = os.getpriority(os.PRIO_PROCESS, thread)
        os.setpriority(os.PRIO_PROCESS, thread, own + steps)
