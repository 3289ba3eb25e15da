"""Names and order of the 33 body landmarks that the pose model gives."""

from __future__ import annotations

from enum import IntEnum
from typing import Final

LANDMARK_COUNT: Final = 33


class Landmark(IntEnum):
    """Index of each landmark in the model's output (documented order of the model card)."""

    NOSE = 0
    LEFT_EYE_INNER = 1
    LEFT_EYE = 2
    LEFT_EYE_OUTER = 3
    RIGHT_EYE_INNER = 4
    RIGHT_EYE = 5
    RIGHT_EYE_OUTER = 6
    LEFT_EAR = 7
    RIGHT_EAR = 8
    MOUTH_LEFT = 9
    MOUTH_RIGHT = 10
    LEFT_SHOULDER = 11
    RIGHT_SHOULDER = 12
    LEFT_ELBOW = 13
    RIGHT_ELBOW = 14
    LEFT_WRIST = 15
    RIGHT_WRIST = 16
    LEFT_PINKY = 17
    RIGHT_PINKY = 18
    LEFT_INDEX = 19
    RIGHT_INDEX = 20
    LEFT_THUMB = 21
    RIGHT_THUMB = 22
    LEFT_HIP = 23
    RIGHT_HIP = 24
    LEFT_KNEE = 25
    RIGHT_KNEE = 26
    LEFT_ANKLE = 27
    RIGHT_ANKLE = 28
    LEFT_HEEL = 29
    RIGHT_HEEL = 30
    LEFT_FOOT_INDEX = 31
    RIGHT_FOOT_INDEX = 32


L = Landmark
BONES: Final[tuple[tuple[Landmark, Landmark], ...]] = (
    (L.LEFT_SHOULDER, L.RIGHT_SHOULDER),
    (L.LEFT_HIP, L.RIGHT_HIP),
    (L.LEFT_SHOULDER, L.LEFT_HIP),
    (L.RIGHT_SHOULDER, L.RIGHT_HIP),
    (L.LEFT_SHOULDER, L.LEFT_ELBOW),
    (L.LEFT_ELBOW, L.LEFT_WRIST),
    (L.RIGHT_SHOULDER, L.RIGHT_ELBOW),
    (L.RIGHT_ELBOW, L.RIGHT_WRIST),
    (L.LEFT_HIP, L.LEFT_KNEE),
    (L.LEFT_KNEE, L.LEFT_ANKLE),
    (L.RIGHT_HIP, L.RIGHT_KNEE),
    (L.RIGHT_KNEE, L.RIGHT_ANKLE),
    (L.LEFT_ANKLE, L.LEFT_HEEL),
    (L.LEFT_HEEL, L.LEFT_FOOT_INDEX),
    (L.RIGHT_ANKLE, L.RIGHT_HEEL),
    (L.RIGHT_HEEL, L.RIGHT_FOOT_INDEX),
)
"""Pairs to join when the landmarks are drawn over the picture."""
