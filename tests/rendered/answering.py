"""Puts the demo's two answering clips together from its looping ones: `... [side] [behind]`.

    python -m tests.rendered.answering

From the side the same loop runs faster or slower, so that the runner steps at another rate (and the
belt with it, by at most 5 %). From behind two loops of the same steps take turns at their seam, where
a foot lands: in one the pelvis slides out over the right leg, in the other it is held. Only the
runner's movement is laid down here. What is measured and cued is up to the program.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from typing import Final

import cv2
import numpy as np

FOLDER: Final = Path(__file__).parents[2] / "feedback" / "demo"
FPS: Final = 30
LOOP_FRAMES: Final = 180
LOOP_SPM: Final = 160.0
SECONDS: Final = 40.0
# (s, steps/min), straight between: too slow; answers the cue; holds; drifts; is caught; tires.
CADENCE: Final = (
    (0.0, 160.0), (11.0, 160.0), (13.5, 168.0), (22.0, 168.0), (24.0, 158.0), (29.5, 158.0),
    (31.5, 168.0), (38.0, 168.0), (40.0, 160.0),
)  # fmt: skip
BEHIND: Final = ("behind", "behind", "behind_steady", "behind_steady", "behind_steady")
"""Loops of 6 s each, in turn."""


def frames_from_the_side() -> list[int]:
    """Which frame of the loop to show at each frame of the clip, which loops as well."""
    at_s = np.arange(round(SECONDS * FPS)) / FPS
    spm = np.interp(at_s, *np.array(CADENCE).T)
    way = np.concatenate([[0.0], np.cumsum(spm)])
    loops = round(way[-1] / LOOP_SPM / LOOP_FRAMES)
    numbers = np.round(way[:-1] / way[-1] * loops * LOOP_FRAMES).astype(int) % LOOP_FRAMES
    return [int(number) for number in numbers]


def pictures_of(name: str) -> list[np.ndarray]:
    """All pictures of a looping clip, blue first."""
    video = cv2.VideoCapture(str(FOLDER / f"{name}.mp4"))
    pictures = []
    while True:
        ok, picture = video.read()
        if not ok:
            return pictures
        pictures.append(np.asarray(picture))


def write(name: str, pictures: list[np.ndarray]) -> None:
    """Encode them, as the other clips are but a little smaller."""
    height, width = pictures[0].shape[:2]
    command = [
        *("ffmpeg", "-hide_banner", "-loglevel", "error", "-y", "-f", "rawvideo"),
        *("-pix_fmt", "bgr24", "-s", f"{width}x{height}", "-r", str(FPS), "-i", "-"),
        *("-c:v", "libx264", "-preset", "fast", "-crf", "27", "-g", "150", "-threads", "1"),
        *("-pix_fmt", "yuv420p", "-movflags", "+faststart", "-bitexact"),
        str(FOLDER / f"{name}.mp4"),
    ]
    with subprocess.Popen(command, stdin=subprocess.PIPE) as encoder:
        assert encoder.stdin is not None
        for picture in pictures:
            encoder.stdin.write(picture.tobytes())
        encoder.stdin.close()
    if encoder.returncode != 0:
        raise RuntimeError(f"ffmpeg could not write {name}")


def main() -> None:
    """Write the clips that are named, or both."""
    wanted = sys.argv[1:] or ["side", "behind"]
    if "side" in wanted:
        loop = pictures_of("side")
        write("side_answers", [loop[number] for number in frames_from_the_side()])
    if "behind" in wanted:
        write("behind_answers", [one for name in BEHIND for one in pictures_of(name)])


if __name__ == "__main__":
    main()
