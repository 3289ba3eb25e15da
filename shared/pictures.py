"""Pictures and checks that travel from the station to a screen: parts of the messages."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated

import msgspec
from msgspec import Meta

from shared.flow import EventKind, Side, View


class Mark(msgspec.Struct, frozen=True, array_like=True):
    """A foot met or left the belt."""

    kind: EventKind
    side: Side
    at_ns: int


class Picture(msgspec.Struct, frozen=True, kw_only=True, tag="picture"):
    """One picture of the camera, small enough to travel, with what was found in it."""

    captured_ns: int
    width_px: int
    height_px: int
    """Of the JPEG picture."""
    jpeg: bytes
    xy: tuple[float, ...]
    """Landmark by landmark x, y as shares of the picture's width and height (66 values); empty
    where nobody was found. NaN never travels: an unknown landmark is -1, -1."""
    marks: tuple[Mark, ...] = ()
    """Contacts and toe-offs of the last two seconds."""


class ReplayPicture(msgspec.Struct, frozen=True, kw_only=True, tag="replay_picture"):
    """One picture of a replay that was asked for; they come in order, oldest first."""

    id: int
    number: int
    """From 0."""
    count: int
    """How many the replay has in all."""
    picture: Picture


class ReplayEnd(msgspec.Struct, frozen=True, kw_only=True, tag="replay_end"):
    """All pictures of a replay were sent, or there are none."""

    id: int
    count: int
    marks: tuple[Mark, ...]
    """All contacts and toe-offs from the first picture to the last."""


class CheckState(StrEnum):
    """How one check of the camera's place stands."""

    PASS = "pass"  # noqa: S105 - not a password
    TO_DO = "to_do"
    UNKNOWN = "unknown"
    """Nothing can be said yet."""


class Check(msgspec.Struct, frozen=True, kw_only=True):
    """One check of the camera and its place."""

    key: str
    """What is checked; a key of feedback.texts.runner."""
    standing: CheckState
    advice: str = ""
    """Key of what to do, in feedback.texts.runner; empty when all is well."""
    value: float | None = None
    unit: str = ""


class BeltEdges(msgspec.Struct, frozen=True, kw_only=True):
    """The belt's rear and front edge as shares of the picture (feedback.safety.hazards.Edges)."""

    rear: Annotated[float, Meta(gt=0, le=1)]
    front: Annotated[float, Meta(gt=0, le=1)]


class CheckReport(msgspec.Struct, frozen=True, kw_only=True, tag="check_report"):
    """How all checks stand; each report replaces the one before."""

    number: int
    at_ns: int
    view: View
    checks: tuple[Check, ...]
    all_pass: bool
    held_s: float
    """How long all of them have passed without a break."""
    edges: BeltEdges | None = None
    remembered: bool = False
    """The camera stands as it did when this place was last kept."""


class SetEdges(msgspec.Struct, frozen=True, kw_only=True, tag="set_edges"):
    """The belt's edges as they were drawn in the picture; None: drifting is not watched."""

    edges: BeltEdges | None


class CheckDone(msgspec.Struct, frozen=True, kw_only=True, tag="check_done"):
    """The camera check is over: go on with this place, or leave it."""

    accepted: bool


class WatchPictures(msgspec.Struct, frozen=True, kw_only=True, tag="watch_pictures"):
    """Send the camera's pictures to this screen, at most so many a second; 0: no more."""

    most_per_s: Annotated[float, Meta(ge=0, le=30)]


class AskReplay(msgspec.Struct, frozen=True, kw_only=True, tag="ask_replay"):
    """Send the pictures of the last seconds, and hold them until they are let go of.

    0 seconds: send no more of one that is under way, and let go of the one with this ``id``.
    """

    id: Annotated[int, Meta(ge=0, le=2**53)]
    seconds: Annotated[float, Meta(ge=0, le=20)]


class SaveReplay(msgspec.Struct, frozen=True, kw_only=True, tag="save_replay"):
    """Keep a replay that was sent, as a video beside the session's record, at the station."""

    id: Annotated[int, Meta(ge=0, le=2**53)]
    replay: Annotated[int, Meta(ge=0, le=2**53)]
    """The ``id`` with which it was asked for: what was seen is what is kept."""
