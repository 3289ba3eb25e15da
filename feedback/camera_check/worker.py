"""The camera check's own thread: pictures in, checks out; no session, no cue, nothing that runs."""

from __future__ import annotations

import threading
import traceback
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from feedback.camera_check.remembered_place import RememberedPlace, belt_of, place_of
from feedback.screens.camera_check.belt_lines import ends_seen
from feedback.station.replay_buffer import ReplayBuffer
from live.camera.capture import Capture, CaptureState
from live.pose.model import PoseModel
from live.scene.background import BackdropLearner, CameraWatch
from live.scene.body_state import tiny_grey
from live.scene.picture_facts import facts_of
from live.scene.posture import box_of
from live.setup_checks import CameraFacts, SetupChecks, all_pass
from shared.clock import now_ns
from shared.flow import FloatArray, Frame, Pose, View
from shared.language import told
from shared.mailbox import Latest
from shared.pictures import BeltEdges, Check, CheckReport, CheckState
from shared.problems import Problem, describe
from shared.units import NS_PER_MS, NS_PER_S

REPORT_EVERY_NS: Final = 200 * NS_PER_MS
LOOK_EVERY_NS: Final = 250 * NS_PER_MS
"""Between two pictures whose pixels are looked at."""
_WAKE_S: Final = 0.1
_RATE_AFTER_NS: Final = 2 * NS_PER_S
SIZE_CHANGED: Final = 1.08
"""A runner who is this much larger in the picture than last time is nearer to the camera; the
height is told within 6 % on the rendered clips."""
_COMPARE_LAST: Final = 8
"""So many looks in a row must agree on whether the camera stands as it did last time."""


@dataclass(frozen=True)
class CheckParts:
    """What the thread works with; opened and closed by the check station."""

    view: View
    mailbox: Latest[Frame]
    capture: Capture
    model: PoseModel
    gallery: ReplayBuffer
    report: Callable[[CheckReport], None]
    """Called in the thread; must return at once."""
    place: RememberedPlace | None
    """Where this camera stood last time."""


