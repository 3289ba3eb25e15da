"""From what a screen knows to what it shows: pages, texts and the gauge (pure)."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Final

from feedback.link.client_state import LinkState, LinkStatus
from feedback.safety.warnings import EDGE
from feedback.screens.runner.gauge import Gauge, gauge
from feedback.texts import runner as wording
from feedback.texts.measures import runner_title, unit_text
from feedback.texts.numbers import general
from feedback.texts.runner import words
from shared.catalogue import CATALOGUE
from shared.flow import BandState
from shared.messages import BlockNote, Focus, SessionState, Snapshot
from shared.problems import Problem
from shared.problems.unmeasured import UNMEASURED
from shared.targets import Question

NO_VALUE_AFTER_NS: Final = 1_000_000_000
"""Ten snapshots missed: the number on the screen would be a stale one."""
GONE_AFTER_NS: Final = 2_000_000_000
NOTES: Final = frozenset(
    {
        "sound_missing",
        "sound_library_missing",
        "sound_lost",
        "journal_failed",
        "frame_rate_low",
        "edges_off",
        "people_late",
        "announce_failed",
        "console_lost",
    }
)
"""Problems that leave the values good: told in a corner. Any other takes the number's place."""


class RunnerPage(StrEnum):
    """What kind of picture is shown."""

    VALUE = "value"
    READY = "ready"
    MESSAGE = "message"


class Button(StrEnum):
    """What a button does. One of the first two is always there, one of the others sometimes."""

    STOP = "stop"
    CLOSE = "close"
    CONFIRM = "confirm"
    """The cautions have been seen to."""
    GO_ON = "go_on"
    """After a pause."""


@dataclass(frozen=True, slots=True)
class Showing:
    """One picture of the screen, in words and positions."""

    page: RunnerPage
    button: Button = Button.STOP
    action: Button | None = None
    """A second button, beside the first."""
    pausable: bool = False
    rates: Question | None = None
    """What a digit rates now."""
    title: str = ""
    asks: bool = False
    """The title is a question."""
    clock: str = ""
    number: str = ""
    widest: str = ""
    """As wide as the number can be: its place is that wide, so that its digits stay where they
    are."""
    unit: str = ""
    gauge: Gauge | None = None
    line: str = ""
    state: BandState = BandState.UNKNOWN
    heading: str = ""
    texts: tuple[str, ...] = ()
    small_print: tuple[str, ...] = ()
    """Read standing still."""
    demo: str = ""
    note: str = ""
    final: bool = False
    """The session is over or the station is gone: shown at once, whatever came just before."""


def show(status: LinkStatus, now_ns: int) -> Showing:
    """What to show at ``now_ns``."""
    snapshot = status.snapshot
    if snapshot is not None and snapshot.state is SessionState.STOPPED:
        return _stopped(snapshot)
    if status.state is LinkState.REFUSED:
        return _end(words("refused_title"), status.why, words("refused_action"))
    silent_ns = 0 if status.heard_ns is None else now_ns - status.heard_ns
    if status.state is LinkState.LOST or silent_ns > GONE_AFTER_NS:
        return _end(words("gone_title"), words("gone_text"), words("gone_action"))
    if status.stop_asked:
        return Showing(
            page=RunnerPage.MESSAGE,
            heading=words("stopping_title"),
            texts=(words("stopping_text"),),
            final=True,
        )
    if snapshot is None:
        return Showing(
            page=RunnerPage.MESSAGE,
            heading=words("connecting_title"),
            texts=(words("connecting_text"),),
        )
    return _session(snapshot, _own_mean(status), stale=silent_ns > NO_VALUE_AFTER_NS)


def _own_mean(status: LinkStatus) -> float | None:
    """The runner's baseline of what is cued, in the same unit; of a measure by side their mean."""
    snapshot, briefing = status.snapshot, status.briefing
    if snapshot is None or snapshot.focus is None or briefing is None:
        return None
    focus = snapshot.focus
    means = [
        own.mean
        for own in briefing.own
        if own.name == focus.measure
        and own.unit == focus.unit
        and (focus.side is None or own.side is focus.side)
    ]
    return sum(means) / len(means) if means else None


