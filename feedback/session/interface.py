"""What the session takes in beside frames, and what it hands out: the seam to the shell (pure)."""

from __future__ import annotations

from enum import StrEnum

import msgspec

from feedback.journal.entries import Entry
from feedback.safety.rules import By
from shared.changes import Adjust, Answered, MoveBlock, Note, SetVolume, Undo
from shared.flow import Cue
from shared.messages import StopReason
from shared.problems import Problem
from shared.sensor_values import SensorReading
from shared.targets import Question


class Confirm(msgspec.Struct, frozen=True, kw_only=True):
    """The cautions were read and seen to."""

    by: By = By.STATION
    source: str = "station"


class Start(msgspec.Struct, frozen=True, kw_only=True):
    """Begin to judge and cue: a deliberate act at the station. A stopped session ignores it."""

    by: By = By.STATION
    source: str = "station"


class Pause(msgspec.Struct, frozen=True, kw_only=True):
    """Neither judge nor cue until told to go on."""

    by: By
    source: str


class GoOn(msgspec.Struct, frozen=True, kw_only=True):
    """End a pause."""

    by: By
    source: str


class Ask(msgspec.Struct, frozen=True, kw_only=True):
    """Ask the runner to rate something, in any state but STOPPED."""

    what: Question


class Rated(msgspec.Struct, frozen=True, kw_only=True):
    """The runner has rated something, 0 to 10, asked or not; pain over its limit is a stop."""

    what: Question
    value: int
    source: str


class Sensed(msgspec.Struct, frozen=True, kw_only=True):
    """A sensor said something."""

    reading: SensorReading


class StopAsked(msgspec.Struct, frozen=True, kw_only=True):
    """End the session, whatever its state."""

    reason: StopReason
    source: str
    asked_ns: int | None = None
    """When the key was pressed, where known."""


class Change(msgspec.Struct, frozen=True, kw_only=True):
    """A clinician asks for something that is answered."""

    asked: Adjust | Undo | MoveBlock | Note | SetVolume
    source: str
    """Who asks, in words for the record."""
    asker: int
    """Where the answer goes; a number of the link's."""


Command = Confirm | Start | Pause | GoOn | Ask | Rated | Change | Sensed | StopAsked


class CaptureState(StrEnum):
    """What the capture says of itself."""

    OPENING = "opening"
    RUNNING = "running"
    LOST = "lost"
    ENDED = "ended"
    FAILED = "failed"


class Facts(msgspec.Struct, frozen=True, kw_only=True):
    """What the shell knows at a tick and the frames do not tell."""

    capture: CaptureState = CaptureState.RUNNING
    problems: tuple[Problem, ...] = ()
    """Of the capture, the sound, the journal and the threads; the gravest first."""
    screen_gone: str = ""
    """Role of a screen with a Stop control that has gone; empty while none has."""
    frames_per_s: float = 0.0
    sound_on: bool = False
    picture_kmh: float | None = None
    """The belt's speed as the picture shows it; None while or where it cannot."""


def reason_to_stop(facts: Facts) -> tuple[StopReason, str] | None:
    """What of the facts ends a session, and where it lies; None when nothing does."""
    if facts.screen_gone:
        return StopReason.SCREEN_LOST, f"{facts.screen_gone} screen"
    if facts.capture is CaptureState.FAILED:
        return StopReason.FAULT, "capture"
    if facts.capture is CaptureState.ENDED:
        return StopReason.FINISHED, "capture"
    return None


class Outputs(msgspec.Struct, frozen=True, kw_only=True):
    """What the shell has to do now."""

    cues: tuple[Cue, ...] = ()
    """Coaching cues; none in any doubt."""
    warning: Cue | None = None
    """A warning to sound, whatever the state of the picture."""
    beat_spm: float | None = None
    """The beat to keep from now on; None for silence."""
    stop: StopReason | None = None
    """Set once, at the moment the session stops."""
    volume_percent: int | None = None
    """The volume to play at from now on; None: as before."""
    journal: tuple[Entry, ...] = ()
    answer: tuple[int, Answered] | None = None
    """What came of a change, and where the answer goes."""
