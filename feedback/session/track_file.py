"""The landmark track: all that a session was told, so that it can be measured anew later.

A file of its own beside the journal, only written when asked for: landmarks and times, no
picture. Lines are as in the journal (JSON, the last one may be torn).
"""

from __future__ import annotations

import zlib
from pathlib import Path
from typing import Any, Final, cast

import msgspec
import numpy as np

from feedback.journal.entries import LostEntry
from feedback.journal.writer import Header, LineWriter, read_lines
from feedback.safety.hazards import Edges
from feedback.session import interface
from feedback.session.interface import Command, Facts
from feedback.training.drill import RunBlock
from shared.flow import Body, FloatArray, Pose
from shared.landmarks import LANDMARK_COUNT
from shared.problems import UserError

FORMAT: Final = 4
"""In 2 there are lines of the shoe, in 3 of the hips, in 4 of the belt; else it is as in 1."""
SUFFIX: Final = ".track"
_COMMANDS: Final[dict[str, type[Command]]] = {
    kind.__name__: kind
    for kind in (
        interface.Change,
        interface.Confirm,
        interface.Start,
        interface.Pause,
        interface.GoOn,
        interface.Ask,
        interface.Rated,
        interface.Sensed,
        interface.StopAsked,
    )
}


class DrillSetUp(msgspec.Struct, frozen=True, kw_only=True, tag_field="course", tag="drill"):
    """The way through a drill, beside what the session's prescription says."""

    blocks: tuple[RunBlock, ...]
    levels: dict[str, int]
    shorten: float


class BaselineSetUp(msgspec.Struct, frozen=True, kw_only=True, tag_field="course", tag="baseline"):
    """How a baseline was taken."""

    steps: int
    belt_speed_kmh: float


class TrackHeader(msgspec.Struct, frozen=True, kw_only=True, tag_field="entry", tag="header"):
    """First line of a track: how the session was set up."""

    format: int = FORMAT
    session: Header
    time_limit_s: float | None = None
    cautions: bool = False
    edges: Edges | None = None
    course: DrillSetUp | BaselineSetUp | None = None
    """What the session followed, where it followed something."""


class PoseLine(msgspec.Struct, frozen=True, kw_only=True, tag_field="entry", tag="pose"):
    """One frame's landmarks, bit for bit; see :func:`pack` and :func:`unpack`."""

    captured_ns: int
    index: int
    size_px: tuple[int, int]
    """Width, height."""
    people: int
    landmarks: bytes


class ShoeLine(msgspec.Struct, frozen=True, kw_only=True, tag_field="entry", tag="shoe"):
    """How far the standing shoe went to the newest pose's picture from the one before, px."""

    way_px: float


class HipsLine(msgspec.Struct, frozen=True, kw_only=True, tag_field="entry", tag="hips"):
    """How far the hips went sideways to the newest pose's picture from the one before, px."""

    way_px: float


class BeltLine(msgspec.Struct, frozen=True, kw_only=True, tag_field="entry", tag="belt"):
    """The machine told the belt's speed."""

    speed_mps: float


class BodyLine(msgspec.Struct, frozen=True, kw_only=True, tag_field="entry", tag="body"):
    """What the frame showed of the body as a whole, and when the session was told."""

    body: Body
    now_ns: int


class UpdateLine(msgspec.Struct, frozen=True, kw_only=True, tag_field="entry", tag="update"):
    """The session was told what the newest pose brought to light."""

    now_ns: int


class TickLine(msgspec.Struct, frozen=True, kw_only=True, tag_field="entry", tag="tick"):
    """The session was made to look at the clock."""

    now_ns: int
    facts: Facts | None
    """None: the same as at the tick before."""


class CommandLine(msgspec.Struct, frozen=True, kw_only=True, tag_field="entry", tag="command"):
    """The session was told to do something."""

    now_ns: int
    name: str
    fields: dict[str, Any]

    @property
    def command(self) -> Command:
        """The command as it was given."""
        return msgspec.convert(self.fields, _COMMANDS[self.name])


Line = (
    PoseLine
    | ShoeLine
    | HipsLine
    | BeltLine
    | BodyLine
    | UpdateLine
    | TickLine
    | CommandLine
    | LostEntry
)
LINES: Final[msgspec.json.Decoder[Line]] = msgspec.json.Decoder(Line)


class Track(LineWriter[Line]):
    """Writes a track while its session runs."""

    def __init__(self, path: Path, header: TrackHeader) -> None:
        super().__init__(path, header)
        self._facts: Facts | None = None

    def pose(self, pose: Pose) -> None:
        """Put down a frame's landmarks."""
        line = PoseLine(
            captured_ns=pose.captured_ns,
            index=pose.index,
            size_px=(pose.width_px, pose.height_px),
            people=pose.people,
            landmarks=pack(pose),
        )
        self.write(line)

    def tick(self, now_ns: int, facts: Facts) -> None:
        """Put down a look at the clock."""
        self.write(TickLine(now_ns=now_ns, facts=None if facts == self._facts else facts))
        self._facts = facts

    def command(self, command: Command, now_ns: int) -> None:
        """Put down a command."""
        fields = cast("dict[str, Any]", msgspec.to_builtins(command))
        self.write(CommandLine(now_ns=now_ns, name=type(command).__name__, fields=fields))


def pack(pose: Pose) -> bytes:
    """The landmarks as (33, 3) little-endian doubles: x, y in px, visibility; compressed."""
    rows = np.column_stack([pose.xy_px, pose.visibility]).astype("<f8")
    # Byte by byte of all numbers in turn: the bytes that are alike then lie together.
    return zlib.compress(rows.view(np.uint8).reshape(-1, 8).T.tobytes(), 1)


def unpack(line: PoseLine) -> Pose:
    """The pose as it was."""
    # No more than there should be: a few bytes may stand for millions.
    packed = zlib.decompressobj().decompress(line.landmarks, LANDMARK_COUNT * 3 * 8 + 1)
    planes = np.frombuffer(packed, np.uint8).reshape(8, -1)
    rows: FloatArray = np.ascontiguousarray(planes.T).view("<f8").reshape(LANDMARK_COUNT, 3)
    return Pose(
        captured_ns=line.captured_ns,
        index=line.index,
        width_px=line.size_px[0],
        height_px=line.size_px[1],
        xy_px=rows[:, :2].astype(np.float64),
        visibility=rows[:, 2].astype(np.float64),
        people=line.people,
    )


class TrackRead(msgspec.Struct, frozen=True, kw_only=True):
    """A track as read back."""

    header: TrackHeader
    lines: tuple[Line, ...]
    torn: bool


def read_track(path: Path) -> TrackRead:
    """Read a track; a last line that was cut off is left out.

    Raises UserError: ``file_missing``, or ``file_unreadable`` when it is no track, of another
    format, damaged, or has lines missing in its middle, so that it cannot be measured anew.
    """
    header, lines, torn = read_lines(path, TrackHeader, LINES, "the landmark track of a session")
    if not 1 <= header.format <= FORMAT:
        why = f"it is of format {header.format}, and this version reads format {FORMAT}"
        raise UserError("file_unreadable", path=str(path), why=why)
    if any(isinstance(line, LostEntry) for line in lines):
        why = "the disk was too slow: parts of the track are missing"
        raise UserError("file_unreadable", path=str(path), why=why)
    return TrackRead(header=header, lines=lines, torn=torn)
