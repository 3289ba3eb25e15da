"""A bundled clip as a station would send it as a replay, with the landmarks of its truth."""

from __future__ import annotations

import functools
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from feedback.demo import demo_clip
from live.camera.jpeg import jpeg_of
from live.camera.opencv import cv2
from shared.flow import EventKind, Side, View
from shared.landmarks import LANDMARK_COUNT, Landmark
from shared.pictures import Mark, Picture, ReplayEnd, ReplayPicture
from tests.rendered.truth import JOINTS, Truth, load_truth

FRAMES_PER_S = 30
NS = 1_000_000_000
BEGAN_NS = 7_000 * NS
_NAMES = {f"{side}_toe": f"{side}_foot_index" for side in ("left", "right")}
ON_THE_BODY = {
    name: Landmark[_NAMES.get(name, name).upper()]
    for name in JOINTS
    if "ball" not in name and name != "head"
}
"""The landmark of each joint of the truth that has one."""


def images(view: View) -> Iterator[NDArray[np.uint8]]:
    """Every picture of a clip."""
    video = cv2.VideoCapture(str(demo_clip(view)))
    while (read := video.read())[0]:
        yield np.asarray(read[1], np.uint8)
    video.release()


@functools.cache
def _shots(view: View) -> tuple[tuple[bytes, int, int, tuple[float, ...]], ...]:
    """Every picture of a clip: JPEG, width, height, landmarks."""
    truth = load_truth(demo_clip(view).with_suffix(".truth.json.xz"))
    return tuple(
        (*jpeg_of(image, 960), _landmarks(truth, number))
        for number, image in enumerate(images(view))
    )


def _landmarks(truth: Truth, number: int) -> tuple[float, ...]:
    xy = [-1.0] * (2 * LANDMARK_COUNT)
    pixels = truth.pixels[number]
    for at, name in enumerate(JOINTS):
        if name in ON_THE_BODY:
            x, y = pixels[at]
            xy[2 * ON_THE_BODY[name]] = round(float(x) / truth.camera.width, 4)
            xy[2 * ON_THE_BODY[name] + 1] = round(float(y) / truth.camera.height, 4)
    return tuple(xy)


def replay(
    view: View, asked_id: int, seconds: float = 20.0, *, nobody: bool = False
) -> list[ReplayPicture | ReplayEnd]:
    """What a station sends: the clip from its beginning, over and over where it is too short."""
    truth = load_truth(demo_clip(view).with_suffix(".truth.json.xz"))
    shots, count = _shots(view), round(seconds * FRAMES_PER_S)
    parts: list[ReplayPicture | ReplayEnd] = []
    for number in range(count):
        jpeg, width, height, xy = shots[number % len(shots)]
        picture = Picture(
            captured_ns=BEGAN_NS + number * NS // FRAMES_PER_S,
            width_px=width,
            height_px=height,
            jpeg=jpeg,
            xy=() if nobody else xy,
        )
        parts.append(ReplayPicture(id=asked_id, number=number, count=count, picture=picture))
    once_s = len(shots) / FRAMES_PER_S
    marks = []
    for lap in range(int(seconds / once_s) + 1):
        for event in truth.events:
            at_s = lap * once_s + event["time_s"]
            if 0 <= event["time_s"] < once_s and at_s < seconds and not nobody:
                kind, side = EventKind(event["kind"]), Side(event["side"])
                marks.append(Mark(kind, side, BEGAN_NS + round(at_s * NS)))
    parts.append(ReplayEnd(id=asked_id, count=count, marks=tuple(marks)))
    return parts
