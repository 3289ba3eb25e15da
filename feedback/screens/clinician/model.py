"""From what the panel knows of its station to what it shows, without any drawing (pure)."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from feedback.link.client_state import LinkState, LinkStatus
from feedback.screens.clinician.chart_data import nice_step
from feedback.screens.clinician.in_focus import NO_FOCUS, FocusShown, show_focus
from feedback.screens.clinician.measure_rows import MeasureRow, band_text, measure_rows
from feedback.texts import runner as wording
from feedback.texts.clinician import say
from feedback.texts.measures import short_title, unit_text
from shared.catalogue import CATALOGUE
from shared.changes import ChangeNote, TargetState
from shared.flow import BandState, Side
from shared.messages import (
    BlockNote,
    Briefing,
    PlannedBlock,
    SensorValue,
    SessionState,
    Snapshot,
)
from shared.problems.unmeasured import UNMEASURED
from shared.targets import Question

LATE_NS: Final = 1_000_000_000
"""Ten snapshots missed: what is shown are old values."""
_NAMED_LETTERS: Final = 30
"""Consoles are named where their names take no more; else they are counted."""
_CHANGEABLE: Final = frozenset({SessionState.READY, SessionState.RUNNING, SessionState.PAUSED})


@dataclass(frozen=True, slots=True)
class Line:
    """A line of words that is well, or is not."""

    text: str
    well: bool = True


@dataclass(frozen=True, slots=True)
class Card:
    """One target with its control."""

    number: int
    revision: int
    measure: str
    side: Side | None
    title: str
    band: str
    value: str
    state: BandState
    notes: str
    """Cued now, set by hand."""
    aim: float
    least: float
    most: float
    """As far as the control goes: never outside what is allowed, rounded to ``decimals``."""
    step: float
    decimals: int
    unit: str
    allowed: str
    movable: bool
    can_undo: bool
    changed_by: str
    """Who made its newest change; empty for the drill."""


@dataclass(frozen=True, slots=True)
class BlockShown:
    """One block of the drill."""

    text: str
    on: bool


@dataclass(frozen=True, slots=True)
class PanelShowing:
    """One picture of the panel; what comes as points, pictures and answers is apart from it."""

    name: str = ""
    state: str = ""
    state_well: bool = True
    more: tuple[str, ...] = ()
    """Lines under the state: block and time, or why it ended."""
    link: Line = Line("")
    link_short: str = ""
    """Only where the link is not well."""
    old: bool = False
    """What is shown holds no longer."""
    live: bool = False
    """Something can be asked of the station now, beside Stop."""
    stoppable: bool = True
    problems: tuple[Line, ...] = ()
    quality: str = ""
    """What a developer looks at: pictures, times, qualities."""
    special: str = ""
    """What is unlike an ordinary session: no sound, a recorded clip."""
    rows: tuple[MeasureRow, ...] = ()
    cards: tuple[Card, ...] = ()
    blocks: tuple[BlockShown, ...] = ()
    block_now: int = 0
    """From 1; 0: no drill is followed, or it has not begun."""
    next_block: int | None = None
    changeable: bool = False
    """Targets and blocks can be changed now."""
    pausable: bool = False
    can_go_on: bool = False
    asked: Question | None = None
    pain: str = ""
    pain_limit: int = 5
    company: str = ""
    """Who else takes part."""
    in_focus: FocusShown = NO_FOCUS
    confirmed: bool = True
    """The cautions are confirmed, as far as is known."""
    focus: str = ""
    """The cued value in one line, for the list of stations."""
    sensors: tuple[SensorValue, ...] = ()
    """What treadmill, strap and pod say, for the small charts."""
    at_ns: int = 0
    """The station's clock."""


