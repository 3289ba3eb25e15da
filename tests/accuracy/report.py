"""Prints how near the measures come to the rendered truth: tuning cases beside those kept apart.

``python -m tests.accuracy.report`` writes Markdown; ``--conditions`` adds a row per clip.
"""

from __future__ import annotations

import argparse
import sys
from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np

from shared.statistics import Z90
from tests.accuracy.score import Pair, Scored, score, shift_by_landmarks
from tests.accuracy.tracks import all_tracks, clips, tracks, truth_of


@dataclass(frozen=True)
class Line:
    """One required line: what is computed from the pairs, and the limit that it must keep."""

    measure: str
    asked: str
    view: str
    names: tuple[str, ...]
    places: tuple[str, ...]
    figure: Callable[[list[Pair]], float]
    limit: float
    unit: str


def by_clip_and_side(pairs: Iterable[Pair]) -> list[list[Pair]]:
    """Groups of one clip and one side: the unit in which bias and spread are looked at."""
    groups: dict[tuple[str, str], list[Pair]] = defaultdict(list)
    for pair in pairs:
        groups[(pair.clip, pair.side)].append(pair)
    return list(groups.values())


def errors(pairs: list[Pair]) -> np.ndarray:
    """Found less true."""
    return np.array([p.found - p.true for p in pairs])


def median_bias(pairs: list[Pair]) -> float:
    """Size of the bias of one clip and side, the middle one of all."""
    return float(np.median([abs(errors(g).mean()) for g in by_clip_and_side(pairs)]))


def overall_bias(pairs: list[Pair]) -> float:
    """Size of the mean error, every clip and side counting alike."""
    return float(abs(np.mean([errors(g).mean() for g in by_clip_and_side(pairs)])))


def typical_sd(pairs: list[Pair]) -> float:
    """Step-to-step SD of the error within a clip and side, root mean square over all."""
    return float(np.sqrt(np.mean([errors(g).var() for g in by_clip_and_side(pairs)])))


def mean_size(pairs: list[Pair]) -> float:
    """Mean of the sizes of all errors."""
    return float(np.abs(errors(pairs)).mean())


def median_size(pairs: list[Pair]) -> float:
    """Median of the sizes of all errors, by clip and side first."""
    return float(np.median([np.median(np.abs(errors(g))) for g in by_clip_and_side(pairs)]))


def worst(pairs: list[Pair]) -> float:
    """Largest error of all."""
    return float(np.abs(errors(pairs)).max())


SIDE, BEHIND, ACROSS, ANY = "side", "behind", "behind or front", "any"
LINES: Final = (
    Line("initial contact, bias", "<= 10 ms", SIDE, ("contact",), (), overall_bias, 10, "ms"),
    Line("initial contact, SD", "<= 12 ms", SIDE, ("contact",), (), typical_sd, 12, "ms"),
    Line("cadence, mean error", "<= 0.5", ANY, ("cadence",), (), mean_size, 0.5, "steps/min"),
    Line("cadence, worst", "<= 1.5", ANY, ("cadence",), (), worst, 1.5, "steps/min"),
    Line("strike_ahead, bias, near leg", "<= 1.5 cm", SIDE, ("strike_ahead",), ("near",),
         median_bias, 1.5, "cm"),
    Line("strike_ahead, bias, far leg", "<= 1.5 cm", SIDE, ("strike_ahead",), ("far",),
         median_bias, 1.5, "cm"),
    Line("strike_ahead, SD of steps", "<= 1.5 cm", SIDE, ("strike_ahead",), (), typical_sd, 1.5,
         "cm"),
    Line("pelvic_shift", "<= 0.4 cm", BEHIND, ("pelvic_shift",), ("across",), median_size, 0.4,
         "cm"),
    Line("arm_direction", "<= 10 deg", ACROSS, ("arm_direction",), (), median_size, 10, "deg"),
    Line("arm_crossing", "<= 3 cm", ACROSS, ("arm_crossing",), (), median_size, 3, "cm"),
    Line("step_asymmetry", "<= 2 points", SIDE, ("step_asymmetry",), (), mean_size, 2, "%"),
    Line("trunk_lean", "<= 2 deg", SIDE, ("trunk_lean",), (), median_size, 2, "deg"),
    Line("knee_flexion_at_contact, near leg", "<= 5 deg", SIDE, ("knee_flexion_at_contact",),
         ("near",), median_size, 5, "deg"),
    Line("shank_angle_at_contact, near leg", "<= 5 deg", SIDE, ("shank_angle_at_contact",),
         ("near",), median_size, 5, "deg"),
    Line("ankle_dorsiflexion_peak, near leg", "<= 5 deg", SIDE, ("ankle_dorsiflexion_peak",),
         ("near",), median_size, 5, "deg"),
    Line("contact_time", "<= 25 ms", SIDE, ("contact_time",), (), median_size, 25, "ms"),
)  # fmt: skip


