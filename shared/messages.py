"""The messages between station and screens; one tagged union each way, versioned."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated

import msgspec
from msgspec import Meta

from shared.changes import (
    Adjust,
    Answered,
    ChangeNote,
    MoveBlock,
    Note,
    Remark,
    SetVolume,
    TargetState,
    Undo,
)
from shared.flow import BandState, CueKind, Side, View
from shared.language import Said, split
from shared.pictures import (
    AskReplay,
    CheckDone,
    CheckReport,
    Picture,
    ReplayEnd,
    ReplayPicture,
    SaveReplay,
    SetEdges,
    WatchPictures,
)
from shared.plain_text import keep_plain
from shared.problems import Problem
from shared.targets import BlockKind, Question

PROTOCOL: int = 3
LARGEST_MESSAGE_BYTES: int = 512 * 1024


class SessionState(StrEnum):
    """Where the session stands; ``stopped`` is final."""

    CAUTIONS = "cautions"
    """The cautions are not confirmed yet."""
    READY = "ready"
    RUNNING = "running"
    PAUSED = "paused"
    STOPPED = "stopped"


class Role(StrEnum):
    """What a screen is for, and so what it may ask for."""

    RUNNER = "runner"
    """Stands before the runner, at the station."""
    PANEL = "panel"
    """The clinician's, at the station itself."""
    CONSOLE = "console"
    """The clinician's, elsewhere; may stop and change, and never start anything."""
    SETUP = "setup"
    """The camera check, at the station."""


class StopReason(StrEnum):
    """Why a session ended."""

    RUNNER = "runner"
    """Asked for on the runner's screen."""
    HAND = "hand"
    """The runner held a hand over the head."""
    CONSOLE = "console"
    PAIN = "pain"
    """Pain was rated over its limit."""
    TIME = "time"
    FINISHED = "finished"
    """The video or the drill came to its end."""
    OUT_OF_PICTURE = "out_of_picture"
    FALL = "fall"
    """The hips went down and stayed down."""
    SAFETY_KEY = "safety_key"
    """The treadmill says that its safety key was pulled."""
    HEART_RATE = "heart_rate"
    """The heart rate stayed over its limit."""
    BELT_EDGE = "belt_edge"
    """The runner drifted to the rear edge of the belt."""
    SCREEN_LOST = "screen_lost"
    FAULT = "fault"
    QUIT = "quit"
    """The program was asked to end (Ctrl+C, closing)."""


class Reading(msgspec.Struct, frozen=True, kw_only=True):
    """The newest value of one measure, with its age."""

    name: str
    side: Side | None
    value: float
    unit: str
    uncertainty: float
    quality: float
    steps: int
    age_ms: float


class Focus(msgspec.Struct, frozen=True, kw_only=True):
    """The one target that the runner sees."""

    measure: str
    side: Side | None
    unit: str
    low: float | None
    high: float | None
    value: float | None
    """None while nothing can be said."""
    state: BandState
    words: str
    """Key of the line to show, in feedback.texts.runner; empty for none."""


class CueNote(msgspec.Struct, frozen=True, kw_only=True):
    """One line of the cue log."""

    kind: CueKind
    measure: str | None
    side: Side | None
    step_number: int
    at_ns: int
    latency_ms: float
    """Frame arrival to decision."""


class BlockNote(msgspec.Struct, frozen=True, kw_only=True):
    """The block of a drill that is under way."""

    number: int
    """From 1."""
    count: int
    kind: BlockKind
    line: str
    """Key of the line to show while nothing is cued, in feedback.texts.runner."""
    remaining_s: float | None = None
    """Until the block ends; None for a block that lasts for steps."""
    remaining_steps: int | None = None
    belt_speed_kmh: float | None = None
    """What the belt is to be set to; the program never sets it."""
    belt_changes: bool = False
    """The block has only just begun, and the belt is to be set anew."""


class SensorValue(msgspec.Struct, frozen=True, kw_only=True):
    """The newest value of a treadmill, strap or foot pod, shown beside what the camera measures."""

    name: str
    """``belt_speed``, ``incline``, ``heart_rate`` or ``pod_cadence``."""
    value: float | None
    """None while nothing is heard."""
    unit: str


class Snapshot(msgspec.Struct, frozen=True, kw_only=True, tag="snapshot"):
    """All that a screen needs to draw itself; each replaces the one before."""

    number: int
    at_ns: int
    state: SessionState
    stop_reason: StopReason | None
    view: View
    code_name: str
    focus: Focus | None
    readings: tuple[Reading, ...]
    problems: tuple[Problem, ...]
    cues: tuple[CueNote, ...]
    """The newest few, newest last."""
    elapsed_s: float
    remaining_s: float | None
    frames_per_s: float
    decision_ms: float | None
    """Frame arrival to decision, median of the last seconds."""
    sound_on: bool
    demo: bool
    saved: bool | None = None
    """After a stop: whether the session's record is safe on the disk; None while not known."""
    then: str = ""
    """After a stop: key of what follows by itself, in feedback.texts.runner; empty for nothing."""
    warning: str = ""
    """Key of a warning to show, in feedback.texts.runner; empty for none."""
    pain: int | None = None
    """As last rated, 0 to 10."""
    asked: Question | None = None
    """What the runner is asked to rate now."""
    block: BlockNote | None = None
    """Of the drill that is followed, if any."""
    step_number: int = 0
    """Of the newest step that was measured."""
    targets: tuple[TargetState, ...] = ()
    changes: tuple[ChangeNote, ...] = ()
    """The newest few changes of targets, newest last."""
    remarks: tuple[Remark, ...] = ()
    """The newest few notes, newest last."""
    consoles: tuple[str, ...] = ()
    """Names of the consoles that take part now."""
    sensors: tuple[SensorValue, ...] = ()
    """Of the sensors that were asked for."""
    volume_percent: int = 100
    """Of the loudest that the session allows, 10 to 100; what is asked for with SetVolume."""


