"""``beltside remeasure``: a session's landmarks once more through measuring and cueing."""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Iterable
from typing import Final

import msgspec

from feedback.guard import OK, PROBLEM, say
from feedback.records.entries import CueEntry, Entry, EventEntry, JudgementEntry, MeasureEntry
from feedback.records.journal import SUFFIX, read_journal
from feedback.records.track import read_track
from feedback.tracking import Again

KINDS: Final[dict[type[msgspec.Struct], str]] = {
    EventEntry: "steps' events",
    MeasureEntry: "measures",
    JudgementEntry: "verdicts",
    CueEntry: "cues",
}


def run(options: argparse.Namespace) -> int:
    """Measure it anew and compare. Raises UserError; exit code 1 when something differs."""
    path = options.file.expanduser()
    track = read_track(path)
    record = read_journal(path.with_suffix(SUFFIX))
    again = tuple(Again(track).entries())
    differs = False
    for kind, name in KINDS.items():
        before, now = _counted(kind, record.entries), _counted(kind, again)
        lost, new = (before - now).total(), (now - before).total()
        differs = differs or bool(lost or new)
        how = "all the same" if not lost + new else f"{lost} gone, {new} new"
        say(f"{name}: {before.total()} in the record, {now.total()} now; {how}")
    if differs:
        then = track.header.session.versions.get("beltside", "another version")
        say(f"The session was held with Beltside {then}.")
    return PROBLEM if differs else OK


def _counted(kind: type[msgspec.Struct], entries: Iterable[Entry]) -> Counter[bytes]:
    return Counter(msgspec.json.encode(entry) for entry in entries if isinstance(entry, kind))
