"""Every state of the clinician's panel by name, for tests and for pictures to look at."""

from __future__ import annotations

from typing import Any, Final

import msgspec

from feedback.cueing.cues import cue_key
from feedback.link.client_state import LinkState, LinkStatus
from shared.catalogue import offered
from shared.changes import ChangeNote, Remark, TargetState
from shared.clock import now_ns
from shared.flow import BandState, CueKind, Side, View
from shared.messages import (
    BlockNote,
    Briefing,
    CueNote,
    Focus,
    Own,
    PlannedBlock,
    Reading,
    SessionState,
    Snapshot,
    StopReason,
)
from shared.problems import describe
from shared.targets import BlockKind, Question
from tests.feedback.link.examples import snapshot
from tests.feedback.screens.panel_feed import AT_NS, S, picture, sides, typical, value_of


def readings(view: View = View.SIDE, **changes: Any) -> tuple[Reading, ...]:
    """A value of everything that the view gives."""
    made = []
    for spec in offered(view):
        for side in sides(spec.name):
            fields: dict[str, Any] = {
                "name": spec.name,
                "side": side,
                "value": value_of(spec.name, side),
                "unit": spec.units[0],
                "uncertainty": 0.6 if spec.decimals == 0 else 1.2,
                "quality": 0.91,
                "steps": 1,
                "age_ms": 240.0,
            }
            made.append(Reading(**(fields | changes)))
    return tuple(made)


def own(view: View = View.SIDE) -> tuple[Own, ...]:
    """A baseline of the same measures, a little different."""
    return tuple(
        Own(
            name=spec.name,
            side=side,
            unit=spec.units[0],
            mean=0.96 * typical(spec.name),
            sd=0.05 * typical(spec.name),
            least_change=0.03 * typical(spec.name),
        )
        for spec in offered(view)
        for side in sides(spec.name)
    )


def target(**changes: Any) -> TargetState:
    """A cadence target with a beat, in focus; the runner is below it."""
    fields: dict[str, Any] = {
        "number": 0,
        "revision": 1,
        "measure": "cadence",
        "side": None,
        "unit": "steps/min",
        "low": 171.0,
        "high": 179.0,
        "beat_spm": 175.0,
        "aim": 175.0,
        "aim_least": 166.9,
        "aim_most": 177.1,
        "by_hand": False,
        "can_undo": False,
        "in_focus": True,
        "value": 168.2,
        "state": BandState.BELOW,
    }
    return TargetState(**(fields | changes))


STRIKE: Final = target(
    number=1,
    measure="strike_ahead",
    unit="cm",
    low=None,
    high=12.0,
    beat_spm=None,
    aim=12.0,
    aim_least=8.5,
    aim_most=15.5,
    in_focus=False,
    value=11.4,
    state=BandState.INSIDE,
)
CADENCE_FOCUS: Final = Focus(
    measure="cadence",
    side=None,
    unit="steps/min",
    low=171.0,
    high=179.0,
    value=168.2,
    state=BandState.BELOW,
    words=cue_key("cadence", BandState.BELOW, beat=True),
)
BLOCKS: Final = tuple(
    PlannedBlock(kind=kind, minutes=minutes, steps=steps, belt_speed_kmh=speed, cued=cued)
    for kind, minutes, steps, speed, cued in (
        (BlockKind.WARM_UP, 5.0, None, 8.0, ""),
        (BlockKind.CUED, 4.0, None, 10.0, "cadence"),
        (BlockKind.UNCUED, None, 200, 10.0, ""),
        (BlockKind.CUED, 2.5, None, 10.5, "strike_ahead"),
        (BlockKind.REST, 1.0, None, 5.0, ""),
        (BlockKind.COOL_DOWN, 5.0, None, 7.0, ""),
    )
)


def briefing(**changes: Any) -> Briefing:
    fields: dict[str, Any] = {
        "run": "run one",
        "code_name": "Heron",
        "view": View.SIDE,
        "belt_speed_kmh": 10.0,
        "own": own(),
        "blocks": BLOCKS,
        "pain_stop_over": 5,
    }
    return Briefing(**(fields | changes))


def cue(ago_s: float, kind: CueKind = CueKind.OUT_OF_BAND, **changes: Any) -> CueNote:
    fields: dict[str, Any] = {
        "kind": kind,
        "measure": "cadence",
        "side": None,
        "step_number": round(1100 - 2.8 * ago_s),
        "at_ns": AT_NS - round(ago_s * S),
        "latency_ms": 21.4,
    }
    return CueNote(**(fields | changes))


CHANGE: Final = ChangeNote(
    at_ns=AT_NS - 34 * S,
    who="Consulting room 2",
    number=0,
    revision=2,
    measure="cadence",
    side=None,
    unit="steps/min",
    old_low=168.0,
    old_high=176.0,
    low=171.0,
    high=179.0,
    beat_spm=175.0,
    from_step=1006,
)
REMARK: Final = Remark(at_ns=AT_NS - 20 * S, who="the panel", text="Shoulders drop when reminded")


