"""What the session takes in beside frames, and what it hands out: the seam to the shell (pure)."""

from __future__ import annotations

from enum import StrEnum

import msgspec

from feedback.records.entries import Entry
from shared.messages import StopReason
from shared.problems import Problem
from shared.records import Cue


class Start(msgspec.Struct, frozen=True, kw_only=True):
    """Begin to judge and cue: a deliberate act at the station. A stopped session ignores it."""

    source: str = "station"


class StopAsked(msgspec.Struct, frozen=True, kw_only=True):
    """End the session, whatever its state."""

    reason: StopReason
    source: str
    asked_ns: int | None = None
    """When the key was pressed, where known."""


Command = Start | StopAsked


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


class Outputs(msgspec.Struct, frozen=True, kw_only=True):
    """What the shell has to do now."""

    cues: tuple[Cue, ...] = ()
    beat_spm: float | None = None
    """The beat to keep from now on; None for silence."""
    stop: StopReason | None = None
    """Set once, at the moment the session stops."""
    journal: tuple[Entry, ...] = ()
