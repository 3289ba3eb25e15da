"""How figures, dates and kinds of session are said in reports and commands (pure)."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from datetime import datetime
from typing import Final

from feedback.records.comparing import ComparedMean, Since
from feedback.records.summary import CountsAs, Digest, MeanValue
from feedback.texts import numbers
from feedback.texts.measures import full_title, unit_text
from feedback.texts.numbers import decimal, general
from shared.catalogue import CATALOGUE, UNITS
from shared.flow import Side, View
from shared.language import ENGLISH, _, _n, language, mark
from shared.targets import SessionKind, Target

KINDS: Final = {
    None: mark("session"),
    SessionKind.PRACTICE: mark("practice"),
    SessionKind.RETENTION: mark("retention test (no cues)"),
    SessionKind.REMINDER: mark("reminder test (one reminder, then no cues)"),
}
SHORT_KINDS: Final = {
    None: mark("session"),
    SessionKind.PRACTICE: mark("practice"),
    SessionKind.RETENTION: mark("retention test"),
    SessionKind.REMINDER: mark("reminder test"),
}
TITLES: Final = {
    None: mark("Session"),
    SessionKind.PRACTICE: mark("Practice"),
    SessionKind.RETENTION: mark("Retention test (no cues)"),
    SessionKind.REMINDER: mark("Reminder test (one reminder, then no cues)"),
}
VIEWS: Final = {
    View.SIDE: mark("from the side"),
    View.BEHIND: mark("from behind"),
    View.FRONT: mark("from in front"),
}
CHANGES: Final = {
    Since.BASELINE: mark("Change since baseline: {change} {unit}."),
    Since.FIRST_CUED: mark("Change since the first session's steps with cues: {change} {unit}."),
    Since.FIRST_UNCUED: mark(
        "Change since the first session's steps without cues: {change} {unit}."
    ),
}
SINCE: Final = {
    Since.BASELINE: mark("baseline"),
    Since.FIRST_CUED: mark("first session, with cues"),
    Since.FIRST_UNCUED: mark("first session, without cues"),
}
"""What a level line is called, by where its value comes from."""
UNKNOWN: Final = "-"
SMALL_PRINT: Final = (
    mark(
        "Measured from one camera with pose landmarks; ± is the half-width of the 90 % interval of "
        "a mean, from step-to-step variation; the camera's own error is not included. A change is "
        "measurable if it is outside the 95 % interval of a difference (Welch 1947; with many "
        "steps 1.96 x sqrt(2) x SEM, Weir 2005), allowing for steps that count in several values. "
        "Values are valid for this view and belt speed only."
    ),
    mark(
        "Training information. It is not a diagnosis and does not predict injury. Stop for pain, "
        "dizziness or chest symptoms, and ask a clinician."
    ),
)


def unit_words(unit: str) -> str:
    """A unit as it is written; one that no catalogue has any more stands as it is."""
    return unit_text(unit) if unit in UNITS else unit


def named(measure: str, side: Side | None, unit: str) -> str:
    """A measure with its unit, as a heading."""
    return _("{measure} ({unit})").format(measure=full_title(measure, side), unit=unit_words(unit))


def figure(measure: str, value: float) -> str:
    """A value with the decimals of its measure, and one more for a mean of whole numbers."""
    decimals = max(1, CATALOGUE[measure].decimals)
    return decimal(round(value, decimals) + 0.0, decimals)


def signed(measure: str, value: float) -> str:
    """The same with its sign."""
    decimals = max(1, CATALOGUE[measure].decimals)
    rounded = round(value, decimals) + 0.0
    return decimal(rounded, decimals, sign=rounded > 0.0)


def mean_figure(mean: MeanValue | None) -> str:
    """A mean with its uncertainty."""
    return UNKNOWN if mean is None else with_half(mean.measure, mean.mean, mean.half_width)


def with_half(measure: str, value: float, half: float | None) -> str:
    """A value with the half width of its interval, where that is known."""
    text = figure(measure, value)
    return text if half is None else f"{text} ± {figure(measure, half)}"


def whole(count: int) -> str:
    """A large count."""
    return f"{count:,}" if language() == ENGLISH else str(count)


def percent(share: float) -> str:
    """A share of 1 in whole per cent."""
    return f"{100 * share:.0f} %"


def band(target: Target) -> str:
    """A target's band in words, without the unit."""
    low, high = ("" if edge is None else general(edge) for edge in (target.low, target.high))
    if not low:
        return _("up to {high}").format(high=high)
    return (_("{low} to {high}") if high else _("at least {low}")).format(low=low, high=high)


