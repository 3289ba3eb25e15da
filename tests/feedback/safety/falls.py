"""Rendered runners who go down, seen from behind and from the front; the side is in side_17.

Draw them anew: python -m tests.feedback.safety.falls
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from tests.rendered.cases import BLUE, FEMALE, MALE, RED, TIGHTS, WHITE, behind, front, runner
from tests.rendered.clip import Case, make_clip
from tests.rendered.params import Happening

CLIPS = Path(__file__).parent / "clips"
FALLS_AT_S = 5.5
"""On the knees 0.7 s later."""
DOWN = (Happening("fall", FALLS_AT_S, 9.0),)
CASES = (
    Case(
        "behind_fall",
        runner(MALE, 401, 2.8, 160, 272, happenings=DOWN),
        behind(0.0, distance_m=3.6),
        BLUE,
        duration_s=8.5,
        crf=31,
    ),
    Case(  # aslant, from lower down, in dark tights
        "behind_fall_low",
        runner(FEMALE, 402, 3.0, 172, 250, happenings=DOWN),
        behind(12.0, distance_m=3.4, height_m=0.6),
        TIGHTS,
        duration_s=8.5,
        crf=31,
    ),
    Case(
        "front_fall",
        runner(FEMALE, 403, 2.7, 166, 264, happenings=DOWN),
        front(0.0, distance_m=3.4),
        replace(RED, console=False),
        duration_s=8.5,
        crf=31,
    ),
    Case(  # aslant, from over the console
        "front_fall_high",
        runner(MALE, 404, 3.2, 170, 248, happenings=DOWN),
        front(10.0, distance_m=3.8, height_m=1.4),
        WHITE,
        duration_s=8.5,
        crf=31,
    ),
)


def main() -> None:
    """Draw every clip."""
    CLIPS.mkdir(exist_ok=True)
    for case in CASES:
        make_clip(case, CLIPS)
        print(case.name, (CLIPS / f"{case.name}.mp4").stat().st_size)


if __name__ == "__main__":
    main()
