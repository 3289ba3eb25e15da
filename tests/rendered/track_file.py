"""What was seen of one rendered case, in a file: NAME.track.xz, beside NAME.truth.json.xz."""

import lzma
import struct
from pathlib import Path

import numpy as np
import numpy.typing as npt

from shared.landmarks import LANDMARK_COUNT
from shared.landmarks import Landmark as Lm

TRACKS, ENDING = Path(__file__).parent / "tracks", ".track.xz"
PER_PX = 8
"""Landmarks are kept to an eighth of a pixel: 0.04 px RMS, where the model errs by several."""
PER_VISIBILITY = 100
PER_WAY_PX = 64
NOT_SEEN = -(2**15)
LEFT_AWAY = [Lm.LEFT_EYE_INNER, Lm.LEFT_EYE_OUTER, Lm.RIGHT_EYE_INNER, Lm.RIGHT_EYE_OUTER,
             Lm.MOUTH_LEFT, Lm.MOUTH_RIGHT, Lm.LEFT_PINKY, Lm.RIGHT_PINKY, Lm.LEFT_INDEX,
             Lm.RIGHT_INDEX, Lm.LEFT_THUMB, Lm.RIGHT_THUMB]  # fmt: skip
"""Nothing is measured by these, so they are not kept."""
KEPT = np.setdiff1d(np.arange(LANDMARK_COUNT), LEFT_AWAY)
Numbers = npt.NDArray[np.float64]


def save_track(
    path: Path,
    xy_px: Numbers,
    visibility: Numbers,
    size: tuple[int, int],
    ways_px: Numbers | None = None,
) -> None:
    """Write landmarks ``xy_px`` (n, 33, 2) and ``visibility`` (n, 33) of pictures of one size.

    ``ways_px``: how far the standing shoe had gone since the picture before, (n,) or of the first
    pictures alone; NaN where that was not seen.
    """
    xy_px, visibility = xy_px[:, KEPT], visibility[:, KEPT]
    steps = np.where(np.isfinite(xy_px), np.round(xy_px * PER_PX), NOT_SEEN).astype("<i2")
    seen = np.round(np.nan_to_num(visibility) * PER_VISIBILITY).astype("u1")
    # From frame to frame little changes, and little is what packs well. Whole numbers wrap around.
    steps[1:] -= steps[:-1].copy()
    seen[1:] -= seen[:-1].copy()
    planes = steps.reshape(len(steps), -1).T.copy().view("u1").reshape(-1, len(steps), 2)
    packed = struct.pack("<III", len(steps), *size)
    packed += planes.transpose(2, 0, 1).tobytes() + seen.T.tobytes()
    if ways_px is not None:
        packed += (
            np.where(np.isfinite(ways_px), np.round(ways_px * PER_WAY_PX), NOT_SEEN)
            .astype("<i2")
            .tobytes()
        )
    path.write_bytes(lzma.compress(packed, preset=9))


def load_track(path: Path) -> tuple[Numbers, Numbers, tuple[int, int]]:
    """What :func:`save_track` wrote; landmarks that are not kept are NaN and not visible."""
    packed = lzma.decompress(path.read_bytes())
    count, width, height = struct.unpack_from("<III", packed)
    places = 2 * len(KEPT)
    split = 12 + 2 * count * places
    planes = np.frombuffer(packed, "u1", 2 * count * places, 12).reshape(2, places, count)
    steps = planes.transpose(1, 2, 0).copy().view("<i2")[..., 0].T.reshape(count, len(KEPT), 2)
    steps = np.cumsum(steps, axis=0, dtype="<i2")
    seen = np.frombuffer(packed, "u1", len(KEPT) * count, split).reshape(len(KEPT), count).T
    xy_px = np.full((count, LANDMARK_COUNT, 2), np.nan)
    visibility = np.zeros((count, LANDMARK_COUNT))
    xy_px[:, KEPT] = np.where(steps == NOT_SEEN, np.nan, steps / PER_PX)
    visibility[:, KEPT] = np.cumsum(seen, axis=0, dtype="u1") / PER_VISIBILITY
    return xy_px, visibility, (width, height)


def load_ways(path: Path) -> Numbers:
    """The ``ways_px`` of a track's first pictures, NaN where nothing was seen; (0,) without any."""
    packed = lzma.decompress(path.read_bytes())
    (count,) = struct.unpack_from("<I", packed)
    kept = np.frombuffer(packed, "<i2", offset=12 + 5 * count * len(KEPT))
    return np.where(kept == NOT_SEEN, np.nan, kept / PER_WAY_PX)