class Own(msgspec.Struct, frozen=True, kw_only=True):
    """One measure of the runner's baseline."""

    name: str
    side: Side | None
    unit: str
    mean: float
    sd: float
    least_change: float
    """Smallest difference of one live value from the mean that is more than chance."""


class PlannedBlock(msgspec.Struct, frozen=True, kw_only=True):
    """One block of the drill that is followed."""

    kind: BlockKind
    minutes: float | None
    steps: int | None
    belt_speed_kmh: float
    cued: str
    """Measure that is cued; empty: nothing is."""


class Briefing(msgspec.Struct, frozen=True, kw_only=True, tag="briefing"):
    """What holds for the whole session; sent once, after the welcome."""

    run: str
    """Names this run of the station: points of two runs do not belong together."""
    code_name: str
    view: View
    belt_speed_kmh: float | None
    own: tuple[Own, ...]
    """The runner's baseline; empty where there is none."""
    blocks: tuple[PlannedBlock, ...]
    pain_stop_over: int


class Point(msgspec.Struct, frozen=True, array_like=True):
    """One value of a measure, for a chart."""

    number: int
    """Counts the points of a run, from 1, without gaps."""
    at_ns: int
    step_number: int
    name: str
    side: Side | None
    value: float
    unit: str
    percent_leg: float | None
    """The same length in % of leg length, for lengths given in cm."""
    uncertainty: float
    quality: float


class Points(msgspec.Struct, frozen=True, kw_only=True, tag="points"):
    """New values for the charts, oldest first; every screen but the runner's gets each once."""

    points: tuple[Point, ...]


class Welcome(msgspec.Struct, frozen=True, kw_only=True, tag="welcome"):
    """First answer of the station to a Hello that it accepts."""

    protocol: int
    station: str


class Refused(msgspec.Struct, frozen=True, kw_only=True, tag="refused"):
    """The station will not talk to this screen; the link is closed after it."""

    why: str
    said: tuple[Said | None, ...] = ()
    """What it was made of, for a screen in another language."""

    def __post_init__(self) -> None:
        """Worded in the language in use, as plain text."""
        split(self, "why")
        keep_plain(self, "why")


class Goodbye(msgspec.Struct, frozen=True, kw_only=True, tag="goodbye"):
    """The station is closing; the screen closes too."""

    why: str
    said: tuple[Said | None, ...] = ()
    """What it was made of, for a screen in another language."""

    def __post_init__(self) -> None:
        """Worded in the language in use, as plain text."""
        split(self, "why")
        keep_plain(self, "why")


class Hello(msgspec.Struct, frozen=True, kw_only=True, tag="hello"):
    """First message of a screen."""

    protocol: int
    token: Annotated[str, Meta(max_length=128)]
    """One-time token that the station gave to the screen it started."""
    role: Annotated[str, Meta(max_length=32)]
    """What kind of screen; one of Role."""
    run: Annotated[str, Meta(max_length=64)] = ""
    """The run whose points this screen has already; empty: none."""
    seen: Annotated[int, Meta(ge=0, le=2**53)] = 0
    """Number of the newest of those points: only later ones are sent."""


class Stop(msgspec.Struct, frozen=True, kw_only=True, tag="stop"):
    """Stop at once. Needs no state, no revision and no answer."""

    asked_ns: int
    """Monotonic stamp of the key press at the sender, for the journal."""


class Confirm(msgspec.Struct, frozen=True, kw_only=True, tag="confirm"):
    """The cautions have been read, and all of it seen to."""


class Pause(msgspec.Struct, frozen=True, kw_only=True, tag="pause"):
    """Rest for a while: no cue and no beat until GoOn."""


class GoOn(msgspec.Struct, frozen=True, kw_only=True, tag="go_on"):
    """End a pause."""


class Rating(msgspec.Struct, frozen=True, kw_only=True, tag="rating"):
    """What the runner feels, asked for or not."""

    what: Question
    value: Annotated[int, Meta(ge=0, le=10)]


class Ping(msgspec.Struct, frozen=True, kw_only=True, tag="ping"):
    """Sign of life of a screen, at least every 500 ms."""

    at_ns: int


FromStation = (
    Welcome
    | Refused
    | Briefing
    | Snapshot
    | Points
    | Picture
    | ReplayPicture
    | ReplayEnd
    | CheckReport
    | Answered
    | Goodbye
)
SessionRequest = Confirm | Pause | GoOn | Rating | Adjust | Undo | MoveBlock | Note | SetVolume
"""Goes to the session."""
PictureRequest = WatchPictures | AskReplay | SaveReplay | SetEdges | CheckDone
"""Goes to who looks after the pictures."""
Request = SessionRequest | PictureRequest
"""What a screen asks for beside Stop; which role may ask for which: feedback.link.protocol."""
FromScreen = Hello | Stop | Ping | Request
