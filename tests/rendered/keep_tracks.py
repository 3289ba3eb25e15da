"""Draw the cases of chance.py and keep their landmarks: python -m tests.rendered.keep_tracks.

A case that is there already is left alone. Name cases to draw only those; ``--clips DIR`` keeps the
videos as well, to look at.
"""

import argparse
import tempfile
import time
from pathlib import Path

import cv2
import numpy as np

from live.pose import PoseModel
from shared.clock_units import NS_PER_S
from shared.records import Frame
from tests.rendered.chance import CASES
from tests.rendered.clip import Case, make_clip
from tests.rendered.track_file import ENDING, TRACKS, Numbers, save_track
from tests.rendered.truth import save_truth

JOINTS = ("left_hip", "right_hip", "left_knee", "right_knee", "left_ankle", "right_ankle")
"""What the truth of legs' names, standing and scale is read from."""


def keep(case: Case, clips: Path, out: Path = TRACKS) -> None:
    """Draw a case and write its track and truth."""
    truth = make_clip(case, clips)
    found: list[Numbers] = []
    seen: list[Numbers] = []
    video = cv2.VideoCapture(str(clips / f"{case.name}.mp4"))
    with PoseModel() as model:
        while (shot := video.read())[0]:
            at_ns = NS_PER_S + int(len(found) / case.fps * NS_PER_S)
            pose = model.detect(Frame(np.asarray(shot[1], np.uint8), at_ns, len(found)))
            found.append(pose.xy_px)
            seen.append(pose.visibility)
    out.mkdir(exist_ok=True)
    size = (truth.camera.width, truth.camera.height)
    save_track(out / f"{case.name}{ENDING}", np.array(found), np.array(seen), size)
    save_truth(out / f"{case.name}.truth.json.gz", truth, JOINTS)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("names", nargs="*", metavar="CASE")
    parser.add_argument("--clips", type=Path)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        for case in CASES:
            there = (TRACKS / f"{case.name}.truth.json.gz").exists()
            if there or (asked.names and case.name not in asked.names):
                continue
            began = time.monotonic()
            keep(case, asked.clips or Path(folder))
            print(f"{case.name}: {time.monotonic() - began:.0f} s", flush=True)


if __name__ == "__main__":
    main()
