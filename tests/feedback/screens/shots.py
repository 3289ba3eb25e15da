"""Writes a picture of every state of the runner's screen: ``... shots OUT_DIR [WIDTHxHEIGHT]``."""

from __future__ import annotations

import os
import sys
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

from PyQt6.QtWidgets import QApplication

from tests.feedback.screens.examples import states, window

SIZES = ((1920, 1080), (1280, 720))


def write_all(folder: Path, sizes: tuple[tuple[int, int], ...] = SIZES) -> list[Path]:
    """One PNG for each state and size."""
    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for width, height in sizes:
        for name in states():
            made, _ = window(states()[name], width, height)  # fresh as of now
            path = folder / f"{name}_{width}x{height}.png"
            if not made.grab().save(str(path)):
                raise OSError(f"{path} could not be written")
            written.append(path)
            made.close()
    return written


if __name__ == "__main__":
    app = QApplication(sys.argv[:1])
    chosen = tuple(
        (int(width), int(height)) for width, height in (size.split("x") for size in sys.argv[2:])
    )
    print(len(write_all(Path(sys.argv[1]), chosen or SIZES)), "pictures")
