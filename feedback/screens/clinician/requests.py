"""What a clinician has asked the station for, and what came of it, in words (pure)."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from feedback.screens.clinician.measure_rows import band_text
from feedback.texts.clinician import say
from feedback.texts.measures import unit_text
from shared.catalogue import CATALOGUE
from shared.changes import Answered
from shared.messages import Request

NO_ANSWER_NS: Final = 3_000_000_000


class MessageTone(StrEnum):
    """How a message is meant."""

    WAITING = "waiting"
    GOOD = "good"
    BAD = "bad"


@dataclass(frozen=True, slots=True)
class Message:
    """One line about what was asked."""

    text: str
    tone: MessageTone


class Asking:
    """Numbers the requests of one screen and keeps one message for each place they came from.

    A place is any word of the caller's, such as "target 0" or "notes".
    """

    def __init__(self) -> None:
        self._last_id = 0
        self._waiting: dict[int, tuple[str, int]] = {}
        self._messages: dict[str, Message] = {}

    def ask(self, place: str, make: Callable[[int], Request], now_ns: int) -> Request:
        """The request to send, made with a number of its own."""
        self._last_id += 1
        self._waiting[self._last_id] = (place, now_ns)
        self._messages[place] = Message(say("asked"), MessageTone.WAITING)
        return make(self._last_id)

    def on_answer(self, answer: Answered) -> str:
        """Take in an answer; the place it belongs to, empty where nobody waits for it."""
        place, _ = self._waiting.pop(answer.id, ("", 0))
        if place:
            self._messages[place] = message_of(answer)
        return place

    def on_tick(self, now_ns: int) -> None:
        """Give up what has not been answered in time."""
        late = [one for one, (_, at) in self._waiting.items() if now_ns - at > NO_ANSWER_NS]
        for one in late:
            place, _ = self._waiting.pop(one)
            self._messages[place] = Message(say("no_answer"), MessageTone.BAD)

    def waits(self, place: str) -> bool:
        """Whether an answer for this place is still to come."""
        return any(where == place for where, _ in self._waiting.values())

    def message(self, place: str) -> Message | None:
        """The newest message for this place."""
        return self._messages.get(place)

    def tell(self, place: str, message: Message) -> None:
        """Put a message of the screen's own there."""
        self._messages[place] = message

    def clear(self, place: str) -> None:
        """The message there has had its time."""
        self._messages.pop(place, None)


def message_of(answer: Answered) -> Message:
    """An answer in words: from which step it holds, or why not and what holds instead."""
    if answer.done:
        if answer.from_step is not None:
            return Message(say("in_force", step=answer.from_step), MessageTone.GOOD)
        return Message(say("done"), MessageTone.GOOD)
    target = answer.target
    if target is None:
        return Message(say("refused", why=answer.why), MessageTone.BAD)
    band = band_text(target.low, target.high, CATALOGUE[target.measure].decimals)
    text = say("refused_now", why=answer.why, band=band, unit=unit_text(target.unit))
    return Message(text, MessageTone.BAD)
