"""The landmark track of sessions that follow a drill or a baseline: the same once more."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest

from feedback.journal.entries import BlockEntry, CueEntry, Entry, RatingEntry, TargetEntry
from feedback.journal.writer import Header, Journal, limits_in_force, read_journal, versions
from feedback.safety.rules import By
from feedback.session.interface import Command, Facts, GoOn, Pause, Rated, Start, StopAsked
from feedback.session.track_file import BaselineSetUp, DrillSetUp, Track, TrackHeader, read_track
from feedback.station.tracked import Again, TrackedPipeline, TrackedSession
from feedback.training.baseline import BaselineRun
from feedback.training.course import Course
from feedback.training.drill import DrillRun, lay_out
from feedback.training.goals import as_athlete
from live.pipeline import Setup
from shared.clock import ClockAnchor
from shared.flow import Body, Pose, View
from shared.messages import StopReason
from shared.targets import Prescription, Question
from tests.feedback.training.making import block, cadence_aim, drill, prescription, strike_aim
from tests.live.virtual_runner import Spoil, take
from tests.rendered.params import RunnerParams

MS = 1_000_000
SECONDS = 30.0
SHORTEN = 30.0


def poses() -> list[Pose]:
    params = RunnerParams(start_s=0.0, cadence_spm=160.0)
    return take(params, View.SIDE, SECONDS, spoil=Spoil(noise_px=1.5, seed=5)).poses


def prescribed() -> Prescription:
    ask = (Question.PAIN, Question.EFFORT)
    blocks = (
        block("warm_up", 2.0),
        block("cued", 5.0, ask=ask),
        block("uncued", 1.5),
        block("cued", 4.0),
        block("cool_down", 1.0),
    )
    return prescription(
        drill(cadence_aim(), strike_aim(), blocks=blocks, turn_min=3.0, ramp_every_min=1.0)
    )


def header(given: Prescription) -> Header:
    return Header(
        versions=versions(),
        anchor=ClockAnchor(0, "2025-03-04T05:06:07.000000+00:00"),
        source="a made-up runner",
        view=View.SIDE,
        athlete=as_athlete(given),
        athlete_text="",
        limits=limits_in_force(given.limits, 60.0),
        prescription=given,
    )


def body(captured_ns: int) -> Body:
    return Body(
        captured_ns=captured_ns,
        present=True,
        hand_up=False,
        hips_up=1.0,
        place=0.5,
        camera_moved=False,
        camera_elsewhere=False,
    )


def hold(
    folder: Path, course: Course, set_up: DrillSetUp | BaselineSetUp, commands: dict[int, Command]
) -> tuple[Path, Path]:
    """Hold a session; ``commands`` are given before the frame of that number."""
    head = header(prescribed())
    journal = Journal(folder / "one.jsonl", head)
    track = Track(folder / "one.track", TrackHeader(session=head, time_limit_s=60.0, course=set_up))
    speed = head.athlete.belt_speed_mps
    pipeline = TrackedPipeline(Setup(view=View.SIDE, height_m=1.66, belt_speed_mps=speed), track)
    session = TrackedSession(track, head.athlete, View.SIDE, time_limit_s=60.0, course=course)

    def put(entries: tuple[Entry, ...]) -> None:
        for entry in entries:
            journal.write(entry)

    put(session.on_command(Start(), 4_990 * MS).journal)
    facts = Facts(frames_per_s=30.0, sound_on=True)
    now_ns = 0
    for number, pose in enumerate(poses()):
        now_ns = pose.captured_ns + (20 + number % 7) * MS
        if number in commands:
            put(session.on_command(commands[number], now_ns - MS).journal)
        update = pipeline.update(pose)
        put(session.on_body(body(pose.captured_ns), now_ns).journal)
        put(session.on_update(update, now_ns).journal)
        put(session.on_tick(now_ns + 300_000, facts).journal)
    stop = StopAsked(reason=StopReason.RUNNER, source="the runner's screen", asked_ns=now_ns)
    put(session.on_command(stop, now_ns + MS).journal)
    journal.close()
    track.close()
    assert (journal.problem(), track.problem()) == (None, None)
    return journal.path, track.path


@pytest.fixture(scope="module")
def drilled(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    given = prescribed()
    set_up = DrillSetUp(
        blocks=lay_out(given.drill, given.belt_speed_kmh, shorten=SHORTEN),
        levels={},
        shorten=SHORTEN,
    )
    course = DrillRun(
        set_up.blocks, given.goals, given.drill, given.limits, set_up.levels, set_up.shorten
    )
    rated = Rated(what=Question.PAIN, value=1, source="the runner's screen")
    effort = Rated(what=Question.EFFORT, value=4, source="the runner's screen")
    commands: dict[int, Command] = {
        450: rated,
        470: effort,
        500: Pause(by=By.SCREEN, source="the runner's screen"),
        530: GoOn(by=By.SCREEN, source="the runner's screen"),
    }
    return hold(tmp_path_factory.mktemp("drilled"), course, set_up, commands)


def test_a_drill_measured_anew_gives_the_same_blocks_targets_and_cues(
    drilled: tuple[Path, Path],
) -> None:
    before = read_journal(drilled[0]).entries
    assert tuple(Again(read_track(drilled[1])).entries()) == before
    kinds = [type(entry) for entry in before]
    assert kinds.count(BlockEntry) >= 5
    assert kinds.count(TargetEntry) >= 1
    assert kinds.count(RatingEntry) == 2
    assert kinds.count(CueEntry) >= 2


def test_a_drill_begun_further_up_its_ramp_is_another_session(drilled: tuple[Path, Path]) -> None:
    # The test above must be able to fail: the way through the drill is taken from the track.
    track = read_track(drilled[1])
    set_up = track.header.course
    assert isinstance(set_up, DrillSetUp)
    later = msgspec.structs.replace(set_up, levels={"steps": 1})
    head = msgspec.structs.replace(track.header, course=later)
    other = msgspec.structs.replace(track, header=head)
    assert tuple(Again(other).entries()) != read_journal(drilled[0]).entries


def test_a_baseline_measured_anew_ends_at_the_same_step(tmp_path: Path) -> None:
    set_up = BaselineSetUp(steps=60, belt_speed_kmh=10.1)
    course = BaselineRun(set_up.steps, set_up.belt_speed_kmh)
    journal, path = hold(tmp_path, course, set_up, {})
    before = read_journal(journal).entries
    assert tuple(Again(read_track(path)).entries()) == before
    assert course.taker.steps >= set_up.steps