def show_panel(status: LinkStatus, now_ns: int) -> PanelShowing:
    """What to show at ``now_ns``."""
    snapshot, briefing = status.snapshot, status.briefing
    silent_ns = 0 if status.heard_ns is None else max(0, now_ns - status.heard_ns)
    joined = status.state is LinkState.JOINED
    old = not joined or silent_ns > LATE_NS
    live = joined and not old and snapshot is not None
    link = _link(status, silent_ns / 1e9, late=old)
    short = "" if link.well else say("link_short", age=round(silent_ns / 1e9))
    unsent = status.stop_asked and not live
    if snapshot is None:
        waiting = "state_refused" if status.state is LinkState.REFUSED else "state_none"
        return PanelShowing(
            name="" if briefing is None else briefing.code_name,
            state=say("state_stop_unsent" if unsent else waiting),
            state_well=not unsent,
            more=(say("state_stop_unsent_do"),) if unsent else (),
            link=link,
            link_short=short,
            old=old,
            confirmed=False,
        )
    stopped = snapshot.state is SessionState.STOPPED
    state, well, more = _state(snapshot, stop_asked=status.stop_asked, unsent=unsent, old=old)
    own = () if briefing is None else briefing.own
    changeable = live and snapshot.state in _CHANGEABLE
    planned = () if briefing is None else briefing.blocks
    now = 0 if snapshot.block is None else snapshot.block.number
    rows = measure_rows(snapshot.view, snapshot.readings, own, snapshot.targets, silent_ns / 1e9)
    return PanelShowing(
        name=snapshot.code_name,
        state=state,
        state_well=well,
        more=(*more, *_sensors(snapshot)),
        link=link,
        link_short=short,
        old=old,
        live=live,
        stoppable=not stopped,
        problems=() if old else _problems(snapshot, status.why),
        quality=_quality(snapshot),
        special=_special(snapshot),
        rows=rows,
        cards=tuple(_card(target, snapshot.changes) for target in snapshot.targets),
        blocks=_blocks(planned, snapshot.block),
        block_now=now,
        next_block=now + 1 if changeable and 0 < now < len(planned) else None,
        changeable=changeable,
        pausable=live and snapshot.state is SessionState.RUNNING,
        can_go_on=live and snapshot.state is SessionState.PAUSED,
        asked=snapshot.asked if live else None,
        pain="" if snapshot.pain is None else say("rating_last_pain", value=snapshot.pain),
        pain_limit=_pain_limit(briefing),
        company=_company(snapshot.consoles),
        in_focus=show_focus(snapshot, rows),
        confirmed=snapshot.state is not SessionState.CAUTIONS,
        focus=_focus(snapshot),
        sensors=snapshot.sensors,
        at_ns=snapshot.at_ns,
    )


def station_now_ns(status: LinkStatus, now_ns: int) -> int | None:
    """What the station's clock says about now; it stands still while nothing is heard."""
    if status.snapshot is None or status.heard_ns is None:
        return None
    return status.snapshot.at_ns + min(max(0, now_ns - status.heard_ns), LATE_NS)


def _pain_limit(briefing: Briefing | None) -> int:
    return PanelShowing().pain_limit if briefing is None else briefing.pain_stop_over


def _link(status: LinkStatus, silent_s: float, *, late: bool) -> Line:
    match status.state:
        case LinkState.REFUSED:
            return Line(say("link_refused", why=status.why), well=False)
        case LinkState.ENDED:
            return Line(say("link_ended"), well=False)
        case LinkState.CONNECTING if status.heard_ns is None:
            return Line(say("link_joining"))
        case LinkState.LOST if status.heard_ns is None:
            return Line(say("link_silent", why=status.why), well=False)
        case LinkState.LOST if status.lost_ns is None:  # nobody calls it again
            return Line(say("link_gone"), well=False)
        case LinkState.LOST | LinkState.CONNECTING:
            return Line(say("link_lost", age=round(silent_s)), well=False)
    age = wording.number(silent_s, 1)
    return Line(say("link_late" if late else "link_good", age=age), well=not late)


