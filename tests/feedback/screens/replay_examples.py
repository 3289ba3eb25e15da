"""Replays to look at: bundled clips as a station would send them, landmarks from their truth."""

from __future__ import annotations

import functools
from collections.abc import Callable, Iterator

import numpy as np
from PyQt6.QtWidgets import QWidget

from feedback.demo import demo_clip
from feedback.screens.replay import ReplayWindow
from feedback.screens.replay_look import Do
from live.opencv import cv2
from live.pictures import jpeg_of
from shared.changes import Answered
from shared.landmarks import LANDMARK_COUNT, Landmark
from shared.messages import Request
from shared.pictures import AskReplay, Mark, Picture, ReplayEnd, ReplayPicture, SaveReplay
from shared.records import EventKind, Side, View
from tests.rendered.truth import JOINTS, Truth, load_truth

FRAMES_PER_S = 30
NS = 1_000_000_000
BEGAN_NS = 7_000 * NS
_NAMES = {f"{side}_toe": f"{side}_foot_index" for side in ("left", "right")}
_MARKS = {name: Landmark[_NAMES.get(name, name).upper()] for name in JOINTS if "ball" not in name
          and name != "head"}  # fmt: skip


@functools.cache
def _shots(view: View) -> tuple[tuple[bytes, int, int, tuple[float, ...]], ...]:
    """Every picture of a clip: JPEG, width, height, landmarks."""
    truth = load_truth(demo_clip(view).with_suffix(".truth.json.gz"))
    video = cv2.VideoCapture(str(demo_clip(view)))
    shots = []
    for number in range(len(truth.frame_time_s)):
        there, image = video.read()
        if not there:
            break
        shots.append((*jpeg_of(np.asarray(image, np.uint8), 960), _landmarks(truth, number)))
    video.release()
    return tuple(shots)


def _landmarks(truth: Truth, number: int) -> tuple[float, ...]:
    xy = [-1.0] * (2 * LANDMARK_COUNT)
    pixels = truth.pixels[number]
    for at, name in enumerate(JOINTS):
        if name in _MARKS:
            x, y = pixels[at]
            xy[2 * _MARKS[name]] = round(float(x) / truth.camera.width, 4)
            xy[2 * _MARKS[name] + 1] = round(float(y) / truth.camera.height, 4)
    return tuple(xy)


def replay(
    view: View, asked_id: int, seconds: float = 20.0, *, nobody: bool = False
) -> list[ReplayPicture | ReplayEnd]:
    """What a station sends: the clip from its beginning, over and over where it is too short."""
    truth = load_truth(demo_clip(view).with_suffix(".truth.json.gz"))
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


class StillStation:
    """Notes what it is asked; sends what the test has it send."""

    def __init__(self) -> None:
        self.asked: list[Request] = []
        self.stops = 0

    def ask(self, request: Request) -> None:
        self.asked.append(request)

    def stop(self) -> None:
        self.stops += 1

    @property
    def replay_id(self) -> int:
        return next(one.id for one in reversed(self.asked) if isinstance(one, AskReplay))

    @property
    def save_id(self) -> int:
        return next(one.id for one in reversed(self.asked) if isinstance(one, SaveReplay))


def opened(width: int = 1180, height: int = 860) -> tuple[ReplayWindow, StillStation]:
    """A window that has just asked."""
    station = StillStation()
    window = ReplayWindow(station.ask, station.stop, "Heron")
    window.resize(width, height)
    window.open()
    return window, station


def filled(view: View = View.SIDE, *acts: Do, width: int = 1180, height: int = 860) -> ReplayWindow:
    """A window with a replay of 20 s in it, after some acts."""
    window, station = opened(width, height)
    window.take(replay(view, station.replay_id))
    for act in acts:
        window.view.do(act)
    return window


def states(width: int, height: int) -> Iterator[tuple[str, QWidget]]:
    """A window in each of its states, one at a time."""

    def fresh() -> tuple[ReplayWindow, StillStation]:
        return opened(width, height)

    def full(*acts: Do, view: View = View.SIDE) -> ReplayWindow:
        return filled(view, *acts, width=width, height=height)

    window, station = fresh()
    yield "asking", window
    window, station = fresh()
    window.take(replay(View.SIDE, station.replay_id)[:223])
    yield "coming", window
    window, station = fresh()
    window.take([ReplayEnd(id=station.replay_id, count=0, marks=())])
    yield "none", window
    window, station = fresh()
    why = "Pictures are not kept in this session."
    window.on_answer(Answered(id=station.replay_id, done=False, why=why))
    yield "refused", window
    yield "contact", full()
    yield "between", full(Do.BACK, Do.BACK, Do.BACK, Do.BACK, Do.BACK)
    yield "no_landmarks", full(Do.BODY)
    yield "zoom", full(Do.ZOOM)
    yield "beside", full(Do.BOTH)
    yield "beside_zoom", full(Do.BOTH, Do.ZOOM, Do.OLDER)
    yield "beside_zoom_bare", full(Do.BOTH, Do.ZOOM, Do.BODY, Do.ON, Do.ON)
    yield "behind", full(view=View.BEHIND)
    yield "behind_beside_zoom", full(Do.BOTH, Do.ZOOM, Do.BODY, view=View.BEHIND)
    yield "playing", full(Do.FIRST, Do.FULL, Do.PLAY)
    window, station = fresh()
    window.take(replay(View.SIDE, station.replay_id, nobody=True))
    yield "nobody", window
    window, station = fresh()
    window.take(replay(View.SIDE, station.replay_id, 12.0))
    window.view.do(Do.SAVE)
    yield "saving", window
    for name, done, answer in (
        ("saved", True, "/home/clinic/beltside/sessions/2026-11-25-0930-heron.replay-1.mp4"),
        ("not_saved", False, "The file could not be saved (the disk is full). Make room on it."),
    ):
        window, station = fresh()
        window.take(replay(View.SIDE, station.replay_id, 12.0))
        window.view.do(Do.SAVE)
        window.on_answer(Answered(id=station.save_id, done=done, why=answer))
        yield name, window
    window = full()
    window.say_stoppable(stoppable=False)
    yield "stopped", window


def sized(width: int, height: int) -> Callable[[], Iterator[tuple[str, QWidget]]]:
    """For the script of pictures."""
    return lambda: states(width, height)
