"""The values that flow from picture to cue; each carries the stamp of the frame it came from."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import msgspec
import numpy as np
from numpy.typing import NDArray

from shared.language import mark, told
from shared.problems import Problem

FloatArray = NDArray[np.float64]


class Side(StrEnum):
    """The runner's own left and right."""

    LEFT = "left"
    RIGHT = "right"

    @property
    def other(self) -> Side:
        """The opposite side."""
        return Side.RIGHT if self is Side.LEFT else Side.LEFT


class View(StrEnum):
    """Where the camera stands, seen from the runner."""

    SIDE = "side"
    BEHIND = "behind"
    FRONT = "front"

    @property
    def spoken(self) -> str:
        """As said after "from"."""
        return told(_SPOKEN[self])


_SPOKEN: Final = {
    View.SIDE: mark("the side"),
    View.BEHIND: mark("behind"),
    View.FRONT: mark("the front"),
}


class EventKind(StrEnum):
    """Gait events of one foot."""

    CONTACT = "contact"
    TOE_OFF = "toe_off"


@dataclass(frozen=True, slots=True, eq=False)
class Frame:
    """One picture as it arrived."""

    image: NDArray[np.uint8]
    """(height, width, 3), blue-green-red."""
    captured_ns: int
    index: int
    """Counts the frames of one source; a gap means dropped frames."""


@dataclass(frozen=True, slots=True, eq=False)
class Pose:
    """The landmarks of one frame; ``xy_px`` is all NaN and ``people`` 0 when nobody was found."""

    captured_ns: int
    index: int
    width_px: int
    height_px: int
    xy_px: FloatArray
    """(33, 2) picture coordinates in pixels: x to the right, y down. NaN where unknown."""
    visibility: FloatArray
    """(33,) the model's own belief, 0 to 1, that a landmark can be seen."""
    people: int
    """How many people are known to be in the picture (0, 1, or 2 for more than one)."""


class GaitEvent(msgspec.Struct, frozen=True, kw_only=True):
    """A foot meets or leaves the belt."""

    kind: EventKind
    side: Side | None
    """None where it cannot be told which foot it is."""
    at_ns: int
    """When it happened; interpolated between frames."""
    captured_ns: int
    """Stamp of the frame at which it became known."""
    quality: float
    """0 to 1."""
    uncertainty_ms: float
    """Half width of the 90 % interval of ``at_ns``."""


class Measure(msgspec.Struct, frozen=True, kw_only=True):
    """One value of one catalogue measure, for one step or a short run of steps."""

    name: str
    """A name in shared.catalogue."""
    side: Side | None
    """None for what has no side, and where it cannot be told which side it is."""
    value: float
    unit: str
    """One of the units that the catalogue allows for this measure."""
    uncertainty: float
    """Half width of the 90 % interval, in ``unit``."""
    quality: float
    """0 to 1; under the catalogue's floor nothing is cued from it."""
    steps: int
    """How many steps were averaged; 1 for a single step."""
    step_number: int
    """Counts the steps (contacts of either foot) since the pipeline began."""
    at_ns: int
    """The instant that the value describes."""
    captured_ns: int
    """Stamp of the frame at which it became known."""
    percent_leg: float | None = None
    """The same length in % of leg length, for lengths given in cm."""


class BandState(StrEnum):
    """Where a judged value lies."""

    UNKNOWN = "unknown"
    BELOW = "below"
    INSIDE = "inside"
    ABOVE = "above"


class Judgement(msgspec.Struct, frozen=True, kw_only=True):
    """A target's verdict on the recent steps."""

    measure: str
    side: Side | None
    state: BandState
    value: float
    """Mean over the averaging window, in ``unit``."""
    unit: str
    error: float
    """Distance outside the band, signed (+ above, - below), 0 inside."""
    steps: int
    """How many steps stand behind ``value``."""
    step_number: int
    at_ns: int
    captured_ns: int


class CueKind(StrEnum):
    """What a cue is for; one row each in feedback.cueing.cue_table."""

    BEAT = "beat"
    OUT_OF_BAND = "out_of_band"
    BACK_IN_BAND = "back_in_band"
    REMINDER = "reminder"
    STOP = "stop"
    FAULT = "fault"
    WARNING = "warning"


class Cue(msgspec.Struct, frozen=True, kw_only=True):
    """A decision to sound or show something."""

    kind: CueKind
    measure: str | None
    side: Side | None
    sound: str
    """Key of the sound in feedback.cueing.cue_table; empty for a cue that is only shown."""
    words: str
    """Key of the text in feedback.texts.runner; empty for none."""
    step_number: int
    captured_ns: int
    """Stamp of the frame behind the decision."""
    decided_ns: int


class Played(msgspec.Struct, frozen=True, kw_only=True):
    """A cue left the computer's sound output (or would have, with no device)."""

    kind: CueKind
    captured_ns: int
    decided_ns: int
    sounded_ns: int
    """When the first sample was handed over, plus the output latency the driver states."""


class Update(msgspec.Struct, frozen=True, kw_only=True):
    """All that one frame brought to light; the pipeline's whole output."""

    captured_ns: int
    index: int
    events: tuple[GaitEvent, ...]
    measures: tuple[Measure, ...]
    doubts: tuple[str, ...]
    """Problem codes (shared.problems) that forbid cues now; empty when all is well."""
    quality: float
    """0 to 1, of this frame's body as a whole."""
    unmeasured: tuple[Problem, ...] = ()
    """Why no step is measured although somebody moves, the likeliest reason first; empty when
    steps are measured, or nobody moves."""
    sides_sure: bool = True
    """Whether left and right can be told apart; if not, events and measures carry no side."""


class Body(msgspec.Struct, frozen=True, kw_only=True):
    """What one frame shows of the runner as a whole, for the limits that end a session."""

    captured_ns: int
    present: bool
    """Somebody is seen."""
    hand_up: bool
    """A hand is over the head."""
    hips_up: float | None
    """How high mid-hips are, in leg lengths; about 0.9 while running, None while not known."""
    place: float | None
    """Where the runner is along the belt, as the picture shows it; None while not known.

    From the side: x of mid-hips, 0 at the picture's left edge, 1 at its right. From behind and
    in front: length of the trunk, share of the picture's height.
    """
    camera_moved: bool
    """The camera was moved and has not stood still for long enough since."""
    camera_elsewhere: bool
    """The camera does not stand where it stood first."""
