"""Puts the demo's two answering clips together from its looping ones.

    python -m tests.rendered.answering [side] [behind]

Two loops of one runner take turns at their seam, where the right foot lands: from the side at 160
and at 168 steps/min on the same belt, from behind with the pelvis out over the right leg and held.
Only the runner's movement is laid down here. What is measured and cued is up to the program.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

FOLDER: Final = Path(__file__).parents[2] / "feedback" / "demo"
FPS: Final = 30
CLIPS: Final = {
    "side": ("side",) * 2 + ("side_quick",) * 2 + ("side",) + ("side_quick",) * 2,
    "behind": ("behind",) * 2 + ("behind_steady",) * 3,
}
"""Loops of 6 s (side_quick: 5 s), in turn; each clip loops as well."""


Picture = NDArray[np.uint8]


def pictures_of(name: str) -> list[Picture]:
    """All pictures of a looping clip, blue first."""
    video = cv2.VideoCapture(str(FOLDER / f"{name}.mp4"))
    pictures: list[Picture] = []
    while True:
        ok, picture = video.read()
        if not ok:
            return pictures
        pictures.append(np.asarray(picture, dtype=np.uint8))


def write(name: str, pictures: list[Picture]) -> None:
    """Encode them, as the other clips are but a little smaller."""
    height, width = pictures[0].shape[:2]
    command = [
        *("ffmpeg", "-hide_banner", "-loglevel", "error", "-y", "-f", "rawvideo"),
        *("-pix_fmt", "bgr24", "-s", f"{width}x{height}", "-r", str(FPS), "-i", "-"),
        *("-c:v", "libx264", "-preset", "fast", "-crf", "29", "-g", "150", "-threads", "1"),
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
    for name in sys.argv[1:] or CLIPS:
        loops = {one: pictures_of(one) for one in set(CLIPS[name])}
        write(f"{name}_answers", [picture for one in CLIPS[name] for picture in loops[one]])


if __name__ == "__main__":
    main()
