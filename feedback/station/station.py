"""The station: wires camera, work thread, sound, journal and screens, and guards them all."""

from __future__ import annotations

import contextlib
import dataclasses
import logging
import secrets
import signal
import subprocess
from collections import deque
from collections.abc import Callable
from functools import partial
from types import FrameType
from typing import Final

import msgspec

from feedback.journal.entries import Entry
from feedback.journal.writer import Journal
from feedback.link.protocol import Asker
from feedback.link.server import LinkServer
from feedback.screens.widgets.launch import ScreenProcess
from feedback.session.interface import Command, Sensed, StopAsked
from feedback.session.snapshot import briefing_of
from feedback.sound.mixer import LifeSign
from feedback.station.after_end import Late
from feedback.station.replay_buffer import ReplayBuffer
from feedback.station.requests import command_for, is_too_painful, screen_of
from feedback.station.screen_loss import ScreenLoss
from feedback.station.sensors import Sensors
from feedback.station.session_end import close_record, with_what_is_known, write_for_the_worker
from feedback.station.setup import SessionOutcome, StationSetup
from feedback.station.stop_latch import StopLatch
from feedback.station.tracked import make_pipeline, make_session
from feedback.station.worker import Parts, Worker
from feedback.terminal.guard import Interrupted, on_signals, quit_source
from feedback.texts.runner import answer as answer_text
from feedback.training.counting import SessionMeans
from live.camera.capture import Capture
from live.pipeline import Setup
from live.scene.body_state import BodyState
from shared.changes import Answered
from shared.clock import now_ns
from shared.cores import Reserve
from shared.flow import Frame
from shared.language import told
from shared.mailbox import Latest
from shared.messages import (
    Briefing,
    Request,
    Role,
    SessionRequest,
    Snapshot,
    Stop,
    StopReason,
)
from shared.pictures import AskReplay, SaveReplay
from shared.problems import Problem, UserError, describe
from shared.sensor_values import MachineReading, MachineState, SensorReading
from shared.targets import Question
from shared.units import NS_PER_S

_LOOK_S: Final = 0.05
_LINGER_LOOK_S: Final = 0.25
_LATE_NS: Final = 600 * NS_PER_S
"""So long after the end consoles may add notes and ratings."""
_WORKER_END_S: Final = 2.0
_JOIN_S: Final = 20.0
"""A slow computer needs some seconds to open a window for the first time."""
_END_S: Final = 2.0
_HURRIED_END_S: Final = 0.3
"""How long a screen may take to close by itself; the second one where the program is to end."""
_HURRIED_SOUND_S: Final = 0.7
"""Of the stop sound so much is heard then: it begins 0.4 s after the stop."""
_HANGS: Final = "measuring does not answer"
_LINK_HANGS: Final = "the link to the screens does not answer"
_STALLED_NS: Final = 500_000_000
_GIVEN_UP_NS: Final = 5_000_000_000
_LINK_GIVEN_UP_NS: Final = 1_500_000_000
"""As with a screen that says nothing: with the link the Stop control has gone."""


