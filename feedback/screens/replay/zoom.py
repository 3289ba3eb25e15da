"""Which part of a replay's pictures shows the feet (pure)."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from shared.flow import Side
from shared.landmarks import Landmark

L = Landmark
_LEFT: Final = (L.LEFT_ANKLE, L.LEFT_HEEL, L.LEFT_FOOT_INDEX)
_RIGHT: Final = (L.RIGHT_ANKLE, L.RIGHT_HEEL, L.RIGHT_FOOT_INDEX)
_FEET: Final = {Side.LEFT: _LEFT, Side.RIGHT: _RIGHT}
_SHOULDERS: Final = (L.LEFT_SHOULDER, L.RIGHT_SHOULDER)
_BOTH_SHARE: Final = 0.55
_ONE_SHARE: Final = 0.36
"""Height of the part for both feet in motion and for one that lands, in spans from the shoulders
to the feet: room for some error in the landmarks."""
_BELOW_SHARE: Final = 0.1
_BESIDE_SHARE: Final = 0.15
_SIDE_VIEW: Final = 0.15
"""Shoulders that look narrower than this share of that span are seen from the side. From behind
they take about 0.3 of it (common proportions of the body, no source)."""
_LEAST_HEIGHT: Final = 0.08
_OUTLIERS: Final = 0.02
"""So much of the landmarks at either end is left out: some are always far off."""

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class PicturePart:
    """A part of the picture, in shares of its width and height."""

    x: float
    y: float
    width: float
    height: float


WHOLE: Final = PicturePart(0.0, 0.0, 1.0, 1.0)


class Feet:
    """Where the feet are throughout one replay.

    ``shots``: the landmarks of each picture (66 shares, -1 unknown; empty where nobody was
    found). ``shape``: width of a picture over its height. The ``room`` of the calls below is the
    same of the place where the part is to be drawn.
    """

    def __init__(self, shots: Iterable[Sequence[float]], shape: float) -> None:
        kept = [xy for xy in shots if xy]
        self._shape = shape
        self._span = _span(kept)
        """From the shoulders down to the lower foot, in shares of the height."""
        points = [point for xy in kept for point in (*_known(xy, _LEFT), *_known(xy, _RIGHT))]
        self._across = _ends([x for x, _ in points]) if points else (0.0, 1.0)
        self._from_side = self._span is not None and self._shoulders(kept) < _SIDE_VIEW * self._span
        self._low = _ends([y for _, y in points])[1] if points else 1.0

    def both(self, room: float) -> PicturePart:
        """Both feet throughout; the same for all pictures, so that nothing jumps."""
        if self._span is None:
            return self._lower_half(room)
        left, right = self._across
        wide = (right - left) * self._shape + 2 * _BESIDE_SHARE * self._span
        height = max(_BOTH_SHARE * self._span, wide / room)
        middle = self._low + _BELOW_SHARE * self._span - height / 2
        return self._inside((left + right) / 2, middle, height, room)

    def landing(self, xy: Sequence[float], side: Side, room: float) -> PicturePart:
        """The foot of this side, which lands in the picture with the landmarks ``xy``.

        Seen from the side it is the lower of the two, since in running the other is in the air
        then; so it is found even where the landmarks of the legs have changed places, as they
        often do in that view alone. The part is as large for every contact of a replay, so that
        left and right can be compared.
        """
        feet = {one: _known(xy, marks) for one, marks in _FEET.items()} if xy else {}
        known = [foot for foot in feet.values() if foot]
        if self._span is None or not known:
            return self._lower_half(room)
        foot = feet[side]
        if self._from_side or not foot:
            foot = max(known, key=lambda points: sum(y for _, y in points) / len(points))
        x = sum(x for x, _ in foot) / len(foot)
        y = sum(y for _, y in foot) / len(foot)
        return self._inside(x, y, _ONE_SHARE * self._span, room)

    def _shoulders(self, shots: Sequence[Sequence[float]]) -> float:
        """How far they are apart across, in shares of the height, as most pictures have it."""
        apart = [
            abs(pair[0][0] - pair[1][0]) * self._shape
            for pair in (_known(xy, _SHOULDERS) for xy in shots)
            if len(pair) == len(_SHOULDERS)
        ]
        return sorted(apart)[len(apart) // 2] if apart else 0.0

    def _lower_half(self, room: float) -> PicturePart:
        return self._inside(0.5, 1.0, 0.5, room)

    def _inside(self, x: float, y: float, height: float, room: float) -> PicturePart:
        """A part of this height round a point, in the room's shape, moved into the picture."""
        height = min(max(height, _LEAST_HEIGHT), 1.0, self._shape / room)
        width = min(height * room / self._shape, 1.0)
        left = min(max(x - width / 2, 0.0), 1.0 - width)
        top = min(max(y - height / 2, 0.0), 1.0 - height)
        return PicturePart(left, top, width, height)


def _known(xy: Sequence[float], landmarks: Iterable[Landmark]) -> list[Point]:
    points = [(xy[2 * mark], xy[2 * mark + 1]) for mark in landmarks]
    return [point for point in points if min(point) >= 0]


def _span(shots: Sequence[Sequence[float]]) -> float | None:
    """As most pictures have it; None where it is unknown."""
    spans = []
    for xy in shots:
        upper = [y for _, y in _known(xy, _SHOULDERS)]
        lower = [y for _, y in (*_known(xy, _LEFT), *_known(xy, _RIGHT))]
        if upper and lower and max(lower) > min(upper):
            spans.append(max(lower) - min(upper))
    return sorted(spans)[len(spans) // 2] if spans else None


def _ends(values: list[float]) -> tuple[float, float]:
    ordered = sorted(values)
    off = int(_OUTLIERS * len(ordered))
    return ordered[off], ordered[-1 - off]
