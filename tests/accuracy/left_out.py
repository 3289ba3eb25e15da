"""Prints how near the measures come on a source that nothing was learnt from, each in turn.

``python -m tests.accuracy.left_out`` writes Markdown. Line and interval of each row were learnt
without the source that it judges: its movement, or with ``--all`` its body or clothes too.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass

import numpy as np

from shared.statistics import Z90
from tests.accuracy.learn import Pairs, fit_correction, raw_pairs
from tests.accuracy.report import by_clip_and_side, every_case
from tests.accuracy.tracks import truth_of


@dataclass(frozen=True)
class Judged:
    """One measure, place and view on one source left out. Lengths in % of leg length."""

    name: str
    place: str
    view: str
    source: str
    clips: int
    """Clips and sides."""
    bias: float
    """Mean error, each clip and side counting alike."""
    sd: float
    """Of the steps' errors within a clip and side."""
    apart: float
    """SD of the clips' own mean errors."""
    held: float
    """Share of the true values in the interval, %."""
    half_width: float


def judge(by_key: Pairs, movements_only: bool = True) -> list[Judged]:
    """Every key and source, learnt without it."""
    rows = []
    for name, place in sorted(by_key):
        pairs = by_key[(name, place)]
        for source in sorted({s for p in pairs for s in p.sources[: 1 if movements_only else 3]}):
            fix = fit_correction(by_key, (name, place), without=source)
            within = Z90 * fix.sd
            for view in sorted({p.view for p in pairs if source in p.sources}):
                mine = [p for p in pairs if source in p.sources and p.view == view]
                groups = by_clip_and_side(mine)
                off = [
                    np.array([fix.gain * p.found + fix.offset - p.true for p in some])
                    for some in groups
                ]
                means = np.array([one.mean() for one in off])
                inside = [float(np.mean(np.abs(one) <= within)) for one in off]
                rows.append(
                    Judged(
                        name=name,
                        place=place,
                        view=view,
                        source=source,
                        clips=len(off),
                        bias=float(means.mean()),
                        sd=float(np.sqrt(np.mean([one.var() for one in off]))),
                        apart=float(means.std()),
                        held=100.0 * float(np.mean(inside)),
                        half_width=within,
                    )
                )
    return rows


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--all", action="store_true", help="bodies and clothes too")
    asked = parser.parse_args()
    paths = [path for path in every_case() if not truth_of(path).meta["kept_apart"]]
    heads = ("measure", "leg", "view", "left out", "clips and sides", "bias", "SD of clips")
    print("| " + " | ".join((*heads, "SD of steps", "interval", "held")) + " |")
    print("|---" * (len(heads) + 3) + "|")
    for row in judge(raw_pairs(paths), movements_only=not asked.all):
        figures = f"{row.bias:.2f} | {row.apart:.2f} | {row.sd:.2f} | +-{row.half_width:.2f}"
        print(
            f"| {row.name} | {row.place} | {row.view} | {row.source} | {row.clips} |"
            f" {figures} | {row.held:.0f} % |"
        )


if __name__ == "__main__":
    main()
