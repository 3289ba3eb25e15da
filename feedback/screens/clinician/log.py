"""The panel's log: cues, changes and notes as they come in, each once, newest first (pure)."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from feedback.cueing.cue_table import CUES
from feedback.screens.clinician.measure_rows import band_text
from feedback.texts import runner as wording
from feedback.texts.clinician import say
from feedback.texts.measures import short_title, unit_text
from shared.catalogue import CATALOGUE
from shared.changes import ChangeNote, Remark
from shared.messages import CueNote, Snapshot
from shared.plain_text import isolated

MOST_LINES: Final = 300


class LineKind(StrEnum):
    """What a line of the log is about."""

    CUE = "cue"
    CHANGE = "change"
    REMARK = "remark"


@dataclass(frozen=True, slots=True)
class LogLine:
    """One line, ready to read."""

    at_ns: int
    kind: LineKind
    text: str
    details: str = ""
    """The same with step numbers and times; empty where there are none."""


class PanelLog:
    """Grows with what each snapshot brings; the station sends only the newest few of each."""

    def __init__(self) -> None:
        self._seen: set[tuple[LineKind, int, object]] = set()
        self._lines: list[LogLine] = []

    @property
    def lines(self) -> tuple[LogLine, ...]:
        """Newest first."""
        return tuple(self._lines)

    def clear(self) -> None:
        """Another run of the station begins."""
        self._seen.clear()
        self._lines.clear()

    def add(self, snapshot: Snapshot) -> bool:
        """Take in what is new; True when there was something."""
        fresh = [
            line
            for kind, notes in (
                (LineKind.CUE, snapshot.cues),
                (LineKind.CHANGE, snapshot.changes),
                (LineKind.REMARK, snapshot.remarks),
            )
            for note in notes
            if (line := self._line(kind, note, snapshot)) is not None
        ]
        if not fresh:
            return False
        self._lines = sorted([*self._lines, *fresh], key=lambda line: line.at_ns, reverse=True)
        del self._lines[MOST_LINES:]
        return True

    def _line(
        self, kind: LineKind, note: CueNote | ChangeNote | Remark, snapshot: Snapshot
    ) -> LogLine | None:
        key = (kind, note.at_ns, note)
        if key in self._seen:
            return None
        self._seen.add(key)
        # the session's clock stands still in a pause, so it is read when the line comes in
        at_s = snapshot.elapsed_s - (snapshot.at_ns - note.at_ns) / 1e9
        text = line_text(note, wording.clock(at_s))
        return LogLine(note.at_ns, kind, text, details_text(note, text))


def details_text(note: CueNote | ChangeNote | Remark, line: str) -> str:
    """The line with the step it belongs to; empty for a note, which belongs to none."""
    match note:
        case CueNote():
            latency = round(note.latency_ms)
            return say("log_cue_details", line=line, step=note.step_number, latency=latency)
        case ChangeNote():
            return say("log_change_details", line=line, step=note.from_step)
        case Remark():
            return ""


def line_text(note: CueNote | ChangeNote | Remark, time: str) -> str:
    """A cue, a change or a note in one line."""
    match note:
        case CueNote(kind=kind, measure=measure, side=side):
            name = CUES[kind].title
            name = name[0].upper() + name[1:]
            if measure is None:
                return say("log_cue", time=time, kind=name)
            title = short_title(measure, side)
            return say("log_cue_measure", time=time, kind=name, title=title)
        case ChangeNote():
            return say(
                "log_change",
                time=time,
                who=isolated(note.who) or say("somebody"),
                title=short_title(note.measure, note.side),
                band=band_text(note.low, note.high, CATALOGUE[note.measure].decimals),
                unit=unit_text(note.unit),
            )
        case Remark():
            return say("log_remark", time=time, who=isolated(note.who), text=isolated(note.text))
