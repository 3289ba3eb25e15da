"""A replay that is on its way: what has come of it, and what became of it (pure)."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from feedback.screens.replay.model import Clip
from feedback.texts.replay import say
from shared.changes import Answered
from shared.pictures import Mark, Picture, ReplayEnd, ReplayPicture

SECONDS: Final = 20.0
LATE_NS: Final = 6_000_000_000
"""Without a word of the station for so long it is not waited for any more."""
SAVE_LATE_NS: Final = 60_000_000_000


class Stage(StrEnum):
    """How far it has come."""

    COMING = "coming"
    HERE = "here"
    OVER = "over"
    """Nothing to look at will come of it."""


@dataclass(frozen=True)
class Film:
    """A replay that is here: its pictures and when they were taken."""

    id: int
    pictures: tuple[Picture, ...]
    clip: Clip

    @property
    def shape(self) -> float:
        """Width of a picture over its height."""
        return self.pictures[0].width_px / max(1, self.pictures[0].height_px)


class Arrival:
    """One replay from the moment it was asked for. Parts of another are not taken."""

    def __init__(self, asked_id: int, now_ns: int) -> None:
        self.id = asked_id
        self.stage = Stage.COMING
        self.text = say("asking", seconds=round(SECONDS))
        """How it stands, in words."""
        self.well = True
        self.film: Film | None = None
        self.got = 0
        self.count = 0
        """How many pictures it is to have; 0 until the first has come."""
        self._pictures: list[Picture] = []
        self._heard_ns = now_ns

    def take(self, part: ReplayPicture | ReplayEnd, now_ns: int) -> None:
        """Take in what came."""
        if part.id != self.id or self.stage is not Stage.COMING:
            return
        self._heard_ns = now_ns
        if isinstance(part, ReplayPicture):
            self._pictures.append(part.picture)
            self.got, self.count = len(self._pictures), part.count
            self.text = say("coming", got=self.got, count=self.count)
        else:
            self._end(part.count, part.marks)

    def on_answer(self, answer: Answered) -> None:
        """The station has answered with words instead of pictures."""
        if answer.id == self.id and self.stage is Stage.COMING:
            self._over(say("refused", why=answer.why))

    def on_tick(self, now_ns: int) -> None:
        """Give it up when nothing comes any more; what came is shown."""
        if self.stage is Stage.COMING and now_ns - self._heard_ns > LATE_NS:
            if self._pictures:
                told = {mark for picture in self._pictures for mark in picture.marks}
                self._end(self.count, tuple(told))
            else:
                self._over(say("late"))

    def cancel(self) -> None:
        """It is not wanted any more."""
        if self.stage is Stage.COMING:
            self._over(say("cancelled"))

    def _end(self, count: int, marks: tuple[Mark, ...]) -> None:
        pictures = sorted(self._pictures, key=lambda one: one.captured_ns)
        self._pictures = []
        if not pictures:
            self._over(say("none"))
            return
        times_ns = tuple(one.captured_ns for one in pictures)
        self.film = Film(self.id, tuple(pictures), Clip(times_ns, marks))
        self.stage = Stage.HERE
        self.well = len(pictures) == count
        key = "here" if self.well else "broken"
        self.text = say(key, got=len(pictures), count=count)

    def _over(self, text: str) -> None:
        self.stage, self.text, self.well = Stage.OVER, text, False
        self._pictures = []


class Saving:
    """One request to save; over when it is answered, or not answered in time."""

    def __init__(self, asked_id: int, now_ns: int) -> None:
        self.id = asked_id
        self.over = False
        self.text = say("saving")
        self.well = True
        self._asked_ns = now_ns

    def on_answer(self, answer: Answered) -> None:
        """The station has answered."""
        self.over, self.well = True, answer.done
        done = answer.done
        self.text = say("saved", path=answer.why) if done else say("not_saved", why=answer.why)

    def on_tick(self, now_ns: int) -> None:
        """Give it up."""
        if not self.over and now_ns - self._asked_ns > SAVE_LATE_NS:
            self.over, self.well, self.text = True, False, say("save_late")
