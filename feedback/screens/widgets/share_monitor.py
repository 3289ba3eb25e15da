"""How the runner's screen and the panel share one monitor, neither over the other (pure)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

PANEL_LEAST_PX: Final = (900, 500)
"""Smallest panel in which every text is whole."""
BAR_PX: Final = 136
"""Height of the panel while it is a bar with Stop alone."""
_PANEL_SHARE: Final = 0.45
_RUNNER_LEAST_PX: Final = 120
"""On less than that nothing can be read or pressed; the two then lie one over the other."""


@dataclass(frozen=True, slots=True)
class MonitorPart:
    """A part of a monitor, in the monitor's own pixels."""

    x: int
    y: int
    width: int
    height: int


def share(x: int, y: int, width: int, height: int) -> tuple[MonitorPart, MonitorPart]:
    """The runner's part and the panel's, of a monitor's free area that begins at x, y.

    Side by side, or one over the other where that leaves the runner more; the panel has the least
    that it needs. On a monitor that is too small for both, each has all of it.
    """
    least_wide, least_high = PANEL_LEAST_PX
    panel_wide = max(least_wide, round(_PANEL_SHARE * width))
    beside = min(width - panel_wide, height)
    above = min(width, height - least_high)
    if max(beside, above) < _RUNNER_LEAST_PX:
        whole = MonitorPart(x, y, width, height)
        return whole, whole
    if beside >= above:
        rest = width - panel_wide
        return MonitorPart(x, y, rest, height), MonitorPart(x + rest, y, panel_wide, height)
    rest = height - least_high
    return MonitorPart(x, y, width, rest), MonitorPart(x, y + rest, width, least_high)


def share_before(x: int, y: int, width: int, height: int) -> tuple[MonitorPart, MonitorPart]:
    """The same before the cautions are confirmed: the runner reads them, on all but a bar.

    The bar, with Stop, is the panel's; below the runner's part.
    """
    bar = min(BAR_PX, height // 3)
    return (
        MonitorPart(x, y, width, height - bar),
        MonitorPart(x, y + height - bar, width, bar),
    )
