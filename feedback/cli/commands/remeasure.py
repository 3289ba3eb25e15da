"""``beltside remeasure``: a session's landmarks once more through measuring and cueing."""

from __future__ import annotations

import argparse
import logging
from collections import Counter
from collections.abc import Iterable
from pathlib import Path
from typing import Final

import msgspec

from feedback.journal.entries import CueEntry, Entry, EventEntry, JudgementEntry, MeasureEntry
from feedback.journal.writer import SUFFIX, read_journal
from feedback.session.track_file import TrackRead, read_track
from feedback.station.tracked import Again
from feedback.terminal.guard import OK, PROBLEM, say
from shared.language import _
from shared.problems import UserError

KINDS: Final[dict[type[msgspec.Struct], str]] = {
    EventEntry: "steps' events",
    MeasureEntry: "measures",
    JudgementEntry: "verdicts",
    CueEntry: "cues",
}


def run(options: argparse.Namespace) -> int:
    """Measure it anew and compare. Raises UserError; exit code 1 when something differs."""
    path = options.file.expanduser()
    track, again = measured_anew(path)
    record = read_journal(path.with_suffix(SUFFIX))
    differs = False
    for kind, name in KINDS.items():
        before, now = _counted(kind, record.entries), _counted(kind, again)
        lost, new = (before - now).total(), (now - before).total()
        differs = differs or bool(lost or new)
        how = _("no change") if not lost + new else f"{lost} gone, {new} new"
        say(
            _("{name}: {total} in the record, {total_2} now; {how}").format(
                name=name, total=before.total(), total_2=now.total(), how=how
            )
        )
    if differs:
        then = track.header.session.versions.get("beltside", _("another version"))
        say(_("The session was held with Beltside {then}.").format(then=then))
    return PROBLEM if differs else OK


def measured_anew(path: Path) -> tuple[TrackRead, tuple[Entry, ...]]:
    """A track, and what it comes to now. Raises UserError."""
    track = read_track(path)
    try:
        return track, tuple(Again(track).entries())
    except Exception as error:
        # Its lines are of the right kinds, but no camera and no session gave such values: where
        # that comes to light depends on the value.
        logging.getLogger("beltside").exception("%s cannot be measured anew", path)
        why = _("it contains impossible values")
        raise UserError("file_unreadable", repr(error), path=str(path), why=why) from error


def _counted(kind: type[msgspec.Struct], entries: Iterable[Entry]) -> Counter[bytes]:
    return Counter(msgspec.json.encode(entry) for entry in entries if isinstance(entry, kind))