def _state(
    snapshot: Snapshot, *, stop_asked: bool, unsent: bool, old: bool
) -> tuple[str, bool, tuple[str, ...]]:
    """The state, whether it is an ordinary one, and the lines under it."""
    if snapshot.state is SessionState.STOPPED:
        lines = [say(f"reason_{snapshot.stop_reason or 'unknown'}")]
        if snapshot.saved is not None:
            lines.append(say("saved" if snapshot.saved else "not_saved"))
        if not snapshot.demo:
            lines.append(say("belt_runs_on"))
        return say("state_stopped"), snapshot.saved is not False, (" ".join(lines),)
    if unsent:
        return say("state_stop_unsent"), False, (say("state_stop_unsent_do"),)
    if stop_asked:
        return say("state_stopping"), False, ()
    lines = [_time(snapshot)] if snapshot.block is None else [_block_line(snapshot.block)]
    if snapshot.block is not None and not snapshot.block.belt_changes:
        lines.append(_time(snapshot))
    state = say(f"state_{snapshot.state}")
    if snapshot.state is SessionState.READY and _seen_unmeasured(snapshot):
        state = say("state_ready_unmeasured")
    return say("state_old", state=state) if old else state, True, (" · ".join(lines),)


def _seen_unmeasured(snapshot: Snapshot) -> bool:
    """Whether somebody is there, and it is said why no step is measured."""
    codes = {problem.code for problem in snapshot.problems}
    return bool(codes & UNMEASURED) and "no_runner" not in codes


def _time(snapshot: Snapshot) -> str:
    so_far = say("time_session", time=wording.clock(snapshot.elapsed_s))
    if snapshot.remaining_s is None:
        return so_far
    return f"{so_far}, {say('time_left', time=wording.clock(snapshot.remaining_s))}"


def _block_line(block: BlockNote) -> str:
    line = say(
        "block_of",
        number=block.number,
        count=block.count,
        kind=say(f"kind_{block.kind}"),
        left=_left(block),
    )
    if block.belt_changes and block.belt_speed_kmh is not None:
        return f"{line} · {say('block_belt', speed=_speed(block.belt_speed_kmh))}"
    return line


def _left(block: BlockNote) -> str:
    if block.remaining_steps is not None:
        return say("block_steps_left", count=block.remaining_steps)
    return say("block_time_left", time=wording.clock(block.remaining_s or 0.0))


def _speed(kmh: float) -> str:
    return wording.number(kmh, 0 if kmh == int(kmh) else 1)


def _problems(snapshot: Snapshot, link_says: str) -> tuple[Line, ...]:
    lines = [link_says] if link_says else []
    lines += [
        say("problem_line", title=problem.title, action=problem.action)
        for problem in snapshot.problems
    ]
    return tuple(Line(line, well=False) for line in lines) or (Line(say("all_well")),)


def _company(names: tuple[str, ...]) -> str:
    if not names:
        return ""
    told = ", ".join(names)
    return say("log_company", names=told if len(told) <= _NAMED_LETTERS else len(names))


def _quality(snapshot: Snapshot) -> str:
    pictures = wording.number(snapshot.frames_per_s, 0)
    if snapshot.decision_ms is None:
        parts = [say("quality_no_decision", pictures=pictures)]
    else:
        decision = wording.number(snapshot.decision_ms, 0)
        parts = [say("quality_line", pictures=pictures, decision=decision)]
    if snapshot.readings:
        worst = min(reading.quality for reading in snapshot.readings)
        parts.append(say("quality_worst", quality=wording.number(worst, 2)))
    return " · ".join(parts)


def _special(snapshot: Snapshot) -> str:
    parts = [] if snapshot.sound_on else [say("head_sound_off")]
    if snapshot.demo:
        parts.append(say("head_demo"))
    return " · ".join(parts)


_SENSORS: Final = {
    "belt_speed": ("sensor_belt_speed", 1),
    "incline": ("sensor_incline", 1),
    "heart_rate": ("sensor_heart_rate", 0),
    "pod_cadence": ("sensor_pod_cadence", 0),
}
"""Text and decimals of what treadmill, strap and pod say."""


