"""Learns a measure's correction and interval from many sources, with each left out in turn."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

import numpy as np

from live.measures import calibration
from live.measures.scale import LEG_TO_FLOOR_OF_HEIGHT
from live.measures.step_values import CADENCE_STEPS, LENGTHS
from live.scene.leg_place import ACROSS, FAR, NEAR
from shared.catalogue import CATALOGUE
from shared.flow import FloatArray
from shared.statistics import Z90
from tests.accuracy.blends import learnt_without
from tests.accuracy.report import by_clip_and_side
from tests.accuracy.score import Pair, Scored, score, shift_by_landmarks, whole_clip_asymmetry
from tests.accuracy.sources import movement_of
from tests.accuracy.tracks import truth_of

GAIN_PRIOR_SD: Final = 0.2
"""How far from 1 a gain is expected to lie, as far as those that were learnt (0.16 and 0.24); keeps
few clips from inventing one."""
FIT_GAIN: Final = frozenset({"strike_ahead", "trunk_lean"})
"""Measures that the cases vary widely; the truth of others moves too little for a gain, or
movements disagree about it (the pelvis's shift)."""
EVENTS: Final = frozenset({"contact", "toe_off"})
"""What they are off by is learnt with their signs: ``tests.accuracy.blends``."""
UNCORRECTED: Final = frozenset({"contact", "toe_off", "steps_span", "step_time", "step_asymmetry"})
"""Events are tuned by their blends; the rest follow from them. Only their sd is learnt."""
HELD: Final = 0.88
"""Share of a source's errors that the interval learnt from it would hold; 0.85 is asked for."""
FEWEST, FEWEST_DRAWN = 5, 12
"""Clips and sides that tell how wide an interval must be: of a movement, and of a body or clothes,
of which there are many, so that one odd clip would speak for each."""
WIDER: Final = 1.4
"""What is widest in the sources that are known is not the widest there is: so much wider, an
interval learnt from all sources but one holds 85 % of that one too (found by leaving each out)."""
LEGS: Final = (NEAR, FAR)
"""Which of the two is off more is chance where sources are few: both are as wide as the worse."""
EITHER_LEG: Final = frozenset({"strike_ahead"})
"""Measures by side whose correction is the same for the near and the far leg; not so the sd."""
ONE_SIDED: Final = {name for name, spec in CATALOGUE.items() if spec.by_side} | {
    "contact",
    "toe_off",
}
Pairs = dict[tuple[str, str], list[Pair]]
"""By name and place, as the table of corrections is."""


def raw_pairs(paths: list[Path], seen: Callable[[Scored], None] = lambda _: None) -> Pairs:
    """Raw readings beside their truth, in the terms of the table, by its keys.

    Events of each case are told by what was learnt of their signs without its movement. ``seen``
    is told of each case as it was measured.
    """
    learnt = dict(calibration.CORRECTIONS)
    calibration.CORRECTIONS.clear()
    by_key: Pairs = defaultdict(list)
    try:
        for path in paths:
            meta = truth_of(path).meta
            with learnt_without(movement_of(meta)):
                scored = score(path)
            seen(scored)
            measured = scored.pairs
            others = [pair for pair in measured if pair.name != "step_asymmetry"]
            others += whole_clip_asymmetry(measured) + shift_by_landmarks(path)
            for pair in others:
                if not pair.side and pair.name in ONE_SIDED:
                    continue  # sides were withheld
                changed = _learnable(pair, meta)
                by_key[(changed.name, changed.place)].append(changed)
    finally:
        calibration.CORRECTIONS.update(learnt)
    return by_key


def fit_correction(
    by_key: Pairs, key: tuple[str, str], without: str = ""
) -> calibration.Correction:
    """Gain and offset over clip means, each movement counting alike; sd from sources left out.

    Nothing is learnt from the source ``without``. Nobody who runs before the camera has a movement,
    a body or clothes that the corrections were learnt from. So the error of a clip is what remains
    with the line of the other sources, and the interval has to hold within every source that is
    left out, not on average.
    """
    name, place = key
    lines = _lines(by_key, key, without)
    gain, offset = (1.0, 0.0) if name in UNCORRECTED and not without else lines.line()
    places = LEGS if place in LEGS else (place,)
    widest = max(_widest(by_key, (name, leg), without) for leg in places if (name, leg) in by_key)
    return calibration.Correction(round(gain, 3), round(offset, 2), round(WIDER * widest, 2))


def _widest(by_key: Pairs, key: tuple[str, str], without: str) -> float:
    """SD that the errors of the worst source ask for, with that one left out of the line."""
    lines, pairs = _lines(by_key, key, without), _known(by_key[key], without)
    widest = 0.0
    for source in sorted({source for pair in pairs for source in pair.sources}):
        gain, offset = lines.line(without=source)
        off = [
            np.array([p.true - (gain * p.found + offset) for p in some])
            for some in by_clip_and_side([p for p in pairs if source in p.sources])
        ]
        movement = any(source == pair.movement for pair in pairs)
        if len(off) >= (FEWEST if movement else FEWEST_DRAWN):
            widest = max(widest, held_sd(off))
    return widest


@dataclass(frozen=True)
class Difference:
    """Between the two sides of one clip, near less far or right less left."""

    clip: str
    view: str
    sources: tuple[str, str, str]
    found: float
    true: float


def differences(by_key: Pairs, name: str, without: str = "") -> list[Difference]:
    """Of every clip, each side put right by the line of all sources but ``without``."""
    out = []
    for places in ((ACROSS,), LEGS):
        lines = {
            place: _lines(by_key, (name, place), without).line()
            for place in places
            if (name, place) in by_key
        }
        if len(lines) < len(places):
            continue
        clips: dict[str, list[list[Pair]]] = defaultdict(list)
        for place in places:
            for some in by_clip_and_side(by_key[(name, place)]):
                clips[some[0].clip].append(some)
        for clip, sides in clips.items():
            if len(sides) < 2:
                continue
            one, other = sorted(sides, key=lambda some: (some[0].place, some[0].side), reverse=True)
            put_right, true = ([], [])
            for some in (one, other):
                gain, offset = lines[some[0].place]
                put_right.append(gain * float(np.mean([p.found for p in some])) + offset)
                true.append(float(np.mean([p.true for p in some])))
            out.append(
                Difference(
                    clip,
                    one[0].view,
                    one[0].sources,
                    found=put_right[0] - put_right[1],
                    true=true[0] - true[1],
                )
            )
    return out


def between_sides_sd(by_key: Pairs, name: str, without: str = "") -> float:
    """SD of the error of a difference between the sides, by the rule of a value's own.

    What is off on both sides alike cancels; so it is learnt by itself, with each source left out of
    the lines in turn. Nothing is learnt from the source ``without``. Of a clip there is but one
    difference, so they are few, and what they say of another clip is taken for what it is.
    """
    kept = {key: _known(by_key[key], without) for key in by_key if key[0] == name}
    sources = {s for pairs in kept.values() for p in pairs for s in p.sources}
    movements = {p.movement for pairs in kept.values() for p in pairs}
    widest = 0.0
    for source in sources:
        off = [
            np.array([one.found - one.true])
            for one in differences(kept, name, without=source)
            if source in one.sources
        ]
        if len(off) >= (FEWEST if source in movements else FEWEST_DRAWN):
            widest = max(widest, held_sd(off, of_next=True))
    return WIDER * widest


def two_sided(by_key: Pairs, name: str) -> bool:
    """Whether a measure is given by side, and is not an event or a time behind other values."""
    return name in CATALOGUE and any((name, leg) in by_key for leg in (ACROSS, *LEGS))


def between_sides_share(by_key: Pairs, name: str) -> float:
    """The same as a share of what two sides would err by, were their errors independent."""
    places = [ACROSS] if (name, ACROSS) in by_key else list(LEGS)
    sds = [fit_correction(by_key, (name, place)).sd for place in places]
    return between_sides_sd(by_key, name) / float(np.hypot(sds[0], sds[-1]))


def _known(pairs: list[Pair], without: str) -> list[Pair]:
    return [pair for pair in pairs if without not in pair.sources]


def _lines(by_key: Pairs, key: tuple[str, str], without: str) -> _Lines:
    name, place = key
    legs = LEGS if name in EITHER_LEG else (place,)
    pairs = [pair for leg in legs for pair in by_key.get((name, leg), [])]
    return _Lines(_known(pairs, without), keep_gain=name not in FIT_GAIN)


class _Lines:
    """Lines through clip means, with a source left out or none."""

    def __init__(self, pairs: list[Pair], keep_gain: bool) -> None:
        self._keep_gain = keep_gain
        rows: dict[str, list[Pair]] = defaultdict(list)
        for pair in pairs:
            rows[pair.clip].append(pair)
        self._clips = [
            (
                some[0],
                float(np.mean([p.found for p in some])),
                float(np.mean([p.true for p in some])),
            )
            for some in rows.values()
        ]

    def line(self, without: str = "") -> tuple[float, float]:
        """Gain and offset."""
        if self._clips and self._clips[0][0].name in EVENTS:
            return 1.0, 0.0
        kept = [one for one in self._clips if without not in one[0].sources]
        if not kept:
            kept = self._clips
        counts: dict[str, int] = defaultdict(int)
        for pair, _, _ in kept:
            counts[pair.movement] += 1
        worth = np.array([1.0 / counts[pair.movement] for pair, _, _ in kept])
        found, true = (np.array([one[i] for one in kept]) for i in (1, 2))
        return _line(found, true, worth, self._keep_gain)


def held_sd(off: list[FloatArray], digits: int = 2, of_next: bool = False) -> float:
    """SD whose 1.645-fold holds HELD of the errors of one source, however they are spread.

    ``off`` are the errors of one clip and side each. Most of an error is the same throughout a
    clip, so each counts as one. ``of_next``: of another clip than the n that were seen, which lies
    below their k-th smallest by a chance of k / (n + 1); so of few the largest counts.
    """
    sizes = np.abs(np.concatenate(off))
    worth = np.concatenate([np.full(len(one), 1.0 / len(one)) for one in off])
    share = min(1.0, HELD * (len(off) + 1) / len(off)) if of_next else HELD
    held = np.quantile(sizes, share, weights=worth, method="inverted_cdf")
    return round(float(held) / Z90, digits)


def _line(
    found: FloatArray, true: FloatArray, worth: FloatArray, keep_gain: bool
) -> tuple[float, float]:
    """Weighted least squares, with a gain that few clips cannot move far from 1."""
    worth = worth * (len(worth) / worth.sum())
    middle, short = float(np.average(found, weights=worth)), true - found
    spread, short_spread = found - middle, short - np.average(short, weights=worth)
    gain = 1.0
    if not keep_gain and len(found) >= 4:
        size = float((worth * spread**2).sum())
        free = float((worth * spread * short_spread).sum()) / max(size, 1e-9)
        rest = short_spread - free * spread
        noise = float((worth * rest**2).sum()) / max(len(found) - 2, 1)
        gain += free * size / (size + noise / GAIN_PRIOR_SD**2)
    return gain, float(np.average(true, weights=worth)) - gain * middle


def _learnable(pair: Pair, meta: dict[str, Any]) -> Pair:
    """The pair in the terms of the table: lengths in % of leg length, times for what hangs on one.

    A cadence of 8 steps errs by cadence squared x error / 480 s; a step's length by speed x error.
    """
    if pair.name in LENGTHS:
        leg_m = LEG_TO_FLOOR_OF_HEIGHT * meta["height_m"]
        return replace(pair, found=pair.found / leg_m, true=pair.true / leg_m)
    if pair.name == "cadence":
        span_ms = 1000.0 * 60.0 * CADENCE_STEPS
        return replace(
            pair, name="steps_span", found=span_ms / pair.found, true=span_ms / pair.true
        )
    if pair.name == "step_length":
        ms = 10.0 / meta["belt_speed_mps"]
        return replace(pair, name="step_time", found=ms * pair.found, true=ms * pair.true)
    return pair
