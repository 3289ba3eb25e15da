"""How figures, dates and kinds of session are said in reports (pure)."""

from __future__ import annotations

from datetime import datetime
from typing import Final

from feedback.records.summary import Digest, MeanValue
from shared.catalogue import CATALOGUE
from shared.flow import View
from shared.targets import SessionKind, Target

KINDS: Final = {
    None: "session",
    SessionKind.PRACTICE: "practice",
    SessionKind.RETENTION: "retention test (no cues)",
    SessionKind.REMINDER: "reminder test (one reminder, then no cues)",
}
VIEWS: Final = {
    View.SIDE: "from the side",
    View.BEHIND: "from behind",
    View.FRONT: "from in front",
}
UNKNOWN: Final = "-"
SMALL_PRINT: Final = (
    "Measured from one camera with pose landmarks; ± is the half-width of the 90 % interval of a "
    "mean, from step-to-step variation; the camera's own error is not included. A change is "
    "measurable if it is outside the 95 % interval of a difference (Welch 1947; with many steps "
    "1.96 x sqrt(2) x SEM, Weir 2005), allowing for steps that count in several values. Values are "
    "valid for this view and belt speed only.",
    "Training information. It is not a diagnosis and does not predict injury. Stop for pain, "
    "dizziness or chest symptoms, and ask a clinician.",
)


def figure(measure: str, value: float) -> str:
    """A value with the decimals of its measure, and one more for a mean of whole numbers."""
    decimals = max(1, CATALOGUE[measure].decimals)
    return f"{round(value, decimals) + 0.0:.{decimals}f}"


def signed(measure: str, value: float) -> str:
    """The same with its sign."""
    text = figure(measure, value)
    return text if text.startswith("-") or float(text) == 0.0 else f"+{text}"


def mean_figure(mean: MeanValue | None) -> str:
    """A mean with its uncertainty."""
    if mean is None:
        return UNKNOWN
    half = mean.half_width
    text = figure(mean.measure, mean.mean)
    return text if half is None else f"{text} ± {figure(mean.measure, half)}"


def band(target: Target) -> str:
    """A target's band in words, without the unit."""
    if target.low is None:
        return f"up to {target.high:g}"
    if target.high is None:
        return f"at least {target.low:g}"
    return f"{target.low:g} to {target.high:g}"


def day(started_utc: str) -> str:
    """A date as it is written: 4 March 2025."""
    when = datetime.fromisoformat(started_utc).astimezone()
    return f"{when.day} {when:%B %Y}"


def moment(started_utc: str) -> str:
    """Date and time of day, in this computer's time zone."""
    return f"{day(started_utc)}, {datetime.fromisoformat(started_utc).astimezone():%H:%M}"


def minutes(seconds: float) -> str:
    """A length of time: 12:05 min."""
    whole = round(seconds)
    return f"{whole // 60}:{whole % 60:02d} min"


def speed(belt_speed_kmh: float | None) -> str:
    """A belt speed."""
    return "belt speed not known" if belt_speed_kmh is None else f"{belt_speed_kmh:g} km/h"


def session_name(digest: Digest) -> str:
    """What the session was: Session 3 of 8, practice."""
    if digest.baseline:
        return "Baseline, without cues"
    if digest.number is None:
        return KINDS[digest.kind].capitalize()
    return f"Session {digest.place or digest.number}, {KINDS[digest.kind]}"
