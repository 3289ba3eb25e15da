"""Has Python tidy up its memory between two events of a window, and nowhere else.

Left to itself Python looks for unreachable objects whenever some were made: in the middle of a
window's painting, or in the thread of the link. Windows that were closed would then be taken
apart there, which Qt answers by ending the process.
"""

from __future__ import annotations

import gc
from typing import Final

from PyQt6.QtCore import QObject, QTimer

LOOK_MS: Final = 250


def tidy_between_events(app: QObject) -> None:
    """From now on unreachable objects are looked for by a timer of ``app`` alone."""
    gc.disable()
    gc.freeze()  # what is there already stays to the end: no need to look at it again
    timer = QTimer(app)
    timer.timeout.connect(tidy)
    timer.start(LOOK_MS)


def tidy() -> int:
    """Look as far back as Python itself would by now; how many unreachable objects there were."""
    for generation, (count, most) in reversed(
        list(enumerate(zip(gc.get_count(), gc.get_threshold(), strict=True)))
    ):
        if count > most > 0:
            return gc.collect(generation)
    return 0
