"""The report of a demo: each of its parts as a session is told of, on one page (pure)."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from feedback.cueing.cue_table import CUES
from feedback.journal.entries import CueEntry, JudgementEntry, StateEntry
from feedback.journal.writer import Recording
from feedback.records.page.page import ChartPart, Figures, PrintedPage, TextLines
from feedback.records.report import session_report
from feedback.records.summarise import read_whole
from feedback.records.wording import SMALL_PRINT, figure, minutes, unit_words
from feedback.texts.measures import full_title
from feedback.texts.runner import words
from shared.flow import BandState, Cue, CueKind, Judgement, View
from shared.language import _, mark
from shared.messages import SessionState
from shared.units import NS_PER_S

_PARTS: Final = {
    View.SIDE: mark("Part {number}: from the side"),
    View.BEHIND: mark("Part {number}: from behind"),
    View.FRONT: mark("Part {number}: from in front"),
}
_NO_PERSON: Final = mark(
    "Demonstration with a simulated runner: it says nothing about a real person."
)
_TOLD: Final = (CueKind.OUT_OF_BAND, CueKind.BACK_IN_BAND, CueKind.REMINDER)
_STATES: Final = {
    BandState.INSIDE: mark("{time}: {measure} on target: {value} {unit}"),
    BandState.BELOW: mark("{time}: {measure} below target: {value} {unit}"),
    BandState.ABOVE: mark("{time}: {measure} above target: {value} {unit}"),
}


def demo_report(recordings: Sequence[Recording]) -> PrintedPage:
    """One page on all parts that were played, in their order; at least one."""
    parts: list[TextLines | Figures | ChartPart] = [
        TextLines(
            _("What this is"),
            (
                _("Drawn runners on two recorded clips. Only their movement was laid down before."),
                _("All values and cues are what the program measured and gave as they were shown."),
                _("It is not kept among your sessions, and the next demo replaces it."),
            ),
        )
    ]
    for number, recording in enumerate(recordings, start=1):
        digest, points = read_whole(recording)
        page = session_report(digest, points)
        heading = _(_PARTS[recording.header.view]).format(number=number)
        parts.append(TextLines(heading, tuple(_course(recording))))
        parts += _shortened(page)
    return PrintedPage(
        title=_("Demo: measured, cued, answered"),
        subtitle=_(_NO_PERSON),
        parts=tuple(parts),
        small_print=tuple(_(line) for line in SMALL_PRINT),
    )


def _shortened(page: PrintedPage) -> Iterator[TextLines | ChartPart]:
    """What fits a page on two sessions: no table, and what is said above not once more."""
    said = _(_NO_PERSON)
    for part in page.parts:
        match part:
            case TextLines(heading=heading, lines=lines):
                if left := tuple(line for line in lines if line != said):
                    yield TextLines(heading, left)
            case ChartPart():
                yield part


def _course(recording: Recording) -> Iterator[str]:
    """Cues, and when the value that is aimed at went over a border of its band, in order."""
    zero_ns = recording.header.anchor.monotonic_ns
    aim = recording.header.athlete.targets[0]
    before = BandState.UNKNOWN
    for entry in recording.entries:
        match entry:
            case StateEntry(at_ns=at_ns, state=SessionState.RUNNING):
                zero_ns = at_ns
            case CueEntry(cue=cue) if cue.kind in _TOLD and cue.measure == aim.measure:
                yield _cued(cue, zero_ns)
            case JudgementEntry(judgement=judged) if judged.measure == aim.measure:
                if judged.state in _STATES and judged.state is not before:
                    before = judged.state
                    yield _went(judged, zero_ns)


def _cued(cue: Cue, zero_ns: int) -> str:
    text = _("{time}: cue, {cue}: {line}") if cue.words else _("{time}: cue, {cue}")
    return text.format(
        time=_time(cue.decided_ns, zero_ns),
        cue=_(CUES[cue.kind].title),
        line=words(cue.words) if cue.words else "",
    )


def _went(judged: Judgement, zero_ns: int) -> str:
    return _(_STATES[judged.state]).format(
        time=_time(judged.at_ns, zero_ns),
        measure=full_title(judged.measure, judged.side),
        value=figure(judged.measure, judged.value),
        unit=unit_words(judged.unit),
    )


def _time(at_ns: int, zero_ns: int) -> str:
    return minutes(max(0, at_ns - zero_ns) / NS_PER_S)
