"""What clinicians change in mid-session, and what the station answers: parts of the messages."""

from __future__ import annotations

from typing import Annotated

import msgspec
from msgspec import Meta

from shared.flow import BandState, Side
from shared.language import Said, split
from shared.plain_text import keep_plain

MOST_NOTE_LETTERS: int = 500

Id = Annotated[int, Meta(ge=0, le=2**53)]
"""Number that the asker gives to what it asks; the answer carries it."""
Percent = Annotated[int, Meta(ge=10, le=100)]
Edge = Annotated[float, Meta(ge=-1e4, le=1e4)]


class TargetState(msgspec.Struct, frozen=True, kw_only=True):
    """One target as it holds now, and how far it may be moved now."""

    number: int
    """Of the target in its session, from 0."""
    revision: int
    """Counts the changes of this target, whoever made them; from 1."""
    measure: str
    side: Side | None
    unit: str
    low: float | None
    high: float | None
    beat_spm: float | None
    aim: float
    """What the target asks of the runner: the beat, the band's middle, or its only edge."""
    aim_least: float
    aim_most: float
    """The range in which the aim may lie after a change made now."""
    by_hand: bool
    """A clinician has changed it: the drill moves it no further."""
    can_undo: bool
    in_focus: bool
    """It is the one that is cued and shown to the runner."""
    value: float | None
    """Mean over its averaging window; None while nothing can be said."""
    state: BandState


class ChangeNote(msgspec.Struct, frozen=True, kw_only=True):
    """A change of a target, as it was made."""

    at_ns: int
    who: str
    number: int
    revision: int
    """That it led to."""
    measure: str
    side: Side | None
    unit: str
    old_low: float | None
    old_high: float | None
    low: float | None
    high: float | None
    beat_spm: float | None
    from_step: int
    """Number of the first step that it holds for."""


class Remark(msgspec.Struct, frozen=True, kw_only=True):
    """A clinician's note."""

    at_ns: int
    who: str
    text: str


class Adjust(msgspec.Struct, frozen=True, kw_only=True, tag="adjust"):
    """Move a target so that its aim becomes ``aim``; the band moves along and keeps its width."""

    id: Id
    number: Annotated[int, Meta(ge=0, le=15)]
    revision: Annotated[int, Meta(ge=0, le=2**31)]
    """The revision that the asker had before its eyes."""
    aim: Edge


class Undo(msgspec.Struct, frozen=True, kw_only=True, tag="undo"):
    """Take the last change of a target back."""

    id: Id
    number: Annotated[int, Meta(ge=0, le=15)]
    revision: Annotated[int, Meta(ge=0, le=2**31)]


class MoveBlock(msgspec.Struct, frozen=True, kw_only=True, tag="move_block"):
    """End the block that is on and begin another one of the drill."""

    id: Id
    now: Annotated[int, Meta(ge=1, le=1000)]
    """Number of the block that the asker believes to be on, from 1."""
    to: Annotated[int, Meta(ge=1, le=1000)]


class Note(msgspec.Struct, frozen=True, kw_only=True, tag="note"):
    """Put a note into the session's record."""

    id: Id
    text: Annotated[str, Meta(min_length=1, max_length=MOST_NOTE_LETTERS)]
    """One line; what cannot be seen is left out, so it may come to nothing."""

    def __post_init__(self) -> None:
        keep_plain(self, "text")


class SetVolume(msgspec.Struct, frozen=True, kw_only=True, tag="set_volume"):
    """Make what sounds from now on louder or softer, within the limits of the session."""

    id: Id
    percent: Percent
    """Of the loudest that the session allows; the tones of stop, fault and warning have a floor."""


class Answered(msgspec.Struct, frozen=True, kw_only=True, tag="answered"):
    """What came of a request with an id; sent to its asker alone."""

    id: int
    done: bool
    why: str = ""
    """Plain words, where it was not done."""
    said: tuple[Said | None, ...] = ()
    """What they were made of, for a screen in another language."""
    target: TargetState | None = None
    """The target as it holds now, where a target was asked for."""
    from_step: int | None = None
    """Number of the first step for which a change holds."""

    def __post_init__(self) -> None:
        """Worded in the language in use."""
        split(self, "why")
