"""The measures as the panel lists them: each side against target and baseline (pure)."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from feedback.texts import runner as wording
from feedback.texts.clinician import say
from feedback.texts.measures import short_title, unit_text
from shared.catalogue import CATALOGUE, why_not
from shared.changes import TargetState
from shared.flow import BandState, Side, View
from shared.measure_spec import MeasureSpec
from shared.messages import Own, Reading

OLD_AFTER_S: Final = 5.0
"""A running step takes under half a second: by then a dozen have gone by unmeasured."""

_NEW_S: Final = 1.5
"""No age is told of what is newer."""


@dataclass(frozen=True, slots=True)
class MeasureRow:
    """One measure, in words; ``left`` holds the value of a measure without sides."""

    name: str
    title: str
    by_side: bool
    left: str = ""
    right: str = ""
    own_left: str = ""
    own_right: str = ""
    changes: tuple[str, ...] = ()
    """From the baseline: left and right, or the only one."""
    target: str = ""
    now: str = ""
    state: BandState = BandState.UNKNOWN
    quality: str = ""
    doubtful: bool = False
    old: bool = False
    targeted: bool = False
    """It has a target: such rows come first, and larger."""
    why_not: str = ""
    """Why there is no value; the row then shows this and nothing else."""


def measure_rows(
    view: View,
    readings: Iterable[Reading],
    own: Iterable[Own],
    targets: Iterable[TargetState],
    silent_s: float,
) -> tuple[MeasureRow, ...]:
    """All measures of the catalogue: those with a target first, then all that ``view`` gives.

    The rest, with the reason, are last. Within each they are in the catalogue's order.

    ``silent_s``: how long the station has not been heard, which the values are older by.
    """
    read = {(reading.name, reading.side): reading for reading in readings}
    owned = {(one.name, one.side): one for one in own}
    held = tuple(targets)
    given, missing = [], []
    for name, spec in CATALOGUE.items():
        why = why_not(name, view)
        if why:
            text = say("not_from_view") if view not in spec.views else why
            title = short_title(name)
            missing.append(MeasureRow(name=name, title=title, by_side=spec.by_side, why_not=text))
        else:
            given.append(_row(spec, read, owned, held, silent_s))
    given.sort(key=lambda row: not row.targeted)
    return (*given, *missing)


def folded(rows: Iterable[MeasureRow]) -> tuple[tuple[str, str], ...]:
    """Each reason why rows have no value: with how many there are, and with all their names."""
    titles: dict[str, list[str]] = {}
    for row in rows:
        if row.why_not:
            titles.setdefault(row.why_not.rstrip("."), []).append(row.title)
    return tuple(
        (
            say("folded_count", why=why, count=len(lacking)),
            say("folded", why=why, titles=", ".join(lacking)),
        )
        for why, lacking in titles.items()
    )


def band_text(low: float | None, high: float | None, decimals: int) -> str:
    """A band in words, such as "171 to 179" or "up to 12.0"; a dash where it has no edge."""
    if low is not None and high is not None:
        return say(
            "band_both", low=wording.number(low, decimals), high=wording.number(high, decimals)
        )
    if low is not None:
        return say("band_low", low=wording.number(low, decimals))
    if high is not None:
        return say("band_high", high=wording.number(high, decimals))
    return wording.number(None, decimals)


def _row(
    spec: MeasureSpec,
    read: dict[tuple[str, Side | None], Reading],
    owned: dict[tuple[str, Side | None], Own],
    targets: tuple[TargetState, ...],
    silent_s: float,
) -> MeasureRow:
    sides: tuple[Side | None, ...] = (Side.LEFT, Side.RIGHT) if spec.by_side else (None, None)
    found = [read.get((spec.name, side)) for side in sides]
    known = [reading for reading in found if reading is not None and math.isfinite(reading.value)]
    unit = known[0].unit if known else spec.units[0]
    # a baseline in another unit (no scale was known then) says nothing about these values
    baseline = [owned.get((spec.name, side)) for side in sides]
    baseline = [one if one is not None and one.unit == unit else None for one in baseline]
    mine = [target for target in targets if target.measure == spec.name]
    age_s = max((reading.age_ms / 1e3 + silent_s for reading in known), default=math.inf)
    worst = min((reading.quality for reading in known), default=0.0)
    doubtful = bool(known) and worst < spec.quality_floor
    state, now = _now(mine)
    first, second = (_value(reading, spec.decimals) for reading in found)
    own_first, own_second = (
        "" if one is None else wording.number(one.mean, spec.decimals) for one in baseline
    )
    return MeasureRow(
        name=spec.name,
        title=say("title_unit", title=short_title(spec.name), unit=unit_text(unit)),
        by_side=spec.by_side,
        left=first,
        right=second if spec.by_side else "",
        own_left=own_first,
        own_right=own_second if spec.by_side else "",
        changes=_changes(spec, found, baseline),
        target=_targets(mine, spec.decimals),
        now=now,
        state=state,
        quality=_quality(worst, age_s, doubtful=doubtful) if known else "",
        doubtful=doubtful,
        targeted=bool(mine),
        old=bool(known) and age_s > OLD_AFTER_S,
    )


def _value(reading: Reading | None, decimals: int) -> str:
    if reading is None or not math.isfinite(reading.value):
        return wording.number(None, decimals)
    value = wording.number(reading.value, decimals)
    if not math.isfinite(reading.uncertainty):
        return value
    # a cadence is shown in whole steps, but its uncertainty is less than one
    fine = decimals if reading.uncertainty >= 10.0**-decimals else decimals + 1
    return say("value_pm", value=value, uncertainty=wording.number(reading.uncertainty, fine))


def _changes(
    spec: MeasureSpec, found: list[Reading | None], baseline: list[Own | None]
) -> tuple[str, ...]:
    parts = []
    pairs = list(zip(found, baseline, strict=True))[: 2 if spec.by_side else 1]
    if all(reading is None or own is None for reading, own in pairs):
        return ()
    for reading, own in pairs:
        if reading is None or own is None or not math.isfinite(reading.value):
            parts.append(wording.number(None, 0))
            continue
        change = reading.value - own.mean
        text = wording.number(change, spec.decimals)
        if round(change, spec.decimals) > 0:
            text = say("plus", value=text)
        if abs(change) < own.least_change:
            text = say("change_small", change=text)
        parts.append(text)
    return tuple(parts)


def _targets(targets: list[TargetState], decimals: int) -> str:
    keys = {Side.LEFT: "band_left", Side.RIGHT: "band_right"}
    parts = []
    for target in targets:
        text = band_text(target.low, target.high, decimals)
        parts.append(text if target.side is None else say(keys[target.side], band=text))
    return "  ".join(parts)


def _now(targets: list[TargetState]) -> tuple[BandState, str]:
    """How the measure stands to its targets; of two by side, the one that is out of its band."""
    if not targets:
        return BandState.UNKNOWN, ""
    order = (BandState.BELOW, BandState.ABOVE, BandState.UNKNOWN, BandState.INSIDE)
    state = min((target.state for target in targets), key=order.index)
    return state, say(f"now_{state}")


def _quality(quality: float, age_s: float, *, doubtful: bool) -> str:
    if age_s > OLD_AFTER_S:
        return say("old")
    text = wording.number(quality, 2)
    text = say("quality_low", quality=text) if doubtful else text
    return text if age_s < _NEW_S else say("quality_age", quality=text, age=round(age_s))
