"""Every state of the runner's screen by name, for tests and for pictures to look at."""

from __future__ import annotations

from typing import Any

from feedback.cueing.cues import cue_key
from feedback.link.client_state import LinkState, LinkStatus
from feedback.screens.runner.window import News, RunnerWindow
from feedback.texts.runner import NEXT_BEHIND, NEXT_REPORT
from shared.clock import now_ns
from shared.flow import BandState, Side
from shared.messages import Focus, Request, SessionState, Snapshot, StopReason
from shared.problems import describe
from shared.targets import Question
from tests.feedback.link.examples import STRIKE, block, snapshot
from tests.feedback.screens.panel_examples import briefing

BRIEFING = briefing()
CADENCE = Focus(
    measure="cadence",
    side=None,
    unit="steps/min",
    low=171.0,
    high=179.0,
    value=164.4,
    state=BandState.BELOW,
    words=cue_key("cadence", BandState.BELOW, beat=True),
)
SHIFT = Focus(
    measure="pelvic_shift",
    side=Side.LEFT,
    unit="cm",
    low=None,
    high=3.0,
    value=4.2,
    state=BandState.ABOVE,
    words=cue_key("pelvic_shift", BandState.ABOVE),
)
LEAN = Focus(
    measure="trunk_lean",
    side=None,
    unit="deg",
    low=4.0,
    high=9.0,
    value=6.3,
    state=BandState.INSIDE,
    words="",
)
WAITING = Focus(
    measure="cadence",
    side=None,
    unit="steps/min",
    low=171.0,
    high=179.0,
    value=None,
    state=BandState.UNKNOWN,
    words="",
)
WIDEST = Focus(
    measure="strike_ahead",
    side=Side.RIGHT,
    unit="% leg",
    low=-10.0,
    high=-8.5,
    value=-10.25,
    state=BandState.BELOW,
    words=cue_key("strike_ahead", BandState.BELOW),
)


def heard(
    snapshot: Snapshot | None,
    state: LinkState = LinkState.JOINED,
    why: str = "",
    *,
    stop_asked: bool = False,
    ago_ns: int = 0,
) -> LinkStatus:
    """What a screen knows when the station was heard ``ago_ns`` ago."""
    at_ns = None if snapshot is None else now_ns() - ago_ns
    return LinkStatus(state, why, snapshot, at_ns, stop_asked, briefing=BRIEFING)


def states() -> dict[str, LinkStatus]:
    """What the screen knows in each of its states, fresh as of now."""
    camera = describe("camera_missing", source="2")
    over: dict[str, Any] = {
        "state": SessionState.STOPPED,
        "stop_reason": StopReason.RUNNER,
        "remaining_s": None,
        "saved": True,
    }
    return {
        "connecting": heard(None, LinkState.CONNECTING),
        "cautions": heard(snapshot(state=SessionState.CAUTIONS)),
        "paused": heard(snapshot(state=SessionState.PAUSED, pain=2)),
        "near_edge": heard(snapshot(warning="warn_belt_edge")),
        "pain_noted": heard(snapshot(focus=CADENCE, warning="warn_pain", pain=4)),
        "pain_asked": heard(snapshot(focus=CADENCE, asked=Question.PAIN)),
        "asked_while_warned": heard(
            snapshot(focus=CADENCE, asked=Question.EFFORT, warning="warn_pain", pain=4)
        ),
        "asked_while_cued": heard(snapshot(focus=SHIFT, asked=Question.PAIN)),
        "asked_at_a_new_speed": heard(
            snapshot(
                focus=CADENCE, asked=Question.AWKWARDNESS, block=block("cued", belt_changes=True)
            )
        ),
        "camera_moved": heard(snapshot(focus=WAITING, problems=(describe("camera_moved"),))),
        "stopped_fall": heard(snapshot(**(over | {"stop_reason": StopReason.FALL}))),
        "ready": heard(snapshot(state=SessionState.READY)),
        "ready_problem": heard(
            snapshot(state=SessionState.READY, problems=(describe("no_runner"),))
        ),
        "ready_unmeasured": heard(
            snapshot(state=SessionState.READY, problems=(describe("legs_alike"),))
        ),
        "unmeasured": heard(
            snapshot(focus=WAITING, problems=(describe("pictures_few", fps=9, needed=24),))
        ),
        "waiting": heard(snapshot(focus=WAITING)),
        "inside": heard(snapshot()),
        "inside_degrees": heard(snapshot(focus=LEAN, remaining_s=None)),
        "below": heard(snapshot(focus=CADENCE)),
        "above": heard(snapshot(focus=SHIFT)),
        "widest": heard(
            snapshot(
                focus=WIDEST,
                demo=True,
                remaining_s=5_999.0,
                problems=(describe("sound_library_missing"),),
            )
        ),
        "block_cued": heard(snapshot(focus=CADENCE, block=block("cued"))),
        "block_belt": heard(snapshot(focus=None, block=block("rest", belt_changes=True))),
        "block_uncued": heard(snapshot(focus=None, block=block("uncued"))),
        "block_warm_up": heard(snapshot(focus=None, block=block("warm_up"))),
        "block_cool_down": heard(snapshot(focus=None, block=block("cool_down"))),
        "block_asked": heard(
            snapshot(focus=None, block=block("uncued"), asked=Question.AWKWARDNESS)
        ),
        "baseline": heard(
            snapshot(focus=None, block=block("baseline", remaining_s=None, remaining_steps=37))
        ),
        "no_target": heard(snapshot(focus=None)),
        "demo": heard(snapshot(focus=CADENCE, demo=True)),
        "demo_next": heard(snapshot(**(over | {"demo": True, "then": NEXT_BEHIND}))),
        "demo_over": heard(snapshot(**(over | {"demo": True, "then": NEXT_REPORT}))),
        "no_sound": heard(snapshot(focus=STRIKE, problems=(describe("sound_missing"),))),
        "problem_runner": heard(snapshot(focus=WAITING, problems=(describe("no_runner"),))),
        "problem_camera": heard(snapshot(focus=WAITING, problems=(camera,))),
        "stale": heard(snapshot(), ago_ns=1_500_000_000),
        "stopping": heard(snapshot(), stop_asked=True),
        "stopped": heard(snapshot(**over)),
        "stopped_unmeasured": heard(snapshot(**over, problems=(describe("legs_alike"),))),
        "stopped_not_saved": heard(snapshot(**(over | {"saved": False}))),
        "stopped_fault": heard(snapshot(**(over | {"stop_reason": StopReason.FAULT}))),
        "gone": heard(snapshot(), LinkState.LOST, "connection reset"),
        "refused": heard(None, LinkState.REFUSED, "Its key is unknown or was already used."),
    }


class StillLink:
    """A link that knows one thing and notes what it is asked."""

    def __init__(self, status: LinkStatus) -> None:
        self.known = status
        self.stops = 0
        self.asked: list[Request] = []
        self.pings = 0
        self.closed = False

    def status(self) -> LinkStatus:
        return self.known

    def stop(self) -> None:
        self.stops += 1

    def ask(self, request: Request) -> None:
        self.asked.append(request)

    def ping(self) -> None:
        self.pings += 1

    def close(self) -> None:
        self.closed = True


def window(status: LinkStatus, width: int, height: int) -> tuple[RunnerWindow, StillLink]:
    """A window of this size that shows ``status``; needs a running QApplication."""
    link = StillLink(status)
    made = RunnerWindow(link, News())
    made.resize(width, height)
    return made, link