def _session(snapshot: Snapshot, own: float | None, *, stale: bool) -> Showing:
    blocking, note = _sort(snapshot.problems)
    middle = _middle(snapshot, blocking, own, stale=stale)
    showing = replace(
        middle,
        title=_title(snapshot, middle),
        clock=_clock(snapshot, number=middle.page is RunnerPage.VALUE),
        pausable=snapshot.state is SessionState.RUNNING,
        rates=snapshot.asked or Question.PAIN,
        asks=_asks_above(snapshot, middle),
    )
    if showing.action is not None:  # its button takes the corner
        waits = snapshot.state is SessionState.CAUTIONS
        return replace(showing, title="", clock="" if waits else showing.clock)
    return replace(
        showing,
        demo=words("demo") if snapshot.demo else "",
        note=_note(note, snapshot.pain),
    )


def _asks_above(snapshot: Snapshot, middle: Showing) -> bool:
    """Whether a question takes the title's place: it hides no word that tells what to do."""
    asked = _question(snapshot)
    return middle.page is RunnerPage.VALUE and bool(asked) and middle.line not in asked


def _title(snapshot: Snapshot, middle: Showing) -> str:
    """The measure that is cued, or a question in its place."""
    if _asks_above(snapshot, middle):
        return words(f"ask_{snapshot.asked}")
    focus = snapshot.focus
    return "" if focus is None else runner_title(focus.measure, focus.side)


def _note(problem: Problem | None, pain: int | None) -> str:
    if problem is not None:
        return problem.title
    return "" if pain is None else words("pain_rated", value=pain)


def _middle(
    snapshot: Snapshot, blocking: Problem | None, own: float | None, *, stale: bool
) -> Showing:
    match snapshot.state:
        case SessionState.CAUTIONS:
            return Showing(
                page=RunnerPage.READY,
                action=Button.CONFIRM,
                heading=words("cautions_title"),
                small_print=tuple(map(words, wording.CAUTIONS)),
            )
        case SessionState.READY:
            return Showing(
                page=RunnerPage.READY,
                heading=words("ready_title") if blocking is None else blocking.title,
                texts=(words("ready_text") if blocking is None else blocking.action,),
                small_print=tuple(map(words, wording.CAUTIONS[:3])),
            )
        case SessionState.PAUSED:
            return Showing(
                page=RunnerPage.MESSAGE,
                action=Button.GO_ON,
                heading=words("paused_title"),
                texts=(words("paused_text"), *_question(snapshot)),
            )
    if snapshot.warning == EDGE:
        text = words("warn_belt_edge_text")
        return Showing(page=RunnerPage.MESSAGE, heading=words(EDGE), texts=(text,))
    if blocking is not None:
        texts = (blocking.action, *_question(snapshot))
        return Showing(page=RunnerPage.MESSAGE, heading=blocking.title, texts=texts)
    return _value(snapshot, own, stale=stale)


def _block_line(block: BlockNote) -> str:
    if block.belt_changes and block.belt_speed_kmh is not None:
        speed = general(block.belt_speed_kmh)
        return words("block_belt", speed=speed)
    return words(block.line)


def _left_of(block: BlockNote | None) -> tuple[str, str]:
    """How much of a block without cues is left, in the number's place."""
    if block is None:
        return words("no_value"), ""
    if block.remaining_steps is not None:
        return str(block.remaining_steps), words("steps_left")
    return wording.clock(block.remaining_s or 0.0), words("minutes_left")


def _question(snapshot: Snapshot) -> tuple[str, ...]:
    return () if snapshot.asked is None else (words(f"ask_{snapshot.asked}"),)


