"""The landmarks of one rendered case in a file: NAME.track.xz, beside NAME.truth.json.gz."""

import lzma
import struct
from pathlib import Path

import numpy as np
import numpy.typing as npt

TRACKS, ENDING = Path(__file__).parent / "tracks", ".track.xz"
PER_PX = 16
"""Landmarks are kept to a sixteenth of a pixel: 0.02 px RMS, where the model errs by several."""
PER_VISIBILITY = 250
NOT_SEEN = -(2**15)
Numbers = npt.NDArray[np.float64]


def save_track(path: Path, xy_px: Numbers, visibility: Numbers, size: tuple[int, int]) -> None:
    """Write landmarks ``xy_px`` (n, 33, 2) and ``visibility`` (n, 33) of pictures of one size."""
    steps = np.where(np.isfinite(xy_px), np.round(xy_px * PER_PX), NOT_SEEN).astype("<i2")
    seen = np.round(np.nan_to_num(visibility) * PER_VISIBILITY).astype("u1")
    # From frame to frame little changes, and little is what packs well. Whole numbers wrap around.
    steps[1:] -= steps[:-1].copy()
    seen[1:] -= seen[:-1].copy()
    planes = steps.reshape(len(steps), -1).T.copy().view("u1").reshape(-1, len(steps), 2)
    packed = struct.pack("<III", len(steps), *size)
    packed += planes.transpose(2, 0, 1).tobytes() + seen.T.tobytes()
    path.write_bytes(lzma.compress(packed, preset=9))


def load_track(path: Path) -> tuple[Numbers, Numbers, tuple[int, int]]:
    """What :func:`save_track` wrote."""
    packed = lzma.decompress(path.read_bytes())
    count, width, height = struct.unpack_from("<III", packed)
    split = 12 + 2 * count * 66
    planes = np.frombuffer(packed, "u1", 2 * count * 66, 12).reshape(2, 66, count)
    steps = planes.transpose(1, 2, 0).copy().view("<i2")[..., 0].T.reshape(count, 33, 2)
    steps = np.cumsum(steps, axis=0, dtype="<i2")
    seen = np.cumsum(np.frombuffer(packed, "u1", offset=split).reshape(33, count).T, axis=0,
                     dtype="u1")  # fmt: skip
    xy_px = np.where(steps == NOT_SEEN, np.nan, steps / PER_PX)
    return xy_px, seen / PER_VISIBILITY, (width, height)
