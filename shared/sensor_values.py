"""What a treadmill, a heart rate strap or a foot pod says of itself; values only, never orders."""

from __future__ import annotations

from enum import StrEnum

import msgspec


class SensorKind(StrEnum):
    """What can be listened to."""

    TREADMILL = "treadmill"
    HEART_STRAP = "heart_strap"
    FOOT_POD = "foot_pod"


class MachineState(StrEnum):
    """What a treadmill says has just happened to it."""

    RESET = "reset"
    STOPPED = "stopped"
    PAUSED = "paused"
    SAFETY_KEY = "safety_key"
    """The safety key was pulled."""
    STARTED = "started"
    TARGET_SPEED = "target_speed"
    TARGET_INCLINE = "target_incline"
    CONTROL_LOST = "control_lost"
    OTHER = "other"


class BeltReading(msgspec.Struct, frozen=True, kw_only=True, tag_field="reading", tag="belt"):
    """How the belt runs, by the machine itself; None: it does not say."""

    at_ns: int
    """When it arrived, by the station's monotonic clock."""
    speed_kmh: float | None = None
    incline_percent: float | None = None


class MachineReading(msgspec.Struct, frozen=True, kw_only=True, tag_field="reading", tag="machine"):
    """The machine tells what happened to it."""

    at_ns: int
    state: MachineState


class HeartReading(msgspec.Struct, frozen=True, kw_only=True, tag_field="reading", tag="heart"):
    """The heart rate, by a strap on the skin."""

    at_ns: int
    rate_bpm: int


class PodReading(msgspec.Struct, frozen=True, kw_only=True, tag_field="reading", tag="pod"):
    """A second opinion on the cadence, by a foot pod; shown beside ours, never mixed into it."""

    at_ns: int
    cadence_spm: int | None
    """Steps a minute; None where it cannot be told whether steps or strides were sent."""
    speed_mps: float


class LinkReading(msgspec.Struct, frozen=True, kw_only=True, tag_field="reading", tag="link"):
    """A sensor was reached, was lost, or cannot be found."""

    at_ns: int
    sensor: SensorKind
    reached: bool
    name: str = ""
    why: str = ""
    """For the journal; not shown."""


SensorReading = BeltReading | MachineReading | HeartReading | PodReading | LinkReading
