"""What a station is told to hold, and what it tells of how it went."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from feedback.feed.station_end import Feed
from feedback.link.network_station import Network
from feedback.safety.hazards import Edges
from feedback.screens.widgets.launch import ScreenProcess
from feedback.session.track_file import Track
from feedback.sound.speaker import AnySpeaker
from feedback.station.worker import WorkCounts
from feedback.terminal.output import lost_output
from feedback.training.course import Course
from live.camera.sources import FrameSource
from live.pose.model import PoseModel
from live.scene.background import Backdrop
from shared.flow import View
from shared.messages import StopReason
from shared.own_values import Baseline
from shared.problems import Problem
from shared.sensor_values import SensorKind
from shared.targets import Athlete

SpawnScreen = Callable[[int, str], ScreenProcess]
"""Starts a screen that joins at this port with this token."""


@dataclass(frozen=True)
class StationSetup:
    """What a session is made of. The station closes source, model and speaker."""

    athlete: Athlete
    view: View
    source: FrameSource
    model: PoseModel
    speaker: AnySpeaker
    spawn_screen: SpawnScreen | None
    """None: no screen of its own; screens may still join with a token."""
    time_limit_s: float | None = None
    demo: bool = False
    start_at_once: bool = False
    cautions: bool = False
    """The cautions are still to be confirmed, on the runner's screen."""
    edges: Edges | None = None
    """The belt's edges in the picture; None: drifting back is not watched."""
    backdrop: Backdrop | None = None
    """The room as it was when ``edges`` were drawn, if that was before; a camera that stands
    elsewhere now makes them void. None: they are for the camera as it stands at the start."""
    course: Course | None = None
    """A drill or a baseline that the session follows; None: the athlete's targets throughout."""
    track: Track | None = None
    """Where landmarks are put down too; None: nowhere. The station closes it."""
    spawn_panel: SpawnScreen | None = None
    """Starts the clinician's panel; None: there is none. The session goes on without it."""
    keep_pictures: bool = False
    """Keep the last seconds of pictures in memory, for those who may ask for them."""
    network: Network | None = None
    """Lets paired consoles take part; None: nothing listens there. The station closes it."""
    sensors: Mapping[SensorKind, str] = field(default_factory=dict)
    """Names of the treadmill, strap and pod to listen to."""
    feed: Feed | None = None
    """Tells other programs of this computer what is measured; the station closes it."""
    baseline: Baseline | None = None
    """The runner's own values, for panels and consoles; None while they are not known."""
    record: Path | None = None
    """The session's journal, beside which a replay is kept on purpose; None: nowhere."""
    linger_s: float | None = None
    """How long the stopped screen stays; None: until it is closed there."""
    then: str = ""
    """What follows by itself once the time is over: its key in feedback.texts.runner."""
    hand_over: Callable[[], None] | None = None
    """Begins what follows. Called while the end still stands on the screen, with sound, camera and
    model let go of; not where somebody stopped the session or closed the screen."""
    kept: bool = True
    """Whether the journal is a record to be told of; False: nobody is to look for it."""
    late: bool = False
    """Take notes and ratings after the end too, until the station is closed."""
    lost_output: Callable[[], int | None] = lost_output
    """Whether what the program says can reach nobody any more, which ends the session."""


@dataclass(frozen=True)
class SessionOutcome:
    """How a session ended."""

    reason: StopReason
    signal_number: int | None
    """The signal that ended it, or the one that the loss of stdout stands for; also one that came
    after its end and asks the program to go. Nothing more is to be asked or written then."""
    problem: Problem | None
    """What went wrong, when the reason is a fault."""
    saved: bool | None
    """Whether the record is on the disk; None when none was wanted."""
    save_problem: Problem | None
    tally: WorkCounts
    dropped: int
    """Frames that were replaced by a newer one before they could be measured."""