def _value(snapshot: Snapshot, own: float | None, *, stale: bool) -> Showing:
    focus = snapshot.focus
    first: tuple[str, ...] = (words(snapshot.warning),) if snapshot.warning else ()
    if snapshot.block is not None and snapshot.block.belt_changes:
        first = first or (_block_line(snapshot.block),)
    if focus is None:  # nothing is cued, so a question takes no word's place
        first = first or _question(snapshot)
    if snapshot.block is not None and focus is None:
        first = first or (_block_line(snapshot.block),)
    if focus is None:
        number, unit = _left_of(snapshot.block)
        line = first[0] if first else words("line_no_target")
        return Showing(page=RunnerPage.VALUE, number=number, unit=unit, line=line)
    value = None if stale or focus.state is BandState.UNKNOWN else focus.value
    value = value if value is not None and math.isfinite(value) else None
    state = BandState.UNKNOWN if value is None else focus.state
    return Showing(
        page=RunnerPage.VALUE,
        number=wording.number(value, CATALOGUE[focus.measure].decimals),
        widest=_widest(focus.measure),
        unit="" if value is None else unit_text(focus.unit),
        gauge=gauge(focus, value, own),
        line=first[0] if first else _line(focus, state),
        state=state,
    )


def _widest(measure: str) -> str:
    """A text as wide as any value of the measure: all its digits are 0, which is no wider."""
    spec = CATALOGUE[measure]
    ends = (wording.number(end, spec.decimals) for end in spec.plausible)
    longest = max(ends, key=len)
    return "".join("0" if letter.isdigit() else letter for letter in longest)


def _line(focus: Focus, state: BandState) -> str:
    known = state is not BandState.UNKNOWN and focus.words in wording.TEXTS
    return words(focus.words if known else f"line_{state}")


def _sort(problems: tuple[Problem, ...]) -> tuple[Problem | None, Problem | None]:
    """The first problem that takes the number's place, and the first that is only noted."""
    blocking = next((problem for problem in problems if problem.code not in NOTES), None)
    note = next((problem for problem in problems if problem.code in NOTES), None)
    return blocking, note


def _clock(snapshot: Snapshot, *, number: bool) -> str:
    """What is left of the block, else of the session; ``number``: a value or that is shown."""
    block = snapshot.block
    if block is not None:
        if number and snapshot.focus is None:
            return ""  # it stands large in the number's place
        if block.remaining_steps is not None:
            return words("clock_steps_left", count=block.remaining_steps)
        if block.remaining_s is not None:
            return words("time_left", time=wording.clock(block.remaining_s))
    waits = snapshot.state in (SessionState.CAUTIONS, SessionState.READY)
    if snapshot.remaining_s is None and waits:
        return ""
    if snapshot.remaining_s is not None:
        return words("time_left", time=wording.clock(snapshot.remaining_s))
    return words("time_so_far", time=wording.clock(snapshot.elapsed_s))


def _stopped(snapshot: Snapshot) -> Showing:
    reason = snapshot.stop_reason or "unknown"
    if f"{snapshot.then}_text" in wording.TEXTS:
        return _followed(snapshot)
    why = next((one for one in snapshot.problems if one.code in UNMEASURED), None)
    nothing = () if why is None else (words("stopped_unmeasured", why=why.title), why.action)
    told = {None: (), True: (words("stopped_saved"),), False: (words("stopped_not_saved"),)}
    belt = () if snapshot.demo else (words("stopped_belt"),)
    return Showing(
        page=RunnerPage.MESSAGE,
        button=Button.CLOSE,
        heading=words("stopped_title"),
        texts=(words(f"reason_{reason}"), *nothing, *told[snapshot.saved], *belt),
        demo=words("demo") if snapshot.demo else "",
        final=True,
    )


def _followed(snapshot: Snapshot) -> Showing:
    """An end after which something else begins by itself."""
    last = snapshot.then == wording.NEXT_REPORT
    keys = () if last else (words("next_keys"),)
    return Showing(
        page=RunnerPage.MESSAGE,
        button=Button.CLOSE if last else Button.STOP,
        heading=words(f"{snapshot.then}_title"),
        texts=(words(f"{snapshot.then}_text"), *keys),
        demo=words("demo") if snapshot.demo else "",
        final=True,
    )


def _end(heading: str, *texts: str) -> Showing:
    return Showing(
        page=RunnerPage.MESSAGE,
        button=Button.CLOSE,
        heading=heading,
        texts=tuple(text for text in texts if text),
        final=True,
    )