class CheckWork:
    """Runs until it is told to end, whatever happens; never dies unseen."""

    def __init__(self, parts: CheckParts) -> None:
        self._parts = parts
        self._checks = SetupChecks(parts.view)
        self._watch = CameraWatch()
        self._learner = BackdropLearner()
        self._lock = threading.Lock()
        self._edges: BeltEdges | None = None
        self._edges_given = False
        self._same: list[bool | None] = []
        self._remembered = False
        self._height_share: float | None = None
        self._first_ns: int | None = None
        self._looked_ns = 0
        self._reported_ns = 0
        self._number = 0
        self._good_since_ns: int | None = None
        self._over = threading.Event()
        self.ended = threading.Event()
        self.problem: Problem | None = None
        """Set when the thread failed."""
        self.last: CheckReport | None = None
        self._thread = threading.Thread(target=self._run, name="check", daemon=True)

    def start(self) -> None:
        """Begin."""
        self._thread.start()

    def set_edges(self, edges: BeltEdges | None) -> None:
        """The belt's edges as drawn; edges that cannot be told apart are passed over."""
        view = self._parts.view
        if edges is not None and (belt_of(view, edges) is None or not ends_seen(edges, view)):
            return
        with self._lock:
            self._edges, self._edges_given = edges, True

    def end(self, patience_s: float) -> bool:
        """Have the thread end; whether it did."""
        self._over.set()
        return not self._thread.is_alive() or self.ended.wait(patience_s)

    def place(self, kept_utc: str) -> RememberedPlace:
        """The place as it is now; after the end."""
        backdrop = self._learner.backdrop
        view = self._parts.view
        return place_of(view, kept_utc, self._edges, backdrop, self._height_share)

    # ---- the thread

    def _run(self) -> None:
        try:
            while not self._over.is_set():
                self._come_round()
        except Exception as error:  # noqa: BLE001 - the guard of this thread
            details = "".join(traceback.format_exception(error))
            self.problem = describe("worker_failed", details=details, part=told("the camera check"))
        finally:
            self.ended.set()

    def _come_round(self) -> None:
        frame = self._parts.mailbox.take(_WAKE_S)
        if frame is not None:
            self._take_in(frame)
        at_ns = now_ns()
        if at_ns - self._reported_ns >= REPORT_EVERY_NS:
            self._reported_ns = at_ns
            self.last = self._report(at_ns)
            self._parts.report(self.last)

    def _take_in(self, frame: Frame) -> None:
        pose = self._parts.model.detect(frame)
        at_ns = frame.captured_ns
        self._first_ns = at_ns if self._first_ns is None else self._first_ns
        self._checks.add_pose(pose)
        self._parts.gallery.add(frame, pose, ())
        if self._watch.is_due(at_ns):
            self._see_room(tiny_grey(frame), pose, at_ns)
        if at_ns - self._looked_ns >= LOOK_EVERY_NS:
            self._looked_ns = at_ns
            self._checks.add_picture(facts_of(frame, pose))

    def _see_room(self, grey: FloatArray, pose: Pose, at_ns: int) -> None:
        body = box_of(pose) if pose.people > 0 else None
        self._watch.look(grey, body, at_ns)
        if self._watch.standing.moved:
            self._learner = BackdropLearner()
            with self._lock:  # the lines were drawn in another picture
                self._edges, self._edges_given = None, False
        else:
            self._learner.add(grey, body)
        place = self._parts.place
        if place is not None:
            self._same = [*self._same[1 - _COMPARE_LAST :], place.backdrop.is_same(grey, body)]
            self._compare(place)

    def _compare(self, place: RememberedPlace) -> None:
        """Take the edges over once the camera is seen to stand as it did when they were set."""
        if len(self._same) < _COMPARE_LAST:
            return
        if all(same is True for same in self._same):
            self._remembered = True
        elif all(same is False for same in self._same):
            self._remembered = False
        with self._lock:
            if not self._edges_given:
                edges = place.edges if self._remembered else None
                if edges is not None and not ends_seen(edges, self._parts.view):
                    edges = None
                self._edges = edges

    def _report(self, at_ns: int) -> CheckReport:
        status = self._parts.capture.status()
        with self._lock:
            edges = self._edges
        early = self._first_ns is None or at_ns - self._first_ns < _RATE_AFTER_NS
        opening = status.state is CaptureState.OPENING and status.problem is None
        checks = self._checks.checks(
            CameraFacts(
                frames_per_s=None if early else status.frames_per_s,
                moved=self._watch.standing.moved,
                edges_set=edges is not None,
                pictures_come=None if opening else status.state is CaptureState.RUNNING,
            )
        )
        placed = self._checks.placing
        if placed is not None:
            self._height_share = round(placed.height_share, 3)
        passed = all_pass(checks)
        if not passed:
            self._good_since_ns = None
        elif self._good_since_ns is None:
            self._good_since_ns = at_ns
        self._number += 1
        since_ns = self._good_since_ns
        return CheckReport(
            number=self._number,
            at_ns=at_ns,
            view=self._parts.view,
            checks=(*checks, *self._place_check()),
            all_pass=passed,
            held_s=0.0 if since_ns is None else (at_ns - since_ns) / NS_PER_S,
            edges=edges,
            remembered=self._remembered,
        )

    def _place_check(self) -> tuple[Check, ...]:
        """Whether the camera stands where it stood last time; nothing where it is not known."""
        place = self._parts.place
        if place is None or len(self._same) < _COMPARE_LAST:
            return ()
        if self._remembered:
            return (Check(key="place", standing=CheckState.PASS),)
        advice = what_changed(place.height_share, self._height_share)
        return (Check(key="place", standing=CheckState.UNKNOWN, advice=advice),)


def what_changed(before: float | None, now: float | None) -> str:
    """What is said of a camera that stands elsewhere, by the runner's height in the picture."""
    larger = 1.0 if not before or not now else now / before
    if larger > SIZE_CHANGED:
        return "place_nearer"
    return "place_further" if larger < 1 / SIZE_CHANGED else "place_changed"
