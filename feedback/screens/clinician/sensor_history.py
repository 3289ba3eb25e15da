"""What treadmill and strap said in the last minutes, as lines with gaps (pure)."""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from typing import Final

from shared.messages import SensorValue
from shared.units import NS_PER_S

KEPT_NS: Final = 600 * NS_PER_S
EVERY_NS: Final = 2 * NS_PER_S
"""More often than that nothing is seen to change on a line of ten minutes."""
CHARTED: Final = ("heart_rate", "belt_speed")
LEAST_SPAN: Final = {"heart_rate": 40.0, "belt_speed": 4.0}
"""Of the chart's height, so that a tenth up and down is no mountain."""


class SensorHistory:
    """The newest ten minutes of each value that has a chart."""

    def __init__(self) -> None:
        self._values: dict[str, deque[tuple[int, float | None]]] = {}

    def take(self, at_ns: int, sensors: Sequence[SensorValue]) -> None:
        """Take in what a snapshot says, at the station's clock; older ones change nothing."""
        for one in sensors:
            if one.name not in CHARTED:
                continue
            values = self._values.setdefault(one.name, deque())
            gap = values and (values[-1][1] is None) != (one.value is None)
            if values and at_ns - values[-1][0] < (1 if gap else EVERY_NS):
                continue
            values.append((at_ns, one.value))
            while at_ns - values[0][0] > KEPT_NS:
                values.popleft()

    @property
    def names(self) -> tuple[str, ...]:
        """What there is a chart of."""
        return tuple(name for name in CHARTED if name in self._values)

    def lines(self, name: str, now_ns: int) -> tuple[tuple[tuple[float, float], ...], ...]:
        """Unbroken lines of (0 to 1 from ten minutes ago to now, 0 to 1 from least to most)."""
        values = self._values.get(name, ())
        known = [value for _at, value in values if value is not None]
        if not known:
            return ()
        middle = (min(known) + max(known)) / 2
        span = max(LEAST_SPAN[name], max(known) - min(known))
        lines: list[list[tuple[float, float]]] = [[]]
        for at_ns, value in values:
            if value is None:
                lines.append([])
                continue
            x = 1.0 - (now_ns - at_ns) / KEPT_NS
            if 0.0 <= x <= 1.0:
                lines[-1].append((x, 0.5 + (value - middle) / span))
        return tuple(tuple(line) for line in lines if line)
