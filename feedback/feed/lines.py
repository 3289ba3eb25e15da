"""The lines of the feed: one JSON value each, versioned, without a name or a note.

``feed_lines.schema.json`` beside this file is their JSON Schema; a test holds it to these structs.
A program that reads them passes over lines and fields that it does not know: the version changes
only when a line or field that was there changes its meaning or goes.
"""

from __future__ import annotations

import math
from typing import Final

import msgspec

from feedback.journal.entries import (
    BlockEntry,
    CueEntry,
    Entry,
    EventEntry,
    MeasureEntry,
    PlayedEntry,
    ProblemEntry,
    SensorEntry,
    StateEntry,
    TargetEntry,
)
from shared.clock import ClockAnchor
from shared.flow import CueKind, EventKind, Pose, Side, View
from shared.sensor_values import SensorReading

VERSION: Final = 1


class BeginLine(msgspec.Struct, frozen=True, kw_only=True, tag_field="line", tag="begin"):
    """The first line to whoever joins: which run this is, and how its stamps are read."""

    version: int
    run: str
    """Names this session of the station; no name of a person."""
    view: View
    monotonic_ns: int
    """All stamps (``..._ns``) are integer nanoseconds of the station's monotonic clock; this one
    was read at ``wall_utc``."""
    wall_utc: str
    """ISO 8601, UTC."""


class MeasureLine(msgspec.Struct, frozen=True, kw_only=True, tag_field="line", tag="measure"):
    """One value of one measure of the catalogue."""

    name: str
    side: Side | None
    value: float
    unit: str
    uncertainty: float
    """Half width of the 90 % interval, in ``unit``."""
    quality: float
    """0 to 1."""
    steps: int
    """How many steps were averaged."""
    step_number: int
    at_ns: int
    captured_ns: int
    """Stamp of the frame at which it became known."""


class EventLine(msgspec.Struct, frozen=True, kw_only=True, tag_field="line", tag="event"):
    """A foot met or left the belt."""

    kind: EventKind
    side: Side | None
    quality: float
    uncertainty_ms: float
    at_ns: int
    captured_ns: int


class CueLine(msgspec.Struct, frozen=True, kw_only=True, tag_field="line", tag="cue"):
    """A cue was decided."""

    kind: CueKind
    measure: str | None
    side: Side | None
    sound: str
    step_number: int
    captured_ns: int
    decided_ns: int


class PlayedLine(msgspec.Struct, frozen=True, kw_only=True, tag_field="line", tag="played"):
    """A cue left the sound output."""

    kind: CueKind
    decided_ns: int
    sounded_ns: int


class StateLine(msgspec.Struct, frozen=True, kw_only=True, tag_field="line", tag="state"):
    """The session went into another state."""

    state: str
    reason: str | None
    at_ns: int


class ProblemLine(msgspec.Struct, frozen=True, kw_only=True, tag_field="line", tag="problem"):
    """A problem came up, or is over."""

    code: str
    over: bool
    at_ns: int


class BlockLine(msgspec.Struct, frozen=True, kw_only=True, tag_field="line", tag="block"):
    """A block of a drill began."""

    number: int
    count: int
    kind: str
    belt_speed_kmh: float | None
    at_ns: int


class TargetLine(msgspec.Struct, frozen=True, kw_only=True, tag_field="line", tag="target"):
    """A target was changed."""

    measure: str
    side: Side | None
    unit: str
    low: float | None
    high: float | None
    from_step: int
    at_ns: int


class SensorLine(msgspec.Struct, frozen=True, kw_only=True, tag_field="line", tag="sensor"):
    """A treadmill, strap or pod said something that differs from before, or after some seconds."""

    reading: SensorReading


class LandmarksLine(msgspec.Struct, frozen=True, kw_only=True, tag_field="line", tag="landmarks"):
    """The body in one frame; only where landmarks were asked for."""

    captured_ns: int
    points: tuple[tuple[float | None, float | None, float | None], ...]
    """Of each landmark, in the pose model's order: x and y as shares of the picture's width and
    height from its top left corner, and how well it is seen, 0 to 1; null where not known."""


class LostLine(msgspec.Struct, frozen=True, kw_only=True, tag_field="line", tag="lost"):
    """The reader was too slow: so many lines are missing here."""

    count: int


FeedLine = (
    BeginLine
    | MeasureLine
    | EventLine
    | CueLine
    | PlayedLine
    | StateLine
    | ProblemLine
    | BlockLine
    | TargetLine
    | SensorLine
    | LandmarksLine
    | LostLine
)
_ENCODER: Final = msgspec.json.Encoder()
_DECODER: Final = msgspec.json.Decoder(FeedLine)


def begin_line(run: str, view: View, anchor: ClockAnchor) -> BeginLine:
    """The first line of a run."""
    return BeginLine(
        version=VERSION,
        run=run,
        view=view,
        monotonic_ns=anchor.monotonic_ns,
        wall_utc=anchor.wall_utc,
    )


def feed_line(entry: Entry) -> FeedLine | None:
    """The line that tells of an entry of the journal; None for one that is for the record alone.

    Ratings and notes are the runner's and the clinician's, and stay there.
    """
    match entry:
        case MeasureEntry(measure=found):
            return msgspec.convert(found, MeasureLine, from_attributes=True)
        case EventEntry(event=event):
            return msgspec.convert(event, EventLine, from_attributes=True)
        case CueEntry(cue=cue):
            return msgspec.convert(cue, CueLine, from_attributes=True)
        case PlayedEntry(played=played):
            return msgspec.convert(played, PlayedLine, from_attributes=True)
        case StateEntry():
            return StateLine(state=entry.state, reason=entry.reason, at_ns=entry.at_ns)
        case ProblemEntry():
            return ProblemLine(code=entry.problem.code, over=entry.over, at_ns=entry.at_ns)
        case BlockEntry():
            return msgspec.convert(entry, BlockLine, from_attributes=True)
        case TargetEntry(target=target):
            return TargetLine(
                measure=target.measure,
                side=target.side,
                unit=target.unit,
                low=target.low,
                high=target.high,
                from_step=entry.from_step,
                at_ns=entry.at_ns,
            )
        case SensorEntry(reading=reading):
            return SensorLine(reading=reading)
        case _:
            return None


def landmarks_line(pose: Pose) -> LandmarksLine | None:
    """The body of one frame; None where nobody was found."""
    if not pose.people:
        return None
    return LandmarksLine(
        captured_ns=pose.captured_ns,
        points=tuple(
            (_share(x, pose.width_px), _share(y, pose.height_px), _share(seen, 1))
            for (x, y), seen in zip(pose.xy_px, pose.visibility, strict=True)
        ),
    )


def _share(value: float, whole: int) -> float | None:
    return None if math.isnan(value) else round(float(value) / whole, 5)


def encoded(line: FeedLine) -> bytes:
    """As one line of JSON, without its end."""
    return _ENCODER.encode(line)


def decoded(line: bytes) -> FeedLine:
    """A line read back. Raises msgspec.DecodeError."""
    read: FeedLine = _DECODER.decode(line)
    return read


def schema() -> bytes:
    """The JSON Schema of the lines, as the file beside this one holds it."""
    return msgspec.json.format(msgspec.json.encode(msgspec.json.schema(FeedLine)), indent=2) + b"\n"
