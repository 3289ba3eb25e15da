"""Before against after, one scale a measure; prints in grey."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from reportlab.graphics.shapes import Drawing, Line, Rect

from feedback.records.page.charts import INK, PALE, SOFT, label, mark, round_ticks, short, span

LANE: Final = 13.0
HEAD: Final = 14.0
AXIS: Final = 16.0
GAP: Final = 6.0
LEFT: Final = 74.0
"""Room for the lanes' names, in points."""
RIGHT: Final = 66.0
"""Room for their figures."""
TICKS: Final = 7


@dataclass(frozen=True)
class Lane:
    """One mean on a measure's scale."""

    name: str
    value: float
    half: float | None
    """Half width of its uncertainty; None where that is not known."""
    figure: str
    """The value as it is written."""
    mark: str
    """A shape of :func:`feedback.records.page.charts.mark`."""


@dataclass(frozen=True)
class Scale:
    """One measure: what it was and what it is, with the target band."""

    title: str
    lanes: tuple[Lane, ...]
    low: float | None
    high: float | None
    """Edges of the band; None: it has none there."""
    said: str
    """The same in words."""


@dataclass
class ChangePicture:
    """All scales, one below the other."""

    scales: Sequence[Scale]
    band_label: str
    width: float = 520.0

    @property
    def alt(self) -> str:
        """What the picture shows, in words."""
        return " ".join(f"{scale.title}: {scale.said}" for scale in self.scales)

    def drawing(self) -> Drawing:
        """The picture as shapes, for PDF and SVG alike."""
        heights = [HEAD + LANE * len(scale.lanes) + AXIS for scale in self.scales]
        total = sum(heights) + GAP * (len(heights) - 1)
        out = Drawing(self.width, total)
        top = total
        for number, (scale, height) in enumerate(zip(self.scales, heights, strict=True)):
            out.add(label(0, top - 9, scale.title, size=8.5, bold=True))
            if not number:
                out.add(label(self.width, top - 9, self.band_label, "end"))
            _draw(out, scale, self.width, top - HEAD)
            top -= height + GAP
        return out


def _draw(out: Drawing, scale: Scale, width: float, top: float) -> None:
    values = [lane.value + sign * (lane.half or 0.0) for lane in scale.lanes for sign in (-1, 1)]
    low, high = span([*values, *(e for e in (scale.low, scale.high) if e is not None)], 0.12)
    left, right = LEFT, width - RIGHT
    bottom = top - LANE * len(scale.lanes)

    def at(value: float) -> float:
        return left + (value - low) / (high - low) * (right - left)

    x0 = left if scale.low is None else at(scale.low)
    x1 = right if scale.high is None else at(scale.high)
    out.add(Rect(x0, bottom, x1 - x0, top - bottom, fillColor=PALE, strokeColor=None))
    for edge in (scale.low, scale.high):
        if edge is not None:
            out.add(Line(at(edge), bottom, at(edge), top, strokeColor=SOFT, strokeWidth=0.6))
    out.add(Line(left, bottom, right, bottom, strokeWidth=0.6))
    for tick in round_ticks(low, high, TICKS):
        out.add(Line(at(tick), bottom, at(tick), bottom - 3, strokeWidth=0.6))
        out.add(label(at(tick), bottom - 11, short(tick), "middle"))
    before = scale.lanes[0].value
    if len(scale.lanes) > 1:
        line = Line(at(before), bottom, at(before), top, strokeWidth=0.8, strokeDashArray=[1, 2])
        out.add(line)
    for number, lane in enumerate(scale.lanes):
        y = top - LANE * (number + 0.5)
        out.add(label(0, y - 2.5, lane.name))
        out.add(label(width, y - 2.5, lane.figure, "end"))
        if lane.half:
            ends = at(lane.value - lane.half), at(lane.value + lane.half)
            out.add(Line(ends[0], y, ends[1], y, strokeColor=INK, strokeWidth=0.8))
            for end in ends:
                out.add(Line(end, y - 2.5, end, y + 2.5, strokeColor=INK, strokeWidth=0.8))
        out.add(mark(lane.mark, at(lane.value), y))
