"""Charts that print in grey: shapes and dashes tell things apart, never colour alone."""

from __future__ import annotations

import html
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, Final

from reportlab.graphics import renderSVG
from reportlab.graphics.shapes import Circle, Drawing, Group, Line, Polygon, PolyLine, Rect, String
from reportlab.lib.colors import Color, black, white
from reportlab.pdfbase.pdfmetrics import stringWidth

from feedback.records.page.fonts import BOLD, PLAIN, Run, runs, width_of
from feedback.texts.numbers import localised, minutes_and_seconds

SIZE: Final = 7.5
INK: Final = black
SOFT: Final = Color(0.55, 0.55, 0.55)
PALE: Final = Color(0.90, 0.90, 0.90)
MARGIN: Final = (40.0, 26.0, 8.0, 16.0)
"""Left, bottom, right, top, in points."""
TIME_STEPS_S: Final = (1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600)


@dataclass(frozen=True)
class Series:
    """Points of one kind, each (x, y); ``half`` is the half width of their uncertainty."""

    label: str
    points: tuple[tuple[float, float], ...]
    mark: str
    """``circle`` (open), ``disc``, ``triangle``, ``square``, ``dot`` (pale) or empty for none."""
    line: str = ""
    """``solid``, ``dashed`` or empty for none."""
    half: tuple[float | None, ...] = ()


@dataclass(frozen=True)
class Band:
    """A shaded stretch: x from, x to, y from, y to; None reaches the edge of the chart."""

    left: float | None
    right: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True)
class Strip:
    """A stretch above the chart with a name: black with ``full``, else outlined."""

    left: float
    right: float
    full: bool


@dataclass
class Chart:
    """One chart, in data units; :meth:`drawing` lays it out."""

    title: str
    x_label: str
    series: Sequence[Series]
    bands: Sequence[Band] = ()
    band_label: str = "target band"
    strips: Sequence[Strip] = ()
    strip_label: str = ""
    line_at: float | None = None
    """A level line, dotted."""
    line_label: str = ""
    width: float = 520.0
    height: float = 150.0
    timed: bool = False
    """Whether x is in seconds, to be shown as minutes and seconds."""
    x_ticks: Sequence[tuple[float, str]] = field(default_factory=tuple)
    """Own ticks; none: round numbers."""
    alt: str = ""
    """What the chart shows, in words."""

    def drawing(self) -> Drawing:
        """The chart as shapes, for PDF and SVG alike."""
        return _Layout(self).draw()


_TEXT: Final = re.compile(
    r"<text ([^>]*)font-family: ([\w-]+); font-size: ([\d.]+)px;([^>]*)>([^<]*)<"
)


def as_svg(drawing: Drawing) -> str:
    """Shapes as an SVG element, to stand inside an HTML page."""
    text = str(renderSVG.drawToString(drawing))
    # The drawing is clipped to its own size; two charts on a page would share the clip's name.
    text = re.sub(r'<clipPath.*?</clipPath>|style="clip-path: url\(#clip\)"', "", text, flags=re.S)
    text = text.replace("fill: None", "fill: none")  # as CSS writes it; not all take it otherwise
    return _TEXT.sub(_for_a_page, text[text.index("<svg") :])


def _for_a_page(found: re.Match[str]) -> str:
    """Text in fonts as CSS names them, as wide as its place was reckoned with."""
    before, font, size, after, text = found.groups()
    font = BOLD if font.endswith("Bold") else PLAIN
    width = width_of(html.unescape(text).strip(), font, float(size))
    fit = f'textLength="{width:.1f}" lengthAdjust="spacingAndGlyphs" ' if width else ""
    weight = " font-weight: bold;" if font == BOLD else ""
    family = f"font-family: Helvetica, Arial, sans-serif;{weight} font-size: {size}px;"
    return f"<text {fit}{before}{family}{after}>{text}<"