def running(**changes: Any) -> Snapshot:
    """A drill under way, with two targets."""
    fields: dict[str, Any] = {
        "number": 4_000,
        "at_ns": AT_NS,
        "focus": CADENCE_FOCUS,
        "readings": readings(),
        "cues": (cue(14), cue(9, CueKind.BACK_IN_BAND), cue(3)),
        "targets": (
            target(revision=2, by_hand=True, can_undo=True),
            STRIKE,
        ),
        "changes": (CHANGE,),
        "remarks": (REMARK,),
        "elapsed_s": 395.0,
        "remaining_s": 1_405.0,
        "step_number": 1_100,
        "block": BlockNote(
            number=2,
            count=len(BLOCKS),
            kind=BlockKind.CUED,
            line="block_cued",
            remaining_s=135.0,
            belt_speed_kmh=10.0,
        ),
    }
    return snapshot(**(fields | changes))


def known(
    shown: Snapshot | None,
    state: LinkState = LinkState.JOINED,
    why: str = "",
    *,
    stop_asked: bool = False,
    ago_ns: int = 0,
    **more: Any,
) -> LinkStatus:
    """What a panel knows when the station was heard ``ago_ns`` ago."""
    at_ns = None if shown is None else now_ns() - ago_ns
    fields: dict[str, Any] = {"briefing": briefing(), "picture": None, **more}
    return LinkStatus(state, why, shown, at_ns, stop_asked, **fields)


def states() -> dict[str, LinkStatus]:
    """Every state by name, fresh as of now."""
    shot = picture()
    over: dict[str, Any] = {
        "state": SessionState.STOPPED,
        "stop_reason": StopReason.PAIN,
        "saved": True,
        "focus": None,
        "pain": 6,
    }
    doubtful = tuple(
        msgspec.structs.replace(one, quality=0.31, age_ms=2_600.0)
        if one.name.startswith(("strike", "shank"))
        else one
        for one in readings()
    )
    behind = running(
        view=View.BEHIND,
        readings=readings(View.BEHIND),
        targets=(
            target(
                measure="pelvic_shift", side=Side.LEFT, unit="cm", low=None, high=3.0,
                beat_spm=None, aim=3.0, aim_least=2.05, aim_most=3.95, value=3.6,
                state=BandState.ABOVE,
            ),
        ),
        block=None,
        changes=(),
    )  # fmt: skip
    return {
        "empty": known(None, LinkState.CONNECTING, briefing=None),
        "cautions": known(running(state=SessionState.CAUTIONS, focus=None, cues=()), picture=shot),
        "ready": known(
            running(
                state=SessionState.READY,
                readings=(),
                cues=(),
                changes=(),
                remarks=(),
                elapsed_s=0.0,
                problems=(describe("no_runner"),),
                targets=(target(value=None, state=BandState.UNKNOWN),),
            ),
            picture=picture(xy=(), marks=()),
        ),
        "unmeasured": known(
            running(
                state=SessionState.READY,
                readings=(),
                cues=(),
                changes=(),
                remarks=(),
                elapsed_s=0.0,
                problems=(describe("legs_alike"), describe("runner_small", percent=42)),
                targets=(target(value=None, state=BandState.UNKNOWN),),
            ),
            picture=shot,
        ),
        "running": known(
            running(
                targets=(target(value=175.1, state=BandState.INSIDE), STRIKE),
                focus=msgspec.structs.replace(
                    CADENCE_FOCUS, value=175.1, state=BandState.INSIDE, words=""
                ),
            ),
            picture=shot,
        ),
        "out_of_band": known(running(consoles=("Consulting room 2",)), picture=shot),
        "asked": known(running(asked=Question.PAIN, pain=2), picture=shot),
        "behind": known(behind, picture=shot, briefing=briefing(own=own(View.BEHIND), blocks=())),
        "problem": known(
            running(
                problems=(describe("camera_moved"), describe("sound_missing")),
                readings=doubtful,
                sound_on=False,
            ),
            picture=shot,
        ),
        "widest": known(
            running(
                code_name=40 * "W",
                demo=True,
                sound_on=False,
                consoles=(18 * "W", 16 * "M"),
                elapsed_s=5_999.0,
                block=BlockNote(
                    number=10,
                    count=12,
                    kind=BlockKind.UNCUED,
                    line="block_uncued",
                    remaining_steps=10_000,
                    belt_speed_kmh=10.5,
                    belt_changes=True,
                ),
                problems=(describe("camera_moved"), describe("sound_missing")),
            ),
            picture=shot,
        ),
        "paused": known(running(state=SessionState.PAUSED), picture=shot),
        "stopping": known(running(), stop_asked=True, picture=shot),
        "stopped": known(running(**over), picture=shot),
        "lost": known(running(), LinkState.LOST, "reset", ago_ns=8 * S, picture=shot),
        "lost_seeking": known(
            running(), LinkState.LOST, "reset", ago_ns=8 * S, lost_ns=now_ns() - 8 * S, picture=shot
        ),
        "lost_stop": known(
            running(), LinkState.LOST, "reset", ago_ns=8 * S, stop_asked=True, picture=shot
        ),
        "refused": known(None, LinkState.REFUSED, "Its key is unknown or was already used."),
    }
