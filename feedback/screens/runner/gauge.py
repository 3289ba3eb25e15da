"""The runner's gauge: where value, band and baseline stand on a scale (pure)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from feedback.texts import runner as wording
from feedback.texts.measures import unit_text
from feedback.texts.runner import words
from shared.catalogue import CATALOGUE
from shared.flow import BandState
from shared.messages import Focus

_DEGREES: Final = "°"
_MARKER_ROOM: Final = 0.04
"""Least distance, in parts of the gauge, of an outside marker from the band's edge."""


@dataclass(frozen=True, slots=True)
class Gauge:
    """The band gauge; positions run from 0 (left, small values) to 1."""

    low: float
    high: float
    low_text: str
    """Empty for an open end."""
    high_text: str
    marker: float | None
    state: BandState
    start_text: str = ""
    """What the gauge's left end stands for."""
    end_text: str = ""
    """The same of its right end, with the unit."""
    own: float | None = None
    """Where the runner's baseline stands."""
    own_text: str = ""


def gauge(focus: Focus, value: float | None, own: float | None = None) -> Gauge | None:
    """The gauge of a target; None when it has no limit at all.

    A band with two limits takes the middle third. A band with one open end takes the half on
    that side. The marker is kept on the side of the edge that the judged state names, so that
    its place and its shape never disagree near an edge. The scale reaches a little past ``own``,
    the runner's baseline, but not so far that the band shrinks to less than a fifth.
    """
    low, high = focus.low, focus.high
    least, most = CATALOGUE[focus.measure].plausible
    fair = 0.1 * (most - least)
    if low is not None and high is not None:
        room = max(high - low, 0.02 * (most - least))
        start, end = low - room, high + room
    elif low is not None:
        start, end = low - fair, low + fair
    elif high is not None:
        start, end = high - fair, high + fair
    else:
        return None
    start, end = _with_own(start, end, own)
    left = 0.0 if low is None else (low - start) / (end - start)
    right = 1.0 if high is None else (high - start) / (end - start)
    decimals = CATALOGUE[focus.measure].decimals
    return Gauge(
        low=left,
        high=right,
        low_text="" if low is None else _limit(low, decimals),
        high_text="" if high is None else _limit(high, decimals),
        marker=_marker((value - start) / (end - start), left, right, focus.state)
        if value is not None
        else None,
        state=focus.state,
        start_text=wording.number(start, decimals),
        end_text=words(
            "gauge_end_degrees" if unit_text(focus.unit) == _DEGREES else "gauge_end",
            value=wording.number(end, decimals),
            unit=unit_text(focus.unit),
        ),
        own=None if own is None or not start <= own <= end else (own - start) / (end - start),
        own_text="" if own is None else words("gauge_own", value=wording.number(own, decimals)),
    )


def _with_own(start: float, end: float, own: float | None) -> tuple[float, float]:
    """Both ends of the scale, moved outwards to show the baseline where that is not far."""
    if own is None or start <= own <= end:
        return start, end
    room, past = end - start, 0.05 * (end - start)
    if start - 0.6 * room <= own < start:
        return own - past, end
    if end < own <= end + 0.6 * room:
        return start, own + past
    return start, end


def _marker(at: float, left: float, right: float, state: BandState) -> float:
    if state is BandState.BELOW:
        at = min(at, left - _MARKER_ROOM)
    elif state is BandState.ABOVE:
        at = max(at, right + _MARKER_ROOM)
    elif state is BandState.INSIDE:
        at = min(max(at, left), right)
    return min(max(at, 0.0), 1.0)


def _limit(value: float, decimals: int) -> str:
    """A limit as short as it can be: whole numbers stay whole."""
    return wording.number(value, 0 if value == int(value) else decimals)