def select(pairs: list[Pair], line: Line) -> list[Pair]:
    """The pairs that a line speaks of."""
    views = {
        SIDE: {"side"},
        BEHIND: {"behind"},
        ACROSS: {"behind", "front"},
        ANY: {"side", "behind", "front"},
    }
    return [
        p
        for p in pairs
        if p.name in line.names
        and p.view in views[line.view]
        and (not line.places or p.place in line.places)
    ]


def coverage(pairs: list[Pair]) -> float:
    """Share of true values inside the 90 % intervals, every clip and side counting alike, in %."""
    inside = [
        np.mean([abs(p.found - p.true) <= p.uncertainty for p in group])
        for group in by_clip_and_side(pairs)
    ]
    return 100.0 * float(np.mean(inside))


def stated_size(pairs: list[Pair]) -> float:
    """Mean square of the errors over the stated SDs, every clip and side alike; 1 is right."""
    sizes = [
        np.mean([((p.found - p.true) / (p.uncertainty / Z90)) ** 2 for p in group])
        for group in by_clip_and_side(pairs)
    ]
    return float(np.mean(sizes))


def table(scored: list[Scored]) -> str:
    """The whole table, Markdown."""
    sets = {
        "tuning": [s for s in scored if not s.truth.meta["kept_apart"]],
        "kept apart": [s for s in scored if s.truth.meta["kept_apart"]],
    }
    pairs = {name: [p for s in some for p in s.pairs] for name, some in sets.items()}
    rows = [
        "| measure | view | asked for | tuning cases | kept-apart cases | 90 % interval holds |",
        "|---|---|---|---|---|---|",
    ]
    for label, figure, unit in (
        ("legs named wrongly", _legs_wrong, "%"),
        ("steps missed or invented", _lost_steps, "in all"),
    ):
        cells = [f"{figure(some):.2f} {unit}" if some else "-" for some in sets.values()]
        asked = "<= 1 %" if unit == "%" else "none"
        rows.append(f"| {label} | side | {asked} | {cells[0]} | {cells[1]} | |")
    for line in LINES:
        cells = []
        for name in sets:
            chosen = select(pairs[name], line)
            cells.append(f"{line.figure(chosen):.2f} {line.unit}" if chosen else "not offered")
        chosen = select(pairs["kept apart"], line)
        held = f"{coverage(chosen):.0f} % of {len(by_clip_and_side(chosen))}" if chosen else ""
        rows.append(
            f"| {line.measure} | {line.view} | {line.asked} | {cells[0]} | {cells[1]} | {held} |"
        )
    return "\n".join(rows)


def _legs_wrong(scored: list[Scored]) -> float:
    frames = sum(s.legs_frames for s in scored)
    return 100.0 * sum(s.legs_wrong for s in scored) / max(frames, 1)


def _lost_steps(scored: list[Scored]) -> float:
    return sum(s.missed + s.invented for s in scored if s.truth.meta["view"] == "side")


def conditions(scored: list[Scored]) -> str:
    """Mean error and SD by clip, side and measure, Markdown."""
    rows = [
        "| clip | kept apart | measure | side | n | mean error | SD |",
        "|---|---|---|---|---|---|---|",
    ]
    for one in scored:
        groups: dict[tuple[str, str], list[Pair]] = defaultdict(list)
        for pair in one.pairs:
            groups[(pair.name, pair.side)].append(pair)
        for (name, side), some in sorted(groups.items()):
            off = errors(some)
            apart = "yes" if one.truth.meta["kept_apart"] else ""
            rows.append(
                f"| {one.clip} | {apart} | {name} | {side} | {len(off)} |"
                f" {off.mean():.2f} | {off.std():.2f} |"
            )
    return "\n".join(rows)


def main(arguments: list[str] | None = None) -> int:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--conditions", action="store_true", help="a row per clip and measure")
    parser.add_argument("clips", nargs="*", type=Path)
    asked = parser.parse_args(arguments)
    paths = asked.clips or all_cases()
    if not paths:
        print("no clips found", file=sys.stderr)
        return 1
    scored = [score(path) for path in paths]
    print(table(scored))
    for label, apart in (("tuning cases", False), ("kept-apart cases", True)):
        chosen = [path for path in paths if truth_of(path).meta["kept_apart"] is apart]
        blind = [pair for path in chosen for pair in shift_by_landmarks(path)]
        if blind:
            print(
                f"pelvic_shift by landmarks alone, {label}: {median_size(blind):.2f} cm, "
                f"interval holds {coverage(blind):.0f} % of {len(by_clip_and_side(blind))}"
            )
    if asked.conditions:
        print("\n" + conditions(scored))
    return 0


def all_cases() -> list[Path]:
    """All that is about accuracy: clips, and the tracks of cases without one."""
    return [path for path in clips() if counts(path)] + tracks()


def every_case() -> list[Path]:
    """All that is about accuracy, whatever moves the body."""
    return [path for path in clips() if counts(path)] + all_tracks()


def counts(path: Path) -> bool:
    """Whether a clip is about accuracy: clips with gestures, falls and the like are not."""
    return not truth_of(path).meta["happenings"]


if __name__ == "__main__":
    raise SystemExit(main())