def day(started_utc: str) -> str:
    """A date as it is written: 4 March 2025."""
    return _date(_here(datetime.fromisoformat(started_utc)), "%B %Y")


def short_day(when: datetime) -> str:
    """A date below an axis: 4 Mar 25."""
    return _date(when, "%b %y")


def moment(started_utc: str) -> str:
    """Date and time of day, in this computer's time zone."""
    return in_words(datetime.fromisoformat(started_utc))


def in_words(when: datetime) -> str:
    """The same of a moment, to the minute."""
    local = _here(when)
    return f"{_date(local, '%B %Y')}, {local:%H:%M}"


def _here(when: datetime) -> datetime:
    """In this computer's time zone; as it is where no time zone reaches: the calendar's ends."""
    try:
        return when.astimezone()
    except (OverflowError, OSError, ValueError):
        return when


def _date(when: datetime, month: str) -> str:
    """As a person writes it in English, and as the language's own numbers elsewhere."""
    return f"{when.day} {when:{month}}" if language() == ENGLISH else numbers.day(when)


def clock(seconds: float) -> str:
    """A length of time as minutes and seconds: 12:05."""
    return numbers.minutes_and_seconds(round(seconds))


def minutes(seconds: float) -> str:
    """A length of time with its unit: 12:05 min."""
    return _("{time} min").format(time=clock(seconds))


def speed(belt_speed_kmh: float | None) -> str:
    """A belt speed."""
    if belt_speed_kmh is None:
        return _("belt speed not known")
    return _("{speed} km/h").format(speed=general(belt_speed_kmh))


def session_name(digest: Digest) -> str:
    """What the session was: Session 3 of 8, practice."""
    if digest.baseline:
        return _("Baseline, without cues")
    if digest.number is None:
        return _(TITLES[digest.kind])
    name = _("Session {place}, {kind}")
    return name.format(place=digest.place or digest.number, kind=_(KINDS[digest.kind]))


def counted(records: Iterable[CountsAs]) -> str:
    """Sessions, and apart from them what is none: "8 sessions, 1 baseline, 2 trials"."""
    kinds = Counter(record.counts_as for record in records)
    said = [sessions(kinds["session"])]
    for count, text in (
        (kinds["baseline"], _n("{count} baseline", "{count} baselines", kinds["baseline"])),
        (kinds["trial"], _n("{count} trial", "{count} trials", kinds["trial"])),
        (
            kinds["nothing"],
            _n("{count} record without steps", "{count} records without steps", kinds["nothing"]),
        ),
    ):
        if count:
            said.append(text.format(count=count))
    return ", ".join(said)


def sessions(count: int) -> str:
    """One session, several sessions."""
    return _n("{count} session", "{count} sessions", count).format(count=count)


def change_words(
    mean: MeanValue, since: Since, change: ComparedMean, *, between: bool = False
) -> str:
    """How a mean has changed since what it is compared with, and whether that is more than noise.

    ``between``: whether the noise has the scatter between sessions in it.
    """
    said = _(CHANGES[since]).format(
        change=signed(mean.measure, change.amount), unit=unit_words(mean.unit)
    )
    if change.noise is None:
        return f"{said} {_('How much of this is noise is not known.')}"
    if not change.real:
        verdict = _("No measurable change (noise up to {noise}).")
    elif between:
        verdict = _("A measurable change (noise up to {noise}).")
    else:
        verdict = _("More than step-to-step noise (up to {noise}).")
    return f"{said} {verdict.format(noise=figure(mean.measure, change.noise))}"