class Station:
    """One session from its first frame to its saved end. Used once, from the main thread."""

    def __init__(self, order: StationSetup) -> None:
        self._order = order
        # Before anything is begun that is to keep off the processor for the measuring.
        self._reserve = Reserve()
        order.model.take_places(self._reserve)
        order.model.never_wait()
        self._latch = StopLatch()
        self._mailbox: Latest[Frame] = Latest()
        self._capture = Capture(order.source, self._mailbox)
        self._link = LinkServer(
            self._on_stop, self._on_screen_gone, self._on_request, self._on_link_beat
        )
        if order.network is not None:
            order.network.keep_off(self._reserve)
        if order.feed is not None:
            self._reserve.put_process_aside(order.feed.process_id)
        self._screen: ScreenProcess | None = None
        self._panel: ScreenProcess | None = None
        self._gallery = (
            ReplayBuffer(self._link.show, self._link.wants_pictures, order.record)
            if order.keep_pictures or order.spawn_panel or order.network
            else None
        )
        self._happened: deque[Entry] = deque()
        self._signal_number: int | None = None
        self._loss = ScreenLoss(
            partial(order.speaker.stop, announce=True),
            self._stop,
            self._write,
            lambda: self._signal_number,
        )
        self._outcome: SessionOutcome | None = None
        self._late: Late | None = None
        self._ended_ns = 0
        self.stopped_late = False
        """Stop was asked for after the end: nothing is to follow by itself."""
        athlete = order.athlete
        setup = Setup(
            view=order.view,
            height_m=athlete.height_cm / 100,
            belt_speed_mps=athlete.belt_speed_mps,
        )
        self._parts = Parts(
            mailbox=self._mailbox,
            capture=self._capture,
            model=order.model,
            lookout=BodyState(order.view, order.backdrop),
            pipeline=make_pipeline(order.track, setup),
            session=make_session(
                order.track,
                athlete,
                order.view,
                order.demo,
                order.time_limit_s,
                order.cautions,
                order.edges,
                order.course,
            ),
            means=SessionMeans(athlete),
            speaker=order.speaker,
            journal=None,
            publish=self._link.publish,
            add_points=self._link.add_points,
            answer=self._link.answer,
            consoles=self._link.consoles,
            gallery=self._gallery,
            other_problems=self._other_problems,
            watch=self._happened.append,
            reserve=self._reserve,
            show_pose=None if order.feed is None else order.feed.pose,
        )
        self._worker = Worker(self._parts, self._latch, order.start_at_once)
        self._sensors: Sensors | None = None

    def open_link(self) -> int:
        """Begin to listen for screens and consoles; returns the port for screens.

        Raises UserError ``link_failed``.
        """
        return self._link.start(self._order.network)

    def issue_token(self, role: Role = Role.RUNNER) -> str:
        """A token that lets one screen of this role in."""
        return self._link.issue_token(role)

    def open_screen(self) -> None:
        """Start the runner's screen and wait until it has joined.

        Raises UserError (``screen_unavailable``, ``link_failed``); the session can still be run
        without a screen then. Raises Interrupted, once the program is asked to end.
        """
        if self._order.spawn_screen is None:
            return
        port = self.open_link()
        with on_signals(self._on_signal):
            self._screen = self._order.spawn_screen(port, self.issue_token())
            try:
                self._wait_for_screen(self._screen)
            except UserError:
                self._screen.end()
                self._screen = None
                raise

    def open_panel(self) -> None:
        """Start the clinician's panel; it joins when it is ready, and may go at any time.

        Raises UserError (``screen_unavailable``, ``link_failed``).
        """
        if self._order.spawn_panel is not None:
            port = self.open_link()
            self._panel = self._order.spawn_panel(port, self.issue_token(Role.PANEL))

    def _wait_for_screen(self, screen: ScreenProcess) -> None:
        until_ns = now_ns() + int(_JOIN_S * NS_PER_S)
        while Role.RUNNER not in self._link.screens():
            if screen.poll() is not None:
                raise screen.ended_early()
            if now_ns() > until_ns:
                raise UserError(
                    "screen_unavailable",
                    why=told("it did not start within {join_s:g} s", join_s=_JOIN_S),
                )
            if (number := self._quit_number()) is not None:
                raise Interrupted(number)
            self._latch.wait(_LOOK_S)

    @property
    def asked(self) -> Question | None:
        """What the runner is asked to rate now."""
        snapshot = self._worker.last_snapshot
        return None if snapshot is None else snapshot.asked

    def ask(self, command: Command) -> None:
        """Hand a command to the work thread, from any thread."""
        self._worker.ask(command)

    def run(
        self, journal: Journal | None = None, watch: Callable[[Entry], None] | None = None
    ) -> SessionOutcome:
        """Hold the session until it stops; then save it and show the end on the screen.

        The journal is closed with a summary. ``watch`` is told, in this thread, of all that goes
        to it, and must not block. Ctrl+C, SIGTERM, SIGHUP and the loss of stdout end the session
        politely. Call :meth:`close` in any case.
        """
        self._parts.journal = journal
        if self._order.network is not None:
            self.open_link()
        with on_signals(self._on_signal):
            self._link.brief(self._briefing())
            self._listen_to_sensors()
            self._capture.start()
            self._worker.start()
            while not self._worker.ended.wait(_LOOK_S):
                self._look_after()
                self._tell(watch)
                if self._latch.asked is not None:
                    break
            outcome = self._end()
            self._tell(watch)
            self._take_late(outcome)
            self._linger(outcome)
            if self._order.hand_over is not None and self._goes_on(outcome):
                self._let_go()
                self._order.hand_over()
            # Here, where a second signal does not break it off.
            if self._late is None:
                self.close()
            else:
                self._close_measuring()
        return self._told_to_go(outcome)

    def close(self) -> None:
        """End the session if it still runs, and close everything. May be called again."""
        self._end()
        if self._late is not None:
            self._late.close()
        self._link.close(told("The session has ended."))
        if self._order.network is not None:
            self._order.network.close()
        self._close_measuring()
        if self._panel is not None:
            self._panel.end(self._end_s())
        if self._gallery is not None:
            self._gallery.close()

    def _goes_on(self, outcome: SessionOutcome) -> bool:
        """Whether what follows may begin: nobody stopped the session, or closed its screen."""
        if outcome.reason is not StopReason.TIME or self._quit_number() is not None:
            return False
        return not self.stopped_late and (self._screen is None or self._screen.poll() is None)

    def _close_measuring(self) -> None:
        """Let go of camera, sound, the runner's screen and the model; may be done again."""
        self._let_go()
        if self._screen is not None:
            self._screen.end(self._end_s())

    def _let_go(self) -> None:
        """Of all that measures and sounds; may be done again."""
        order = self._order
        self._capture.close()
        if self._sensors is not None:
            self._sensors.close()
        if order.feed is not None:
            order.feed.close()
        hurried = self._signal_number is not None
        order.speaker.close(_HURRIED_SOUND_S if hurried else None)
        self._reserve.close()
        if self._worker.ended.is_set() or not self._worker.started:
            order.model.close()

    def _end_s(self) -> float:
        return _END_S if self._signal_number is None else _HURRIED_END_S

    @property
    def added(self) -> tuple[Entry, ...]:
        """Notes and ratings that were put into the record after the end."""
        return () if self._late is None else self._late.added

    @property
    def may_add(self) -> bool:
        """Whether somebody is there who may note or rate something after the end."""
        outcome = self._outcome
        if self._late is None or outcome is None or not outcome.saved:
            return False
        if self._quit_number() is not None:
            return False
        if self._panel is not None and self._panel.poll() is None:
            return True
        return bool(self._link.consoles()) and now_ns() - self._ended_ns < _LATE_NS

    def stay(self) -> int | None:
        """Wait while somebody may add something, then close; the signal that ended it, if one did.

        As long as the panel is open, and ten minutes for consoles. The loss of stdout counts as a
        signal.
        """
        with on_signals(self._on_signal):
            while self.may_add and self._late is not None:
                self._late.wait(_LINGER_LOOK_S)
            self.close()
        return self._quit_number()

    def _take_late(self, outcome: SessionOutcome) -> None:
        """From the end on: notes and ratings go into the saved record."""
        self._ended_ns = now_ns()
        if not self._order.late or outcome.signal_number is not None:
            return
        if self._worker.started and self._worker.ended.is_set():
            self._late = Late(
                self._parts.session,
                self._order.record if outcome.saved else None,
                self._worker.left,
                self._link.answer,
                partial(self._show_late, outcome),
            )

    def _show_late(self, outcome: SessionOutcome, change: Callable[[Snapshot], Snapshot]) -> None:
        last = self._worker.last_snapshot
        if last is not None:
            self._worker.last_snapshot = change(last)
            self._publish_last(problem=outcome.problem, stopped=outcome)

    def _listen_to_sensors(self) -> None:
        if self._order.sensors:
            self._sensors = Sensors(self._order.sensors, self._on_sensor)
            self._reserve.put_process_aside(self._sensors.process_id)

    # ---- called in other threads, or between two instructions: must return at once

    def _on_stop(self, stop: Stop, asker: Asker) -> None:
        """Link thread: silence first, then the latch."""
        self._order.speaker.stop(announce=True)
        self.stopped_late = self._outcome is not None
        reason = StopReason.RUNNER if asker.role == Role.RUNNER else StopReason.CONSOLE
        asked = StopAsked(reason=reason, source=screen_of(asker), asked_ns=stop.asked_ns)
        self._latch.ask(asked)

    def _on_sensor(self, reading: SensorReading) -> None:
        """Sensors' thread: for the work thread; but a safety key that was pulled is a stop."""
        self._worker.ask(Sensed(reading=reading))
        pulled = isinstance(reading, MachineReading) and reading.state is MachineState.SAFETY_KEY
        if pulled and self._outcome is None:
            self._stop(StopReason.SAFETY_KEY, "the treadmill")

    def _on_screen_gone(self, asker: Asker) -> None:
        """Link thread: with the runner's screen its Stop control has gone; others are missed."""
        why = self._link.why_gone(asker.connection)
        if self._outcome is not None:
            return  # after the end screens go one by one, and nothing is lost with them
        if asker.role == Role.RUNNER:
            self._loss.seen(f"{screen_of(asker)} has gone", why, self._screen)
        elif self._signal_number is None:
            logging.getLogger("beltside").warning("%s has gone: %s", screen_of(asker), why)

    def _on_request(self, request: Request, asker: Asker) -> None:
        """Link thread: for the work thread to see to; but pain over its limit is a stop."""
        if isinstance(request, SessionRequest):
            self._worker.ask(command_for(request, asker))
            if self._outcome is None and is_too_painful(request, self._order.athlete.limits):
                self._stop(StopReason.PAIN, screen_of(asker))
        elif isinstance(request, AskReplay | SaveReplay):
            answer = partial(self._link.answer, asker.connection)
            if self._gallery is None:
                answer(Answered(id=request.id, done=False, why=answer_text("answer_not_kept")))
            else:
                self._gallery.ask(request, answer)

    def _on_link_beat(self, at_ns: int) -> None:
        """Link thread: without this sign of life the sound falls silent by itself."""
        self._order.speaker.heartbeat(at_ns, LifeSign.LINK)

    def _on_signal(self, number: int, _frame: FrameType | None) -> None:
        """Main thread, in the middle of anything: no lock may be touched here."""
        self._signal_number = number

    def _write(self, entry: Entry) -> None:
        if self._parts.journal is not None:
            self._parts.journal.write(entry)

    def _other_problems(self) -> tuple[Problem, ...]:
        return self._link.problems()

    # ---- main thread

    def _briefing(self) -> Briefing:
        order = self._order
        run = secrets.token_hex(8)
        return briefing_of(run, order.athlete, order.view, order.course, order.baseline)

    def _stop(self, reason: StopReason, source: str) -> None:
        self._order.speaker.stop(announce=True)
        self._latch.ask(StopAsked(reason=reason, source=source))

    def _quit_number(self) -> int | None:
        """The signal that asks the program to end; the loss of stdout stands for one."""
        if self._signal_number is None:
            self._signal_number = self._order.lost_output()
        return self._signal_number

    def _told_to_go(self, outcome: SessionOutcome) -> SessionOutcome:
        """With a signal that came after the end; Ctrl+C then only ended the wait for the screen."""
        number = self._quit_number()
        if number in (None, signal.SIGINT):
            return outcome
        return dataclasses.replace(outcome, signal_number=number)

    def _tell(self, watch: Callable[[Entry], None] | None) -> None:
        while self._happened:
            entry = self._happened.popleft()
            if watch is not None:
                watch(entry)
            if self._order.feed is not None:
                self._order.feed.entry(entry)

    def _look_after(self) -> None:
        """Notice what no other thread would: a signal, a dead screen, a stalled thread."""
        self._order.speaker.heartbeat(now_ns(), LifeSign.MAIN)
        if (number := self._quit_number()) is not None:
            self._stop(StopReason.QUIT, quit_source(number))
        elif self._screen is not None and self._screen.poll() is not None:
            self._loss.seen(
                "the runner's screen has closed", "seen by its process alone", self._screen
            )
        if self._link.late_ns() > _LINK_GIVEN_UP_NS:
            self._stop(StopReason.FAULT, _LINK_HANGS)
        late_ns = now_ns() - self._worker.awake_ns
        if late_ns > _GIVEN_UP_NS:
            self._stop(StopReason.FAULT, _HANGS)
        elif late_ns > _STALLED_NS:
            # The work thread cannot say so itself; sound falls silent without its heartbeat.
            self._publish_last(problem=describe("worker_stalled"))

    def _end(self) -> SessionOutcome:
        """Stop what still runs, save, and publish the end; once, later calls return the same."""
        if self._outcome is not None:
            return self._outcome
        self._stop(StopReason.QUIT, "the program is closing")  # where nothing stopped it before
        asked = self._latch.asked
        problem = self._worker.tally.problem
        if self._worker.started and not self._worker.ended.wait(_WORKER_END_S):
            problem = describe("worker_failed", part=_HANGS)
            if self._parts.journal is not None and asked is not None:
                write_for_the_worker(self._parts.journal, problem, asked)
        session = self._parts.session
        reason = session.stop_reason or (asked.reason if asked else StopReason.QUIT)
        if self._order.track is not None:
            self._order.track.close()
        journal = self._parts.journal
        if journal is not None:
            ended = self._worker.ended.is_set()
            close_record(journal, session, self._worker.tally, ended=ended)
        save_problem = None if journal is None else journal.problem()
        self._outcome = SessionOutcome(
            reason=StopReason.FAULT if problem is not None else reason,
            signal_number=self._signal_number if reason is StopReason.QUIT else None,
            problem=problem or self._fault_of(reason),
            saved=None if journal is None or not self._order.kept else save_problem is None,
            save_problem=save_problem if self._order.kept else None,
            tally=self._worker.tally,
            dropped=self._mailbox.replaced,
        )
        self._publish_last(problem=problem, stopped=self._outcome)
        return self._outcome

    def _fault_of(self, reason: StopReason) -> Problem | None:
        """What to tell when the session itself ended for a fault, such as a dead camera."""
        if reason is not StopReason.FAULT:
            return None
        if (asked := self._latch.asked) is not None and asked.source in (_HANGS, _LINK_HANGS):
            return describe("worker_failed", part=asked.source)  # it may have woken since
        source = self._order.source.describe()
        return self._capture.status().problem or describe("worker_failed", part=source)

    def _publish_last(self, problem: Problem | None, stopped: SessionOutcome | None = None) -> None:
        """Publish the work thread's newest snapshot again, with what it cannot know itself."""
        last = self._worker.last_snapshot
        if last is not None:
            end = None if stopped is None else (stopped.reason, stopped.saved)
            shown = with_what_is_known(last, now_ns(), problem, end)
            if stopped is not None and stopped.reason is StopReason.TIME:
                shown = msgspec.structs.replace(shown, then=self._order.then)
            self._link.publish(shown)

    def _linger(self, outcome: SessionOutcome) -> None:
        """Leave the end on the screen: until it is closed there, a signal, or the order's time."""
        if self._screen is None or outcome.reason in (StopReason.QUIT, StopReason.SCREEN_LOST):
            return
        linger_s = self._order.linger_s
        until_ns = None if linger_s is None else now_ns() + int(linger_s * NS_PER_S)
        while self._screen.poll() is None and self._quit_number() is None:
            if until_ns is not None and now_ns() > until_ns:
                return
            if self.stopped_late and self._order.hand_over is not None:
                return
            self._publish_last(problem=outcome.problem, stopped=outcome)
            with contextlib.suppress(subprocess.TimeoutExpired):
                self._screen.wait(_LINGER_LOOK_S)
