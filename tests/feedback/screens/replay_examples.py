"""The replay window in each of its states, for tests and for pictures to look at."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from PyQt6.QtWidgets import QWidget

from feedback.screens.replay.look import Do
from feedback.screens.replay.window import ReplayWindow
from shared.changes import Answered
from shared.flow import View
from shared.messages import Request
from shared.pictures import AskReplay, ReplayEnd, SaveReplay
from tests.feedback.screens.replay_clip import replay


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
