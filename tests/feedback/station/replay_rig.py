"""A gallery to try, fed with pictures whose grey tells their number."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest

from feedback.station.replay_buffer import ReplayBuffer
from live.camera.opencv import cv2
from shared.changes import Answered
from shared.flow import EventKind, Frame, GaitEvent, Pose, Side
from shared.landmarks import LANDMARK_COUNT
from shared.pictures import Picture, ReplayPicture

MS, S = 1_000_000, 1_000_000_000
STEP_NS = S // 30
WIDE, HIGH = 64, 48


def image(number: int) -> np.ndarray[tuple[int, ...], np.dtype[np.uint8]]:
    """A grey that tells the number (in steps that JPEG and video keep apart)."""
    return np.full((HIGH, WIDE, 3), 20 + 8 * (number % 25), np.uint8)


def decode(jpeg: bytes) -> np.ndarray[tuple[int, ...], np.dtype[np.uint8]]:
    return np.asarray(cv2.imdecode(np.frombuffer(jpeg, np.uint8), cv2.IMREAD_COLOR), np.uint8)


def frame(number: int, step_ns: int = STEP_NS) -> Frame:
    return Frame(image=image(number), captured_ns=number * step_ns, index=number)


def pose(number: int, people: int = 1) -> Pose:
    xy = np.full((LANDMARK_COUNT, 2), np.nan)
    xy[0] = (WIDE / 4, HIGH / 2)
    return Pose(
        captured_ns=number * STEP_NS,
        index=number,
        width_px=WIDE,
        height_px=HIGH,
        xy_px=xy,
        visibility=np.ones(LANDMARK_COUNT),
        people=people,
    )


def contact(at_ns: int, side: Side = Side.LEFT) -> GaitEvent:
    return GaitEvent(
        kind=EventKind.CONTACT,
        side=side,
        at_ns=at_ns,
        captured_ns=at_ns + 7 * MS,
        quality=1.0,
        uncertainty_ms=10.0,
    )


@pytest.fixture
def make(tmp_path: Path) -> Iterator[Callable[..., ReplayBuffer]]:
    """Galleries that are closed in the end."""
    made: list[ReplayBuffer] = []

    def build(
        show: Callable[[Picture], None] = lambda _: None,
        wanted: Callable[[], float] = lambda: 0.0,
        record: Path | None = tmp_path / "2026-11-25-0930-heron.jsonl",
    ) -> ReplayBuffer:
        made.append(ReplayBuffer(show, wanted, record))
        return made[-1]

    yield build
    for one in made:
        one.close()


def fill(gallery: ReplayBuffer, numbers: range, step_ns: int = STEP_NS, people: int = 1) -> None:
    """Give pictures as fast as they are taken in, with a contact every tenth."""
    for number in numbers:
        events = (contact(number * step_ns - 7 * MS),) if number % 10 == 5 else ()
        missed = gallery.missed
        while True:  # a queue that is full is waited for here, so that none is missed
            gallery.add(frame(number, step_ns), pose(number, people), events)
            if gallery.missed == missed:
                break
            missed, events = gallery.missed, ()
            time.sleep(0.001)
    last_ns = numbers[-1] * step_ns
    until(lambda: (p := pictures(gallery)) != [] and p[-1].captured_ns == last_ns)


def until(true: Callable[[], bool]) -> None:
    deadline = time.monotonic() + 20
    while not true():
        assert time.monotonic() < deadline, "it never came"
        time.sleep(0.002)


def pictures(gallery: ReplayBuffer, seconds: float = 20.0) -> list[Picture]:
    return [one.picture for one in gallery.replay(1, seconds) if isinstance(one, ReplayPicture)]


def saved(gallery: ReplayBuffer, replay: int) -> Answered:
    answers: list[Answered] = []
    gallery.save(9, replay, answers.append)
    until(lambda: bool(answers))
    return answers[0]
