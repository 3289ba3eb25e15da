"""The work thread: frame to pose to measure to cue; owns all the session's state."""

from __future__ import annotations

import threading
import traceback
from collections import deque
from collections.abc import Callable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field
from typing import Final

import msgspec

from feedback.journal.entries import Entry, NoteEntry, PlayedEntry, ProblemEntry, StateEntry
from feedback.journal.writer import Journal
from feedback.session.interface import (
    CaptureState,
    Command,
    Facts,
    Outputs,
    Sensed,
    Start,
    StopAsked,
)
from feedback.session.session import Session
from feedback.sound.speaker import AnySpeaker, SilentSpeaker
from feedback.station.chart_numbers import Charting
from feedback.station.frame_pacing import CameraRate, FramePacing
from feedback.station.replay_buffer import ReplayBuffer
from feedback.station.stop_latch import StopLatch
from feedback.texts.runner import answer as answer_text
from feedback.training.counting import SessionMeans
from live.camera.capture import Capture
from live.pipeline import Pipeline
from live.pixel_watch import PictureWatch, keep_of
from live.pose.model import PoseModel
from live.scene.body_state import BodyState
from shared.changes import Answered
from shared.clock import now_ns
from shared.cores import Reserve
from shared.flow import CueKind, EventKind, Frame, Measure, Pose
from shared.mailbox import Latest
from shared.messages import Point, SessionState, Snapshot, StopReason
from shared.problems import Problem, describe
from shared.sensor_values import BeltReading, SensorReading
from shared.units import NS_PER_S

_WAKE_S: Final = 0.1
_PUBLISH_EVERY_NS: Final = 100_000_000
_DECISIONS_KEPT: Final = 36_000
"""Twenty minutes at 30 frames a second."""
_TELL_NO_SIDES_NS: Final = 5 * NS_PER_S
FIRST_STEPS: Final = 4
"""So many contacts without a doubt show that the runner is running."""


@dataclass
class Parts:
    """What the work thread works with; opened and closed by the station."""

    mailbox: Latest[Frame]
    capture: Capture
    model: PoseModel
    lookout: BodyState
    pipeline: Pipeline
    session: Session
    means: SessionMeans
    speaker: AnySpeaker
    journal: Journal | None
    publish: Callable[[Snapshot], None]
    add_points: Callable[[tuple[Point, ...]], None]
    answer: Callable[[int, Answered], None]
    consoles: Callable[[], tuple[str, ...]]
    """Names of the consoles that take part."""
    gallery: ReplayBuffer | None
    """Keeps the last pictures; None where nobody could ask for them."""
    other_problems: Callable[[], tuple[Problem, ...]]
    """Problems of the parts that other threads look after (the link)."""
    reserve: Reserve
    """The processor that the thread takes, if one is kept for it."""
    watch: Callable[[Entry], None] | None = None
    """Told of every entry, in the work thread: must return at once."""
    show_pose: Callable[[Pose], None] | None = None
    """Handed every frame's body once its cues are out; must return at once."""


@dataclass
class WorkCounts:
    """What the work thread counts for the end of the session."""

    frames: int = 0
    decisions_ns: deque[int] = field(default_factory=lambda: deque(maxlen=_DECISIONS_KEPT))
    """Frame arrival to all that follows from it decided and handed on, one a frame."""
    inference_ns: deque[int] = field(default_factory=lambda: deque(maxlen=_DECISIONS_KEPT))
    """The pose model's share of it."""
    cues: dict[CueKind, int] = field(default_factory=dict)
    measures: tuple[Measure, ...] = ()
    standing: bool | None = None
    """Whether the runner was seen standing still; None while nothing was measured."""
    unmeasured: tuple[Problem, ...] = ()
    """Why no value came at all, the likeliest reason first."""
    problem: Problem | None = None
    """Set when the thread failed."""


