"""What the pixels of a picture show: brightness, blur, and how the room's upright lines lean."""

from __future__ import annotations

from typing import Final, cast

import numpy as np
from numpy.typing import NDArray

from live.camera.opencv import cv2
from live.scene.picture_values import PictureFacts
from live.scene.posture import box_of
from shared.flow import FloatArray, Frame, Pose

LOOKED_AT_ROWS: Final = 480
"""Larger pictures are made smaller first: finer detail is of no use to the pose model."""
BURNT: Final = 250
BLUR_PX: Final = 9
"""Length of the second blur, in the blur measure of Crete et al. 2007."""
UPRIGHT_DEG: Final = 12.0
"""Lines that lean more than this are not meant to be upright."""
ALIKE_DEG: Final = 2.0
SHORTEST_LINE: Final = 0.06
"""Shorter lines, in heights of the picture, say little of their direction."""
FEWEST_LINES: Final = 0.5
"""The lines that lean alike must be this long together, in heights of the picture."""
_GRID: Final = np.arange(-UPRIGHT_DEG, UPRIGHT_DEG + 0.01, 0.25)


def facts_of(frame: Frame, pose: Pose) -> PictureFacts:
    """What this picture shows; ``pose`` says where the body is."""
    grey = _small_grey(frame.image)
    body, around = _parts(grey, pose)
    return PictureFacts(
        at_ns=frame.captured_ns,
        brightness=float(np.median(grey)),
        burnt_share=float((grey >= BURNT).mean()),
        body_brightness=None if body is None else float(np.median(body)),
        around_burnt_share=None if around is None else float((around >= BURNT - 15).mean()),
        softness=softness(grey),
        roll_deg=roll_of_lines(grey),
    )


def softness(grey: NDArray[np.uint8]) -> float:
    """Blur from 0 (sharp) to 1: how little a second blur changes (Crete et al. 2007)."""
    values = grey.astype(np.float32)
    worst = 0.0
    for axis, size in ((1, (BLUR_PX, 1)), (0, (1, BLUR_PX))):
        before = np.abs(np.diff(values, axis=axis))
        after = np.abs(np.diff(cv2.blur(values, size), axis=axis))
        lost = float(np.maximum(0.0, before - after).sum())
        worst = max(worst, 1.0 - lost / max(float(before.sum()), 1e-6))
    return worst


def roll_of_lines(grey: NDArray[np.uint8]) -> float | None:
    """How far the upright lines lean to the left, degrees; None where too few lean alike."""
    detected = cv2.createLineSegmentDetector().detect(grey)[0]
    found = cast("FloatArray | None", detected)  # the library's type hints leave None out
    if found is None:
        return None
    ends = np.asarray(found, np.float64).reshape(-1, 4)
    along = ends[:, 2:] - ends[:, :2]
    length = np.hypot(along[:, 0], along[:, 1]) / grey.shape[0]
    lean = (np.degrees(np.arctan2(along[:, 0], along[:, 1])) + 90.0) % 180.0 - 90.0
    chosen = (np.abs(lean) < UPRIGHT_DEG) & (length > SHORTEST_LINE)
    return _most_alike(lean[chosen], length[chosen])


def _most_alike(lean: FloatArray, length: FloatArray) -> float | None:
    """Mean lean of the largest group of lines that lean alike, by their length."""
    if lean.size == 0:
        return None
    near = np.exp(-0.5 * ((_GRID[:, None] - lean) / 0.7) ** 2) @ length
    group = np.abs(lean - _GRID[int(near.argmax())]) < ALIKE_DEG
    total = float(length[group].sum())
    if total < FEWEST_LINES or total < 0.4 * float(length.sum()):
        return None
    return float((lean[group] * length[group]).sum()) / total


def _small_grey(image: NDArray[np.uint8]) -> NDArray[np.uint8]:
    grey = cv2.cvtColor(image, cv2.COLOR_BGR2GRAY)
    rows, columns = grey.shape
    if rows > LOOKED_AT_ROWS:
        size = (round(columns * LOOKED_AT_ROWS / rows), LOOKED_AT_ROWS)
        grey = cv2.resize(grey, size, interpolation=cv2.INTER_AREA)
    return np.asarray(grey, np.uint8)


def _parts(
    grey: NDArray[np.uint8], pose: Pose
) -> tuple[NDArray[np.uint8] | None, NDArray[np.uint8] | None]:
    """The pixels inside the body's box, and those outside."""
    box = box_of(pose) if pose.people > 0 else None
    if box is None:
        return None, None
    rows, columns = grey.shape
    left, right = (round(min(max(share, 0.0), 1.0) * columns) for share in (box[0], box[2]))
    top, bottom = (round(min(max(share, 0.0), 1.0) * rows) for share in (box[1], box[3]))
    inside = np.zeros(grey.shape, np.bool_)
    inside[top:bottom, left:right] = True
    if not inside.any() or inside.all():
        return None, None
    # The body fills about the middle half of its box; the room shows at its sides.
    aside = (right - left) // 4
    return grey[top:bottom, left + aside : max(right - aside, left + aside + 1)], grey[~inside]