def _sensors(snapshot: Snapshot) -> tuple[str, ...]:
    shown = ((*_SENSORS[one.name], one.value) for one in snapshot.sensors)
    return tuple(say(key, value=wording.number(value, decimals)) for key, decimals, value in shown)


def _card(target: TargetState, changes: Sequence[ChangeNote]) -> Card:
    spec = CATALOGUE[target.measure]
    who = [change.who for change in changes if change.number == target.number]
    decimals = spec.decimals
    tens = 10.0**decimals
    # the nearest round values inside the range, so that no shown value is ever refused
    least = math.ceil(round(target.aim_least * tens, 6)) / tens
    most = math.floor(round(target.aim_most * tens, 6)) / tens
    unit = unit_text(target.unit)
    movable = least < most
    band = say("target_band", band=band_text(target.low, target.high, decimals), unit=unit)
    if target.beat_spm is not None:
        beat = say("target_beat", beat=wording.number(target.beat_spm, decimals))
        band = f"{band}, {beat}"
    flags = ((target.in_focus, "target_cued"), (target.by_hand, "target_by_hand"))
    value = say("target_no_value")
    if target.value is not None and target.state is not BandState.UNKNOWN:
        value = say(
            "target_value",
            value=wording.number(target.value, decimals),
            state=say(f"card_{target.state}"),
        )
    allowed = say(
        "target_allowed",
        least=wording.number(least, decimals),
        most=wording.number(most, decimals),
        unit=unit,
    )
    return Card(
        number=target.number,
        revision=target.revision,
        measure=target.measure,
        side=target.side,
        title=short_title(target.measure, target.side),
        band=band,
        value=value,
        state=target.state,
        notes=" · ".join(say(key) for flag, key in flags if flag),
        aim=target.aim,
        least=least,
        most=most,
        step=_step(spec.plausible, decimals),
        decimals=decimals,
        unit=unit,
        allowed=allowed if movable else say("target_fixed"),
        movable=movable,
        can_undo=target.can_undo,
        changed_by=who[-1] if who else "",
    )


def _step(plausible: tuple[float, float], decimals: int) -> float:
    """One press of + or -: about a two hundredth of what the measure can be, and a round value."""
    return float(max(nice_step((plausible[1] - plausible[0]) / 200), 10.0**-decimals))


def _blocks(planned: tuple[PlannedBlock, ...], on: BlockNote | None) -> tuple[BlockShown, ...]:
    shown = []
    for number, block in enumerate(planned, start=1):
        row = _planned(number, block)
        if on is not None and number < on.number:  # the head tells how much of this one remains
            row = say("block_done", row=row)
        shown.append(BlockShown(row, on is not None and number == on.number))
    return tuple(shown)


def _planned(number: int, block: PlannedBlock) -> str:
    if block.steps is not None:
        length = say("block_steps", steps=block.steps)
    else:
        minutes = block.minutes or 0.0
        length = say(
            "block_minutes", minutes=wording.number(minutes, 0 if minutes == int(minutes) else 1)
        )
    kind, speed = say(f"kind_{block.kind}"), _speed(block.belt_speed_kmh)
    if not block.cued:
        return say("block_row", number=number, kind=kind, length=length, speed=speed)
    measure = short_title(block.cued)
    return say(
        "block_row_cued", number=number, kind=kind, measure=measure, length=length, speed=speed
    )


def _focus(snapshot: Snapshot) -> str:
    focus = snapshot.focus
    if focus is None:
        return say("station_no_focus")
    known = focus.state is not BandState.UNKNOWN
    return say(
        "station_focus",
        title=short_title(focus.measure, focus.side),
        value=wording.number(focus.value if known else None, CATALOGUE[focus.measure].decimals),
        unit=unit_text(focus.unit),
        state=say(f"card_{focus.state}"),
    )
