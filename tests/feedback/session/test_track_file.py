"""The landmark track: a session measured anew from it gives the same events and cues."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from feedback.journal.entries import CueEntry, Entry, EventEntry, JudgementEntry, MeasureEntry
from feedback.journal.writer import Header, Journal, limits_in_force, read_journal, versions
from feedback.session.interface import CaptureState, Facts, Start, StopAsked
from feedback.session.track_file import (
    HipsLine,
    PoseLine,
    ShoeLine,
    Track,
    TrackHeader,
    read_track,
    unpack,
)
from feedback.station.tracked import Again, TrackedPipeline, TrackedSession
from live.pipeline import Setup
from shared.clock import ClockAnchor
from shared.flow import Body, Pose, View
from shared.landmarks import Landmark as Lm
from shared.messages import StopReason
from shared.problems import UserError, describe
from shared.targets import Athlete, Limits, Target
from tests.live.virtual_runner import Spoil, take
from tests.rendered.params import RunnerParams

MS = 1_000_000
HIPS = [Lm.LEFT_HIP, Lm.RIGHT_HIP]
SECONDS = 10.0
STRIKE = Target(measure="strike_ahead", unit="cm", high=18.0, average_steps=4, hysteresis=1.0)
CADENCE = Target(measure="cadence", unit="steps/min", low=172.0, high=182.0, beat_spm=177.0)
SHIFT = Target(measure="pelvic_shift", unit="cm", high=1.0, average_steps=4, hysteresis=0.2)
RUNNERS = {
    View.SIDE: Athlete(
        code_name="Wren", height_cm=166.0, targets=(STRIKE, CADENCE), view=View.SIDE
    ),
    View.BEHIND: Athlete(
        code_name="Wren", height_cm=166.0, targets=(SHIFT, CADENCE), view=View.BEHIND
    ),
}


def header(view: View) -> Header:
    return Header(
        versions=versions(),
        anchor=ClockAnchor(0, "2025-03-04T05:06:07.000000+00:00"),
        source="a made-up runner",
        view=view,
        athlete=RUNNERS[view],
        athlete_text="",
        limits=limits_in_force(Limits(), 60.0),
    )


def poses(view: View) -> list[Pose]:
    params = RunnerParams(start_s=0.0, cadence_spm=160.0)
    return take(params, view, SECONDS, spoil=Spoil(noise_px=1.5, seed=3)).poses


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


@pytest.fixture(scope="module")
def held(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """A session from the side, with a track."""
    return hold(tmp_path_factory.mktemp("held"), View.SIDE)


@pytest.fixture(scope="module")
def held_behind(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """One from behind."""
    return hold(tmp_path_factory.mktemp("held"), View.BEHIND)


def hold(folder: Path, view: View) -> tuple[Path, Path]:
    """Hold one: decisions, ticks and commands at moments of their own."""
    journal = Journal(folder / "one.jsonl", header(view))
    track = Track(folder / "one.track", TrackHeader(session=header(view), time_limit_s=60.0))
    runner = RUNNERS[view]
    pipeline = TrackedPipeline(
        Setup(view=view, height_m=1.66, belt_speed_mps=runner.belt_speed_mps), track
    )
    session = TrackedSession(track, runner, view, time_limit_s=60.0)
    rng = np.random.default_rng(11)
    hips_px = 0.0

    def put(entries: tuple[Entry, ...]) -> None:
        for entry in entries:
            journal.write(entry)

    put(session.on_command(Start(), 4_990 * MS).journal)
    for number, pose in enumerate(poses(view)):
        update = pipeline.update(pose)
        now_ns = pose.captured_ns + int(rng.integers(15 * MS, 60 * MS))
        put(session.on_body(body(pose.captured_ns), now_ns).journal)
        put(session.on_update(update, now_ns).journal)
        lost = 200 <= number < 212
        problems = (describe("picture_lost", seconds=1),) if lost else ()
        capture = CaptureState.LOST if lost else CaptureState.RUNNING
        facts = Facts(capture=capture, problems=problems, frames_per_s=30.0, sound_on=True)
        put(session.on_tick(now_ns + 300_000, facts).journal)
        spot = pipeline.standing_shoe()
        if spot is not None:
            pipeline.shoe_went(spot, 0.97 * spot.way_px)
        if pipeline.last_two_ns() is not None:
            pipeline.hips_went(1.2 * (float(pose.xy_px[HIPS, 0].mean()) - hips_px))
        hips_px = float(pose.xy_px[HIPS, 0].mean())
        last_ns = now_ns
    stop = StopAsked(reason=StopReason.RUNNER, source="the runner's screen", asked_ns=last_ns)
    put(session.on_command(stop, last_ns + MS).journal)
    journal.close()
    track.close()
    assert (journal.problem(), track.problem()) == (None, None)
    return journal.path, track.path


def test_a_session_measured_anew_gives_the_same_events_and_cues(held: tuple[Path, Path]) -> None:
    journal, track = held
    before = read_journal(journal).entries
    again = tuple(Again(read_track(track)).entries())
    assert again == before
    kinds = [type(entry) for entry in before]
    assert kinds.count(EventEntry) > 20
    assert kinds.count(MeasureEntry) > 60
    assert kinds.count(JudgementEntry) > 15
    assert kinds.count(CueEntry) >= 1


def test_another_time_of_one_frame_gives_another_session(held: tuple[Path, Path]) -> None:
    # The test above must be able to fail: a frame that came 8 ms later is enough.
    journal, path = held
    track = read_track(path)
    lines = list(track.lines)
    where = next(n for n, line in enumerate(lines) if isinstance(line, PoseLine) and n > 600)
    line = lines[where]
    assert isinstance(line, PoseLine)
    lines[where] = PoseLine(
        captured_ns=line.captured_ns + 8 * MS,
        index=line.index,
        size_px=line.size_px,
        people=line.people,
        landmarks=line.landmarks,
    )
    changed = type(track)(header=track.header, lines=tuple(lines), torn=False)
    assert tuple(Again(changed).entries()) != read_journal(journal).entries


def test_the_shoes_are_part_of_what_is_measured_anew(held: tuple[Path, Path]) -> None:
    track = read_track(held[1])
    lines = [line for line in track.lines if not isinstance(line, ShoeLine)]
    assert len(track.lines) - len(lines) > 20
    without = type(track)(header=track.header, lines=tuple(lines), torn=False)
    assert tuple(Again(without).entries()) != read_journal(held[0]).entries


def test_the_hips_are_part_of_what_is_measured_anew(held_behind: tuple[Path, Path]) -> None:
    journal, track = read_journal(held_behind[0]), read_track(held_behind[1])
    assert tuple(Again(track).entries()) == journal.entries
    lines = [line for line in track.lines if not isinstance(line, HipsLine)]
    assert len(track.lines) - len(lines) > 250
    without = type(track)(header=track.header, lines=tuple(lines), torn=False)
    assert tuple(Again(without).entries()) != journal.entries


def test_tracks_of_before_are_read_and_one_of_later_is_not(
    held: tuple[Path, Path], tmp_path: Path
) -> None:
    first, rest = held[1].read_bytes().split(b"\n", 1)
    assert b'"format":4' in first
    for number, readable in ((b"1", True), (b"2", True), (b"3", True), (b"5", False)):
        path = tmp_path / f"{number.decode()}.track"
        path.write_bytes(first.replace(b'"format":4', b'"format":' + number, 1) + b"\n" + rest)
        if readable:
            assert read_track(path).lines == read_track(held[1]).lines
        else:
            with pytest.raises(UserError, match="of format 5"):
                read_track(path)


def test_landmarks_come_back_bit_for_bit(held: tuple[Path, Path]) -> None:
    lines = [line for line in read_track(held[1]).lines if isinstance(line, PoseLine)]
    for line, pose in zip(lines, poses(View.SIDE), strict=True):
        back = unpack(line)
        assert back.xy_px.tobytes() == pose.xy_px.tobytes()
        assert back.visibility.tobytes() == pose.visibility.tobytes()
        assert (back.captured_ns, back.index, back.people) == (
            pose.captured_ns,
            pose.index,
            pose.people,
        )


def test_half_an_hour_of_track_stays_under_sixty_megabytes(held: tuple[Path, Path]) -> None:
    # The worst case: every bit of a made-up landmark is noise; the model gives single floats.

    assert held[1].stat().st_size / SECONDS * 1800 < 60e6


def test_a_torn_track_is_read_up_to_the_tear(held: tuple[Path, Path], tmp_path: Path) -> None:
    content = held[1].read_bytes()
    torn = tmp_path / "torn.track"
    torn.write_bytes(content[: len(content) * 2 // 3])
    whole, part = read_track(held[1]), read_track(torn)
    assert part.torn
    assert part.lines == whole.lines[: len(part.lines)]
    before = read_journal(held[0]).entries
    again = tuple(Again(part).entries())
    assert again == before[: len(again)]
    assert len(again) > 30


def test_a_journal_is_no_track_and_a_track_no_journal(held: tuple[Path, Path]) -> None:
    with pytest.raises(UserError, match="not the landmark track"):
        read_track(held[0])
    with pytest.raises(UserError, match="not the record"):
        read_journal(held[1])