class Worker:
    """Runs until the session has stopped, whatever happens; never dies unseen.

    ``start_at_once`` begins the session with the first frame; else it begins when the runner's
    first steps have been seen.
    """

    def __init__(self, parts: Parts, latch: StopLatch, start_at_once: bool) -> None:
        self._parts = parts
        self._latch = latch
        self._start_at_once = start_at_once
        self._commands: deque[Command] = deque()
        self._first_steps = 0
        self._charting = Charting()
        self._pace = FramePacing()
        self._camera_rate = CameraRate()
        self._pictures = PictureWatch(parts.pipeline)
        self._published_ns = 0
        self._no_sides_ns: int | None = None
        """Since when steps are measured, and nobody can say which foot it is."""
        self._beat_spm: float | None = None
        self.tally = WorkCounts()
        self.started = False
        self.ended = threading.Event()
        self.last_snapshot: Snapshot | None = None
        self.awake_ns = now_ns()
        """When the thread last came round; read by the station's watch over it."""
        self._aside = ThreadPoolExecutor(1, thread_name_prefix="aside")
        self._settling: Future[None]
        self._thread = threading.Thread(target=self._run, name="work", daemon=True)

    def start(self) -> None:
        """Begin."""
        self.started = True
        self.awake_ns = now_ns()  # the screen before it may have taken its time to open
        # Begun by this thread, so that it keeps off the processor for the measuring as this does.
        self._settling = self._aside.submit(_nothing)
        self._thread.start()

    def ask(self, command: Command) -> None:
        """Have the session do this when the thread next comes round; from any thread."""
        self._commands.append(command)
        self._parts.mailbox.wake()  # an answer does not wait for the next frame

    def left(self) -> list[Command]:
        """What was asked and not seen to, once the thread has ended; each is given once."""
        commands = []
        while self._commands:
            commands.append(self._commands.popleft())
        return commands

    def _run(self) -> None:
        self._parts.reserve.put_first([threading.get_native_id()])
        try:
            while self._parts.session.state is not SessionState.STOPPED:
                self._come_round()
        except Exception as error:  # noqa: BLE001 - the guard of this thread
            self._fail(error)
        finally:
            self._aside.shutdown(wait=False)
            self.ended.set()

    def _come_round(self) -> None:
        """Wait for a frame for a moment; do what it calls for, and what the clock calls for."""
        frame = self._newest()
        self._sign_of_life()
        while self._commands:
            command = self._commands.popleft()
            if isinstance(command, Sensed):
                self._set_belt(command.reading)
            self._act(self._parts.session.on_command(command, now_ns()))
        asked = self._latch.asked
        if asked is not None:
            self._act(self._parts.session.on_command(asked, now_ns()))
        elif frame is not None:
            self._take_in(frame)
            self._sign_of_life()
        at_ns = now_ns()
        self._act(self._parts.session.on_tick(at_ns, self._facts()))
        for played in self._parts.speaker.drain_played():
            self._write(PlayedEntry(played=played))
        if at_ns - self._published_ns >= _PUBLISH_EVERY_NS:
            self._publish()

    def _set_belt(self, reading: SensorReading) -> None:
        """The machine's own belt speed takes the place of the one that was typed."""
        if isinstance(reading, BeltReading) and reading.speed_kmh is not None:
            self._parts.pipeline.belt_runs(reading.speed_kmh / 3.6)

    def _sign_of_life(self) -> None:
        self.awake_ns = now_ns()
        self._parts.speaker.heartbeat(self.awake_ns)

    def _newest(self) -> Frame | None:
        """The next frame, or the one after where that is worth waiting for; None if none came."""
        mailbox = self._parts.mailbox
        frame = mailbox.take(_WAKE_S)
        if frame is None:
            return None
        wait_ns = self._pace.wait_ns(now_ns() - frame.captured_ns)
        return mailbox.take_newer(frame, wait_ns / NS_PER_S) if wait_ns else frame

    def _take_in(self, frame: Frame) -> None:
        parts, tally = self._parts, self.tally
        before_ns = now_ns()
        pose = parts.model.detect(frame)
        tally.inference_ns.append(now_ns() - before_ns)
        self._settling.result()
        self._act(parts.session.on_body(parts.lookout.see(frame, pose), now_ns()))
        update = parts.pipeline.update(pose)
        if parts.session.state is SessionState.READY:
            if not update.doubts:
                self._first_steps += sum(e.kind is EventKind.CONTACT for e in update.events)
            if self._start_at_once or self._first_steps >= FIRST_STEPS:
                self._act(parts.session.on_command(Start(), now_ns()))
        if update.sides_sure or not update.quality:
            self._no_sides_ns = None
        elif self._no_sides_ns is None:
            self._no_sides_ns = frame.captured_ns
        outputs = parts.session.on_update(update, now_ns())
        self._act(outputs)
        if parts.show_pose is not None:
            parts.show_pose(pose)
        tally.frames += 1
        tally.decisions_ns.append(now_ns() - frame.captured_ns)
        parts.model.settle()
        self._pictures.see(keep_of(frame, pose, parts.pipeline.view))
        if parts.gallery is not None:
            parts.gallery.add(frame, parts.pipeline.named(pose), update.events)
        if update.measures:
            parts.add_points(self._charting.take(update.measures))
        if parts.pipeline.unsettled or parts.lookout.unsettled:
            self._settling = self._aside.submit(self._settle)
        self._pace.measured(frame.captured_ns, frame.index, now_ns() - before_ns)

    def _settle(self) -> None:
        """What can wait, done while the next frame's landmarks are found."""
        self._parts.pipeline.settle()
        self._parts.lookout.settle()

    def _act(self, outputs: Outputs) -> None:
        """Do what the session says; sound first."""
        speaker = self._parts.speaker
        if any(map(_sets_off, outputs.journal)):
            speaker.begin_softly()
        if outputs.stop is not None:
            speaker.stop(announce=True)
        if outputs.volume_percent is not None:
            speaker.set_volume_percent(outputs.volume_percent)
        warning = () if outputs.warning is None else (outputs.warning,)
        for cue in (*warning, *outputs.cues):
            speaker.play(cue)
            self.tally.cues[cue.kind] = self.tally.cues.get(cue.kind, 0) + 1
        if outputs.beat_spm != self._beat_spm:
            speaker.set_beat(outputs.beat_spm)
            self._beat_spm = outputs.beat_spm
        for entry in outputs.journal:
            self._write(entry)
        if outputs.answer is not None:
            self._answer(*outputs.answer, outputs.journal)
            self._publish()
        if outputs.stop is not None:
            self._settling.result()
            self.tally.measures = self._parts.means.means()
            self.tally.unmeasured = self._parts.pipeline.why_unmeasured
            if self.tally.measures:
                self.tally.standing = self._parts.pipeline.standing is not None
        if outputs.cues or warning or outputs.stop is not None:
            self._publish()

    def _answer(self, connection: int, answer: Answered, entries: Sequence[Entry]) -> None:
        """Answer at once; that a note is kept only once the disk has it."""
        parts = self._parts
        if parts.journal is None or not any(isinstance(entry, NoteEntry) for entry in entries):
            parts.answer(connection, answer)
            return
        lost = msgspec.structs.replace(answer, done=False, why=answer_text("answer_note_lost"))
        parts.journal.when_safe(
            lambda is_safe: parts.answer(connection, answer if is_safe else lost)
        )

    def _write(self, entry: Entry) -> None:
        self._parts.means.take(entry)
        if self._parts.journal is not None:
            self._parts.journal.write(entry)
        if self._parts.watch is not None:
            self._parts.watch(entry)

    def _publish(self) -> None:
        self._published_ns = now_ns()
        snapshot = self._parts.session.snapshot(self._published_ns)
        self.last_snapshot = msgspec.structs.replace(
            snapshot,
            problems=(*self.tally.unmeasured, *snapshot.problems),
            consoles=self._parts.consoles(),
            volume_percent=self._parts.speaker.volume_percent,
        )
        self._parts.publish(self.last_snapshot)

    def _facts(self) -> Facts:
        status = self._parts.capture.status()
        speaker = self._parts.speaker
        found = [status.problem, speaker.problem(), self._parts.model.problem()]
        found += self._parts.other_problems()
        running = CaptureState(status.state) is CaptureState.RUNNING
        self._camera_rate.add(status.frames_per_s if running else None, now_ns())
        low = self._camera_rate.low_per_s
        if low is not None:
            found.append(describe("frame_rate_low", fps=f"{low:.1f}" if low < 1.5 else round(low)))
        if self._no_sides_ns is not None and now_ns() - self._no_sides_ns > _TELL_NO_SIDES_NS:
            found.append(describe("sides_not_known"))
        if self._parts.journal is not None:
            found.append(self._parts.journal.problem())
        sound_on = not isinstance(speaker, SilentSpeaker) and speaker.problem() is None
        capture = CaptureState(status.state)
        if capture is CaptureState.ENDED and self._parts.mailbox.unread:
            capture = CaptureState.RUNNING  # the last frame is still to be measured
        return Facts(
            capture=capture,
            problems=tuple(problem for problem in found if problem is not None),
            frames_per_s=status.frames_per_s,
            sound_on=sound_on,
            picture_kmh=self._parts.pipeline.belt_seen_kmh,
        )

    def _fail(self, error: Exception) -> None:
        """Silence first; then end the session, with every step allowed to fail by itself."""
        details = "".join(traceback.format_exception(error))
        problem = describe("worker_failed", details=details, part="measuring")
        self.tally.problem = problem
        self._parts.speaker.stop(announce=True)
        at_ns = now_ns()
        stop = StopAsked(reason=StopReason.FAULT, source="a failure while measuring")
        state = StateEntry(
            at_ns=at_ns, state=SessionState.STOPPED, reason=stop.reason, source=stop.source
        )
        steps: tuple[Callable[[], None], ...] = (
            lambda: self._write(ProblemEntry(at_ns=at_ns, problem=problem, over=False)),
            lambda: self._write(state),
            lambda: self._end_failed(stop, problem),
        )
        for step in steps:
            try:
                step()
            except Exception as another:  # noqa: BLE001 - keep going: the rest matters more
                more = "".join(traceback.format_exception(another))
                self.tally.problem = msgspec.structs.replace(problem, details=details + more)

    def _end_failed(self, stop: StopAsked, problem: Problem) -> None:
        """Stop the session and show why; what the session itself says may be beside the point."""
        self._parts.session.on_command(stop, now_ns())
        snapshot = self._parts.session.snapshot(now_ns())
        shown = (problem, *snapshot.problems)
        self.last_snapshot = msgspec.structs.replace(
            snapshot, problems=shown, focus=None, readings=()
        )
        self._parts.publish(self.last_snapshot)


def _nothing() -> None:
    """Begin a thread."""


def _sets_off(entry: Entry) -> bool:
    """Whether the session has begun to run, for the first time or after a pause."""
    return isinstance(entry, StateEntry) and entry.state is SessionState.RUNNING