class _Layout:
    def __init__(self, chart: Chart) -> None:
        self._chart = chart
        left, bottom, right, top = MARGIN
        self._left, self._bottom = left, bottom
        self._right = chart.width - right
        self._top = chart.height - top - (10.0 if chart.strips else 0.0) - 11.0
        points = [point for one in chart.series for point in one.points]
        xs = [x for x, _ in points] + [x for x, _ in chart.x_ticks]
        xs += [strip.left for strip in chart.strips] + [strip.right for strip in chart.strips]
        xs += [0.0] if chart.timed else []
        self._x = span(xs, 0.0 if not chart.x_ticks else 0.04)
        self._y = span(self._heights(points), 0.08)
        self._out = Drawing(chart.width, chart.height)

    def _heights(self, points: list[tuple[float, float]]) -> list[float]:
        chart = self._chart
        ys = sorted(y for _, y in points)
        if len(ys) > 200:  # a few stray steps must not flatten the rest
            ys = ys[len(ys) // 200 : -(len(ys) // 200)]
        for one in chart.series:
            for (_, y), half in zip(one.points, one.half, strict=False):
                ys += [y - (half or 0.0), y + (half or 0.0)]
        ys += [e for band in chart.bands for e in (band.low, band.high) if e is not None]
        return ys if chart.line_at is None else [*ys, chart.line_at]

    def draw(self) -> Drawing:
        chart = self._chart
        for band in chart.bands:
            self._band(band)
        self._axes()
        if chart.line_at is not None:
            self._level(chart.line_at)
        for strip in chart.strips:
            self._strip(strip)
        for one in chart.series:
            self._one_series(one)
        self._add(label(0, chart.height - 9, chart.title, size=8.5, bold=True))
        self._legend()
        return self._out

    def _add(self, shape: Any) -> None:
        self._out.add(shape)

    def _px(self, x: float) -> float:
        low, high = self._x
        return self._left + (x - low) / (high - low) * (self._right - self._left)

    def _py(self, y: float) -> float:
        low, high = self._y
        share = min(1.0, max(0.0, (y - low) / (high - low)))
        return self._bottom + share * (self._top - self._bottom)

    def _band(self, band: Band) -> None:
        x0 = self._left if band.left is None else self._px(band.left)
        x1 = self._right if band.right is None else self._px(band.right)
        y0 = self._bottom if band.low is None else self._py(band.low)
        y1 = self._top if band.high is None else self._py(band.high)
        self._add(Rect(x0, y0, x1 - x0, y1 - y0, fillColor=PALE, strokeColor=None))
        for edge, y in ((band.low, y0), (band.high, y1)):
            if edge is not None:
                self._add(Line(x0, y, x1, y, strokeColor=SOFT, strokeWidth=0.6))

    def _axes(self) -> None:
        for y in round_ticks(*self._y, 5):
            py = self._py(y)
            self._add(Line(self._left - 3, py, self._left, py, strokeWidth=0.6))
            self._text(self._left - 5, py - 2.5, short(y), "end")
        ticks = self._chart.x_ticks or (
            time_ticks(*self._x)
            if self._chart.timed
            else [(x, short(x)) for x in round_ticks(*self._x, 9)]
        )
        every = max(1, math.ceil(len(ticks) / 14))
        for number, (x, label) in enumerate(ticks):
            px = self._px(x)
            self._add(Line(px, self._bottom, px, self._bottom - 3, strokeWidth=0.6))
            if number % every == 0:
                self._text(px, self._bottom - 11, label, "middle")
        self._add(Line(self._left, self._bottom, self._right, self._bottom, strokeWidth=0.6))
        self._add(Line(self._left, self._bottom, self._left, self._top, strokeWidth=0.6))
        middle = (self._left + self._right) / 2
        self._text(middle, 4, self._chart.x_label, "middle")

    def _level(self, y: float) -> None:
        py = self._py(y)
        line = Line(self._left, py, self._right, py, strokeWidth=0.8, strokeDashArray=[1, 2])
        self._add(line)

    def _strip(self, strip: Strip) -> None:
        x0, x1 = self._px(strip.left), self._px(strip.right)
        fill = INK if strip.full else white
        y = self._top + 4
        self._add(Rect(x0, y, x1 - x0, 4, fillColor=fill, strokeColor=INK, strokeWidth=0.4))

    def _one_series(self, one: Series) -> None:
        placed = [(self._px(x), self._py(y)) for x, y in one.points]
        if one.line and len(placed) > 1:
            flat = [value for point in placed for value in point]
            dash = [3, 2] if one.line == "dashed" else None
            width = 1.0 if one.line == "solid" else 0.9
            self._add(PolyLine(flat, strokeColor=INK, strokeWidth=width, strokeDashArray=dash))
        for ((px, py), (_, y)), half in zip(
            zip(placed, one.points, strict=True),
            one.half or [None] * len(placed),
            strict=True,
        ):
            if half is not None:
                ends = (self._py(y - half), self._py(y + half))
                self._add(Line(px, ends[0], px, ends[1], strokeColor=INK, strokeWidth=0.7))
            self._mark(one.mark, px, py)

    def _mark(self, kind: str, x: float, y: float) -> None:
        if kind:
            self._add(mark(kind, x, y))

    def _legend(self) -> None:
        chart = self._chart
        x, y = self._left, chart.height - 20
        for one in chart.series:
            if one.label:
                if one.line:
                    dash = [3, 2] if one.line == "dashed" else None
                    self._add(Line(x, y + 2.5, x + 14, y + 2.5, strokeDashArray=dash))
                self._mark(one.mark, x + 7, y + 2.5)
                x = self._named(x, y, one.label)
        if chart.bands:
            self._add(Rect(x, y, 14, 5, fillColor=PALE, strokeColor=SOFT, strokeWidth=0.5))
            x = self._named(x, y, chart.band_label)
        if chart.line_at is not None:
            self._add(Line(x, y + 2.5, x + 14, y + 2.5, strokeDashArray=[1, 2]))
            x = self._named(x, y, chart.line_label)
        if chart.strips:
            self._add(Rect(x, y + 0.5, 14, 4, fillColor=INK))
            self._named(x, y, chart.strip_label)

    def _named(self, x: float, y: float, name: str) -> float:
        self._text(x + 17, y, name, "start")
        return x + 17 + width_of(name, PLAIN, SIZE) + 9

    def _text(self, x: float, y: float, text: str, anchor: str) -> None:
        self._add(label(x, y, text, anchor))


def label(
    x: float, y: float, text: str, anchor: str = "start", *, size: float = SIZE, bold: bool = False
) -> Group:
    """Text in a picture, in fonts that have its letters."""
    font = BOLD if bold else PLAIN
    found = runs(text, font)
    if len(found) < 2:  # whoever draws it places it by its own font's width
        run = found[0] if found else Run(font, "")
        return Group(String(x, y, run.text, fontName=run.font, fontSize=size, textAnchor=anchor))
    x -= width_of(text, font, size) * {"start": 0.0, "middle": 0.5, "end": 1.0}[anchor]
    group = Group()
    for run in found:
        group.add(String(x, y, run.text, fontName=run.font, fontSize=size))
        x += float(stringWidth(run.text, run.font, size))
    return group


def mark(kind: str, x: float, y: float) -> Any:
    """A point, in one of the shapes that :class:`Series` names."""
    match kind:
        case "dot":
            return Circle(x, y, 0.7, fillColor=SOFT, strokeColor=None)
        case "triangle":
            points = [x - 3, y - 2.4, x + 3, y - 2.4, x, y + 3.2]
            return Polygon(points, fillColor=white, strokeColor=INK, strokeWidth=0.9)
        case "square":
            return Rect(x - 2.6, y - 2.6, 5.2, 5.2, fillColor=white, strokeColor=INK)
    fill = INK if kind == "disc" else white
    return Circle(x, y, 2.6, fillColor=fill, strokeColor=INK, strokeWidth=0.9)


def time_ticks(low_s: float, high_s: float) -> list[tuple[float, str]]:
    """Round times between two, in seconds, with how each is written: 2:30."""
    wanted = (high_s - low_s) / 9
    step = next((step for step in TIME_STEPS_S if step >= wanted), TIME_STEPS_S[-1])
    first, last = math.ceil(low_s / step), math.floor(high_s / step)
    times = (n * step for n in range(max(0, first), last + 1))
    return [(time_s, minutes_and_seconds(time_s)) for time_s in times]


def span(values: Sequence[float], room: float) -> tuple[float, float]:
    """Lowest and highest with some room; never the same."""
    low, high = (min(values), max(values)) if values else (0.0, 1.0)
    spare = (high - low) * room if high > low else max(1.0, abs(high) * 0.05)
    return low - spare, high + spare


def round_ticks(low: float, high: float, wanted: int) -> list[float]:
    """Round numbers between low and high, about as many as wanted."""
    rough = (high - low) / wanted
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(factor * power for factor in (1, 2, 5, 10) if factor * power >= rough)
    first = math.ceil(low / step)
    return [n * step for n in range(first, math.floor(high / step) + 1)]


def short(value: float) -> str:
    """A round number below an axis."""
    text = f"{value + 0.0:.6g}"
    return "0" if text == "-0" else localised(text)
