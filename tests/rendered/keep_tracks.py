"""Draw cases and keep what was seen in place of clips: python -m tests.rendered.keep_tracks.

They are those of chance.py, captured_cases.py, spring_cases.py and wide_cases.py and a few of
cases.py. A case that is there already is left alone. Name cases to draw only those; ``--clips DIR``
keeps the videos as well, to look at. ``--ways`` draws nothing and looks anew, in the videos that
DIR has, how far shoes and hips go.
"""

import argparse
import tempfile
import time
from pathlib import Path

import numpy as np

from live.pipeline import Pipeline, Setup
from shared.flow import View
from tests.accuracy.tracks import detect, poses_of, truth_of, watched
from tests.rendered import captured_cases, cases, chance, spring_cases, wide_cases
from tests.rendered.clip import Case, make_clip
from tests.rendered.track_file import ENDING, TRACKS, load_track, save_track
from tests.rendered.truth import save_truth

JOINTS = ("left_hip", "right_hip", "left_knee", "right_knee", "left_ankle", "right_ankle")
"""What the truth of legs' names, standing and scale is read from."""
CASES = (
    *(case for case in cases.CASES if case.name in cases.BY_LANDMARKS),
    *chance.CASES,
    *captured_cases.CASES,
    *spring_cases.CASES,
    *wide_cases.CASES,
)


def keep(case: Case, clips: Path, out: Path = TRACKS) -> None:
    """Draw a case and write its track and truth."""
    truth = make_clip(case, clips)
    found, seen, (width, height) = detect(clips / f"{case.name}.mp4", case.fps)
    out.mkdir(exist_ok=True)
    save_track(out / f"{case.name}{ENDING}", found, seen, (int(width), int(height)))
    save_truth(out / f"{case.name}.truth.json.xz", truth, JOINTS)
    keep_ways(case, clips, out)


def keep_ways(case: Case, clips: Path, out: Path = TRACKS) -> None:
    """Put into a track how far shoe or hips went from picture to picture."""
    track = out / f"{case.name}{ENDING}"
    pipeline = Pipeline(Setup(View(case.view.view), truth_of(track).meta["height_m"]))
    seen = watched(clips / f"{case.name}.mp4", poses_of(track), pipeline)
    ways_px = np.array([np.nan if way_px is None else way_px for way_px, _ in seen])
    save_track(track, *load_track(track), ways_px)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("names", nargs="*", metavar="CASE")
    parser.add_argument("--clips", type=Path, metavar="DIR")
    parser.add_argument("--ways", action="store_true")
    asked = parser.parse_args()
    if asked.ways:
        for case in CASES:
            if (asked.clips / f"{case.name}.mp4").exists():
                keep_ways(case, asked.clips)
        return
    with tempfile.TemporaryDirectory() as folder:
        for case in CASES:
            there = (TRACKS / f"{case.name}.truth.json.xz").exists()
            if there or (asked.names and case.name not in asked.names):
                continue
            began = time.monotonic()
            keep(case, asked.clips or Path(folder))
            print(f"{case.name}: {time.monotonic() - began:.0f} s", flush=True)


if __name__ == "__main__":
    main()
