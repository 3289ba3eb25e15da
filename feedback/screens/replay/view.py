"""All of a replay in one widget: pictures, time line, controls, and how things stand."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Iterable
from typing import Final

from PyQt6.QtCore import Qt, QTimer
from PyQt6.QtGui import QKeyEvent, QResizeEvent
from PyQt6.QtWidgets import QHBoxLayout, QVBoxLayout, QWidget

from feedback.screens.replay.arrival import SECONDS, Arrival, Film, Saving, Stage
from feedback.screens.replay.controls import Controls
from feedback.screens.replay.look import SPEEDS, Do, Look
from feedback.screens.replay.picture import ShotView
from feedback.screens.replay.time_line import TimeLine
from feedback.screens.widgets.design import GAP_PX
from feedback.screens.widgets.style import label, mark
from feedback.texts.replay import say
from shared.changes import Answered
from shared.clock import now_ns
from shared.flow import Side
from shared.messages import Request
from shared.pictures import AskReplay, ReplayEnd, ReplayPicture, SaveReplay

_PLAY_TICK_MS: Final = 15
_WAIT_TICK_MS: Final = 250
_MOST_ID: Final = 2**52


class ReplayView(QWidget):
    """Shows one replay. ``ask`` sends a request to the station."""

    def __init__(self, ask: Callable[[Request], None]) -> None:
        super().__init__()
        self._ask = ask
        self._id = secrets.randbelow(_MOST_ID)  # apart from those of other parts and screens
        self._arrival: Arrival | None = None
        self._saving: Saving | None = None
        self.look = Look()
        self.news = label(wrap=True)
        self.single = ShotView(say("picture"))
        self.sides = {
            Side.LEFT: ShotView(say("picture_left")),
            Side.RIGHT: ShotView(say("picture_right")),
        }
        self.line = TimeLine()
        self.line.wanted.connect(self._on_pointed)
        self.controls = Controls(self)
        self.controls.wanted.connect(self.do)
        pictures = QHBoxLayout()
        pictures.setSpacing(GAP_PX)
        for view in (self.single, *self.sides.values()):
            pictures.addWidget(view)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(GAP_PX)
        layout.addLayout(pictures, 1)
        layout.addWidget(self.line)
        layout.addWidget(self.controls)
        layout.addWidget(label(say("not_measured"), wrap=True))
        layout.addWidget(self.news)
        self._timer = QTimer(self)
        self._timer.timeout.connect(self.tick)
        self._refresh()

    def get_anew(self) -> None:
        """Ask for the newest pictures; those that are shown stay until the others are here."""
        self._id += 1
        self._arrival = Arrival(self._id, now_ns())
        self._ask(AskReplay(id=self._id, seconds=SECONDS))
        self._refresh()

    def take(self, parts: Iterable[ReplayPicture | ReplayEnd]) -> None:
        """Take in what came of a replay."""
        arrival, at_ns = self._arrival, now_ns()
        if arrival is None:
            return
        any_part = False
        for part in parts:
            arrival.take(part, at_ns)
            any_part = True
        if any_part:
            self._adopt(arrival)
            self._refresh()

    def on_answer(self, answer: Answered) -> bool:
        """Take in an answer; whether it was one to this replay."""
        if self._saving is not None and answer.id == self._saving.id:
            self._saving.on_answer(answer)
        elif self._arrival is not None and answer.id == self._arrival.id:
            self._arrival.on_answer(answer)
        else:
            return False
        self._refresh()
        return True

    def forget(self) -> None:
        """Let go of all pictures, here and at the station."""
        for asked in {one.id for one in (self._arrival, self.look.film) if one is not None}:
            self._ask(AskReplay(id=asked, seconds=0))
        self._arrival, self._saving = None, None
        self._show(None)
        self._refresh()

    def tick(self) -> None:
        """Move on while it plays; give up what does not come."""
        at_ns = now_ns()
        self.look.tick(at_ns)
        if self._arrival is not None:
            self._arrival.on_tick(at_ns)
            self._adopt(self._arrival)
        if self._saving is not None:
            self._saving.on_tick(at_ns)
        self._refresh()

    def do(self, act: Do) -> None:
        """Do what a control asks for."""
        film = self.look.film
        match act:
            case Do.ANEW:
                self.get_anew()
            case Do.CANCEL:
                if self._arrival is not None:
                    self._arrival.cancel()
                    self._ask(AskReplay(id=self._arrival.id, seconds=0))
            case Do.SAVE:
                if film is not None:
                    self._id += 1
                    self._saving = Saving(self._id, now_ns())
                    self._ask(SaveReplay(id=self._id, replay=film.id))
            case _:
                self.look.do(act, now_ns())
        self._refresh()

    # ---- what Qt calls

    def keyPressEvent(self, event: QKeyEvent | None) -> None:  # noqa: N802 - Qt's name
        """Space plays, where no button has the focus that would take it."""
        if event is None:
            return
        if event.key() == Qt.Key.Key_Space and not event.isAutoRepeat():
            self.do(Do.PLAY)
        else:
            event.ignore()

    def resizeEvent(self, event: QResizeEvent | None) -> None:  # noqa: N802 - Qt's name
        """The part that is zoomed on has the shape of its place."""
        super().resizeEvent(event)
        QTimer.singleShot(0, self._show_pictures)  # when the places have their new sizes

    # ---- inside

    def _adopt(self, arrival: Arrival) -> None:
        if arrival.stage is Stage.HERE and arrival.film is not self.look.film:
            self._show(arrival.film)

    def _show(self, film: Film | None) -> None:
        self.look = Look(film, before=self.look)
        self._saving = None
        self.line.show_clip(None if film is None else film.clip)

    def _on_pointed(self, at_ns: int) -> None:
        self.look.go_to(at_ns)
        self._refresh()

    def _refresh(self) -> None:
        arrival, saving, look = self._arrival, self._saving, self.look
        coming = arrival is not None and arrival.stage is Stage.COMING
        saves = saving is not None and not saving.over
        saved = saving is not None and saving.over and saving.well
        told = arrival if saving is None or coming else saving
        self.news.setText("" if told is None or look.film is None else told.text)
        mark(self.news, "well", told is None or told.well)
        stations = {
            Do.ANEW: not coming,
            Do.CANCEL: coming,
            Do.SAVE: look.film is not None and not saves and not saved,
        }
        for act in Do:
            self.controls.allow(act, stations.get(act, look.can(act)))
        self.controls.say_playing(look.playing)
        for act, speed in SPEEDS.items():
            self.controls.check(act, look.speed is speed)
        for act, on in ((Do.BODY, look.body), (Do.ZOOM, look.zoom), (Do.BOTH, look.both)):
            self.controls.check(act, on)
        self._show_pictures()
        if look.playing:
            self._timer.start(_PLAY_TICK_MS)
        elif coming or saves:
            self._timer.start(_WAIT_TICK_MS)
        else:
            self._timer.stop()

    def _show_pictures(self) -> None:
        both = self.look.both
        self.single.setVisible(not both)
        for view in self.sides.values():
            view.setVisible(both)
        if both:
            for side, view in self.sides.items():
                view.show_shot(self.look.beside(side, view.room))
        else:
            nothing = say("empty") if self._arrival is None else self._arrival.text
            self.single.show_shot(self.look.single(self.single.room, nothing))
        views = self.sides.values() if both else (self.single,)
        pictures = [view.shot.picture for view in views]
        self.line.point_at(*(one.captured_ns for one in pictures if one is not None))
