"""The pages that lead a runner through a session at home, and what is answered to them (pure).

They travel as lines of JSON between the program and the window that shows them: nothing is timed
there, and no session is held, so they need no link.
"""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated

import msgspec
from msgspec import Meta

from shared.plain_text import plain_message


class Told(msgspec.Struct, frozen=True, kw_only=True, tag="told"):
    """Something to read, and a button to go on."""

    heading: str
    texts: tuple[str, ...]
    step: str = ""
    """Where this is on the way, such as "2 of 5"."""
    picture: str = ""
    """Name of the one that stands beside the words, of feedback.screens.widgets.pictures."""
    path: str = ""
    """A file that the page is about; its folder can be opened."""
    last: bool = False
    """The button closes."""
    back: bool = False
    """The page before can be gone back to."""


class YesNo(msgspec.Struct, frozen=True, kw_only=True, tag="yes_no"):
    """A question with two answers."""

    heading: str
    text: str
    step: str = ""
    picture: str = ""


class RatingScale(msgspec.Struct, frozen=True, kw_only=True, tag="scale"):
    """A rating from 0 to 10."""

    heading: str
    low: str
    """What 0 means."""
    high: str
    """What 10 means."""
    step: str = ""
    picture: str = "scale"
    safety: bool = False
    """Left out by a key of its own alone, never by Esc."""


class Busy(msgspec.Struct, frozen=True, kw_only=True, tag="busy"):
    """Something takes a while."""

    heading: str
    text: str = ""
    done: int = 0
    total: int = 0
    """0: it is not known how much there is."""
    step: str = ""
    picture: str = "runner"
    can_cancel: bool = False


Page = Told | YesNo | RatingScale | Busy


class Shown(msgspec.Struct, frozen=True, kw_only=True):
    """One line to the window."""

    number: int
    page: Page


class What(StrEnum):
    """How a page was answered."""

    NEXT = "next"
    YES = "yes"
    NO = "no"
    BACK = "back"
    VALUE = "value"
    SKIPPED = "skipped"
    """Left out on purpose."""
    LEFT = "left"
    """The person leaves; also what a closed window says."""


class Reply(msgspec.Struct, frozen=True, kw_only=True):
    """One line from the window."""

    number: int
    """Of the page that it answers."""
    what: What
    value: Annotated[int, Meta(ge=0, le=10)] | None = None


_TO: msgspec.json.Decoder[Shown] = msgspec.json.Decoder(Shown)
_FROM: msgspec.json.Decoder[Reply] = msgspec.json.Decoder(Reply)


def line_of(message: Shown | Reply) -> bytes:
    """A message as one line."""
    return msgspec.json.encode(message) + b"\n"


def shown_of(line: bytes) -> Shown | None:
    """What the program asks to show; None for a line that is not one of ours."""
    try:
        shown = _TO.decode(line)
    except (msgspec.MsgspecError, UnicodeDecodeError):
        return None
    plain_message(shown)
    return shown


def reply_of(line: bytes) -> Reply | None:
    """What the window answers; None for a line that is not one of ours."""
    try:
        return _FROM.decode(line)
    except (msgspec.MsgspecError, UnicodeDecodeError):
        return None
