"""The camera check's station: camera, pose model and checks for one SETUP screen; no session."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from types import FrameType
from typing import Final

from feedback.camera_check.remembered_place import RememberedPlace, find_place, save_place
from feedback.camera_check.worker import CheckParts, CheckWork
from feedback.link.protocol import Asker
from feedback.link.server import LinkServer
from feedback.screens.widgets.launch import ScreenProcess
from feedback.station.replay_buffer import ReplayBuffer
from feedback.station.setup import SpawnScreen
from feedback.terminal.guard import on_signals
from feedback.terminal.output import lost_output
from live.camera.capture import Capture
from live.camera.sources import FrameSource
from live.pose.model import PoseModel
from shared.clock import now_ns
from shared.flow import Frame, View
from shared.language import told
from shared.mailbox import Latest
from shared.messages import Request, Role, Stop
from shared.pictures import CheckDone, CheckReport, SetEdges
from shared.problems import Problem, UserError
from shared.units import NS_PER_S

_LOOK_S: Final = 0.05
_JOIN_S: Final = 20.0
_WORK_END_S: Final = 2.0
_END_S: Final = 2.0
_HURRIED_END_S: Final = 0.3
"""How long the screen may take to close by itself; the second one where the program is to end."""


@dataclass(frozen=True)
class CheckOrder:
    """What a check is made of. The station closes source and model."""

    view: View
    source: FrameSource
    model: PoseModel
    spawn_screen: SpawnScreen | None
    """None: no screen of its own; ``watch`` is told, and it ends by itself when all has passed."""
    watch: Callable[[CheckReport], None] | None = None
    """Told of every report, in the check's thread."""
    hold_s: float = 2.0
    """Without a screen: how long all must have passed."""
    give_up_s: float | None = None
    """Without a screen: how long to wait for that; None: for ever."""
    lost_output: Callable[[], int | None] = lost_output
    """Whether what the program says can reach nobody any more, which ends the check."""


@dataclass(frozen=True)
class CheckOutcome:
    """How the check ended."""

    accepted: bool
    """The person goes on with this place; it is kept."""
    report: CheckReport | None
    """The last one."""
    place: RememberedPlace | None
    """As it was kept; None when it was not accepted, or could not be saved."""
    signal_number: int | None
    save_problem: Problem | None = None


class CheckStation:
    """One check from its first picture to its end. Used once, from the main thread."""

    def __init__(self, order: CheckOrder) -> None:
        self._order = order
        order.model.never_wait()
        self._mailbox: Latest[Frame] = Latest()
        self._capture = Capture(order.source, self._mailbox)
        self._link = LinkServer(self._on_stop, self._on_screen_gone, self._on_request)
        self._gallery = ReplayBuffer(self._link.show, self._link.wants_pictures)
        self._screen: ScreenProcess | None = None
        self._done = threading.Event()
        self._accepted = False
        self._signal_number: int | None = None
        self._work = CheckWork(
            CheckParts(
                view=order.view,
                mailbox=self._mailbox,
                capture=self._capture,
                model=order.model,
                gallery=self._gallery,
                report=self._tell,
                place=find_place(order.source.describe(), order.view),
            )
        )

    def open_link(self) -> int:
        """Begin to listen for screens; returns the port. Raises UserError ``link_failed``."""
        return self._link.start()

    def issue_token(self) -> str:
        """A token that lets one camera check screen in."""
        return self._link.issue_token(Role.SETUP)

    def run(self) -> CheckOutcome:
        """Show the checks until the person goes on or leaves. Call :meth:`close` in any case.

        Raises UserError (``screen_unavailable``, ``link_failed``, ``worker_failed``).
        """
        began_ns = now_ns()
        with on_signals(self._on_signal):
            if self._order.spawn_screen is not None:
                port = self.open_link()
                self._screen = self._order.spawn_screen(port, self.issue_token())
            self._capture.start()
            self._work.start()
            while not self._done.wait(_LOOK_S) and self._quit_number() is None:
                if self._work.ended.is_set():
                    break
                if self._screen is None:
                    self._end_by_itself(began_ns)
                else:
                    self._look_after(self._screen, began_ns)
            outcome = self._end()
            self.close()  # here, where a second signal does not break it off
        return outcome

    def close(self) -> None:
        """End the check if it still runs, and close everything. May be called again."""
        ended = self._work.end(_WORK_END_S)
        self._link.close(told("The camera check is over."))
        self._capture.close()
        if self._screen is not None:
            self._screen.end(_END_S if self._signal_number is None else _HURRIED_END_S)
        self._gallery.close()
        if ended:
            self._order.model.close()

    # ---- called in other threads, or between two instructions: must return at once

    def _on_stop(self, _stop: Stop, _asker: Asker) -> None:
        """Link thread: nothing runs here, so Stop only leaves the check."""
        self._done.set()

    def _on_screen_gone(self, _asker: Asker) -> None:
        self._done.set()

    def _on_request(self, request: Request, _asker: Asker) -> None:
        if isinstance(request, SetEdges):
            self._work.set_edges(request.edges)
        elif isinstance(request, CheckDone):
            self._accepted = request.accepted
            self._done.set()

    def _on_signal(self, number: int, _frame: FrameType | None) -> None:
        self._signal_number = number

    def _tell(self, report: CheckReport) -> None:
        self._link.show(report)
        if self._order.watch is not None:
            self._order.watch(report)

    # ---- main thread

    def _quit_number(self) -> int | None:
        """The signal that asks the program to end; the loss of stdout stands for one."""
        if self._signal_number is None:
            self._signal_number = self._order.lost_output()
        return self._signal_number

    def _look_after(self, screen: ScreenProcess, began_ns: int) -> None:
        """Notice a screen that has closed or does not come up."""
        if screen.poll() is not None:
            if screen.problem() is not None:
                raise screen.ended_early()
            self._done.set()
        elif not self._link.screens() and now_ns() - began_ns > _JOIN_S * NS_PER_S:
            raise UserError(
                "screen_unavailable",
                why=told("it did not start within {join_s:g} s", join_s=_JOIN_S),
            )

    def _end_by_itself(self, began_ns: int) -> None:
        last = self._work.last
        if last is not None and last.held_s >= self._order.hold_s:
            self._accepted = True
            self._done.set()
        limit_s = self._order.give_up_s
        if limit_s is not None and now_ns() - began_ns > limit_s * NS_PER_S:
            self._done.set()

    def _end(self) -> CheckOutcome:
        self._work.end(_WORK_END_S)
        problem = self._work.problem
        if problem is not None:
            raise UserError("worker_failed", problem.details, part=told("the camera check"))
        place, save_problem = None, None
        if self._accepted and self._signal_number is None:
            place = self._work.place(datetime.now(tz=UTC).isoformat(timespec="seconds"))
            try:
                save_place(self._order.source.describe(), place)
            except UserError as error:
                save_problem = error.problem
        return CheckOutcome(
            accepted=self._accepted and self._signal_number is None,
            report=self._work.last,
            place=place,
            signal_number=self._signal_number,
            save_problem=save_problem,
        )
