"""A session that is put down to be measured anew, and the measuring anew."""

from __future__ import annotations

from collections.abc import Iterator

from feedback.journal.entries import Entry, LostEntry
from feedback.safety.hazards import Edges
from feedback.session.interface import Command, Facts, Outputs
from feedback.session.session import Session
from feedback.session.track_file import (
    BaselineSetUp,
    BeltLine,
    BodyLine,
    CommandLine,
    DrillSetUp,
    HipsLine,
    Line,
    PoseLine,
    ShoeLine,
    TickLine,
    Track,
    TrackHeader,
    TrackRead,
    UpdateLine,
    unpack,
)
from feedback.training.baseline import BaselineRun
from feedback.training.course import Course
from feedback.training.drill import DrillRun
from live.measures.belt_speed import Spot
from live.pipeline import Pipeline, Setup
from shared.flow import Body, Pose, Update, View
from shared.targets import Athlete


class TrackedPipeline(Pipeline):
    """A pipeline that puts down all that it is told."""

    def __init__(self, setup: Setup, track: Track) -> None:
        super().__init__(setup)
        self._track = track

    def update(self, pose: Pose) -> Update:
        """Put the pose down, then take it in."""
        self._track.pose(pose)
        return super().update(pose)

    def shoe_went(self, spot: Spot, way_px: float) -> None:
        """Put it down, then take it in."""
        self._track.write(ShoeLine(way_px=way_px))
        super().shoe_went(spot, way_px)

    def hips_went(self, way_px: float) -> None:
        """Put it down, then take it in."""
        self._track.write(HipsLine(way_px=way_px))
        super().hips_went(way_px)

    def belt_runs(self, speed_mps: float) -> None:
        """Put it down, then take it in."""
        self._track.write(BeltLine(speed_mps=speed_mps))
        super().belt_runs(speed_mps)


class TrackedSession(Session):
    """A session that puts down all that it is told."""

    def __init__(
        self,
        track: Track,
        athlete: Athlete,
        view: View,
        demo: bool = False,
        time_limit_s: float | None = None,
        cautions: bool = False,
        edges: Edges | None = None,
        course: Course | None = None,
    ) -> None:
        super().__init__(athlete, view, demo, time_limit_s, cautions, edges, course)
        self._track = track

    def on_body(self, body: Body, now_ns: int) -> Outputs:
        """As in a session, and put down."""
        self._track.write(BodyLine(body=body, now_ns=now_ns))
        return super().on_body(body, now_ns)

    def on_update(self, update: Update, now_ns: int) -> Outputs:
        """As in a session, and put down; the update itself follows from the pose."""
        self._track.write(UpdateLine(now_ns=now_ns))
        return super().on_update(update, now_ns)

    def on_tick(self, now_ns: int, facts: Facts) -> Outputs:
        """As in a session, and put down."""
        self._track.tick(now_ns, facts)
        return super().on_tick(now_ns, facts)

    def on_command(self, command: Command, now_ns: int) -> Outputs:
        """As in a session, and put down."""
        self._track.command(command, now_ns)
        return super().on_command(command, now_ns)


def make_pipeline(track: Track | None, setup: Setup) -> Pipeline:
    """A pipeline that goes to the track, where there is one."""
    return Pipeline(setup) if track is None else TrackedPipeline(setup, track)


def make_session(
    track: Track | None,
    athlete: Athlete,
    view: View,
    demo: bool,
    time_limit_s: float | None,
    cautions: bool,
    edges: Edges | None,
    course: Course | None,
) -> Session:
    """A session that goes to the track, where there is one."""
    set_up = (athlete, view, demo, time_limit_s, cautions, edges, course)
    return Session(*set_up) if track is None else TrackedSession(track, *set_up)


def course_again(header: TrackHeader) -> Course | None:
    """The course from its start, as it was for the session; None where there was none."""
    given = header.session.prescription
    match header.course:
        case DrillSetUp(blocks=blocks, levels=levels, shorten=shorten) if given is not None:
            return DrillRun(blocks, given.goals, given.drill, given.limits, levels, shorten)
        case BaselineSetUp(steps=steps, belt_speed_kmh=speed_kmh):
            return BaselineRun(steps, speed_kmh)
    return None


class Again:
    """Measures a session anew from its track, through the same pipeline, session and course."""

    def __init__(self, track: TrackRead) -> None:
        self._lines = track.lines
        header = track.header.session
        athlete = header.athlete
        setup = Setup(
            view=header.view,
            height_m=athlete.height_cm / 100,
            belt_speed_mps=athlete.belt_speed_mps,
        )
        self._pipeline = Pipeline(setup)
        self._session = Session(
            athlete,
            header.view,
            header.demo,
            track.header.time_limit_s,
            track.header.cautions,
            track.header.edges,
            course_again(track.header),
        )
        self._facts = Facts()
        self._update: Update | None = None

    def entries(self) -> Iterator[Entry]:
        """What goes into the journal, in the order of the session; the summary is left out."""
        for line in self._lines:
            yield from self._tell(line).journal

    def _tell(self, line: Line) -> Outputs:
        match line:
            case PoseLine():
                self._update = self._pipeline.update(unpack(line))
            case ShoeLine(way_px=way_px):
                spot = self._pipeline.standing_shoe()
                if spot is not None:
                    self._pipeline.shoe_went(spot, way_px)
            case HipsLine(way_px=way_px):
                self._pipeline.hips_went(way_px)
            case BeltLine(speed_mps=speed_mps):
                self._pipeline.belt_runs(speed_mps)
            case BodyLine(body=body, now_ns=now_ns):
                return self._session.on_body(body, now_ns)
            case UpdateLine(now_ns=now_ns):
                if self._update is not None:
                    return self._session.on_update(self._update, now_ns)
            case TickLine(now_ns=now_ns, facts=facts):
                self._facts = self._facts if facts is None else facts
                return self._session.on_tick(now_ns, self._facts)
            case CommandLine(now_ns=now_ns, command=command):
                return self._session.on_command(command, now_ns)
            case LostEntry():
                raise ValueError("a track with gaps cannot be measured again")
        return Outputs()
