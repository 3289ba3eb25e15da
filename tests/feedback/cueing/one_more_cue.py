"""A cue that the product does not have, added as a row of the table; run in a process of its own.

The kind stands in the enumeration and the row in the table before anything else is imported, just
as if both had been written there. Prints what came of it, as one line of JSON.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

from shared.flow import CueKind

HOLDING = str.__new__(CueKind, "holding")
HOLDING._name_, HOLDING._value_ = "HOLDING", "holding"
CueKind._member_map_["HOLDING"] = HOLDING
CueKind._value2member_map_["holding"] = HOLDING
CueKind._member_names_.append("HOLDING")

from feedback.cueing import cue_table  # noqa: E402
from feedback.cueing.cue_table import CueRow  # noqa: E402
from feedback.cueing.tones import beat  # noqa: E402

cue_table.CUES[HOLDING] = CueRow(
    kind=HOLDING,
    title="well held",
    rank=3,
    sound="hold",
    tones={"hold": beat("Well held.", 660.0, 0.0)},
    lines={"cue_holding": "Keep this rhythm"},
    spoken=True,
    due=lambda moment: not moment.out and not moment.told_out,
)

import msgspec  # noqa: E402
import numpy as np  # noqa: E402

from feedback.cli.common.tell import LineByLine  # noqa: E402
from feedback.cueing.cues import speech_of  # noqa: E402
from feedback.journal.entries import CueEntry, Entry  # noqa: E402
from feedback.journal.writer import read_journal  # noqa: E402
from feedback.link.client_state import LinkState, LinkStatus, ScreenSide  # noqa: E402
from feedback.link.protocol import encode  # noqa: E402
from feedback.records.page.page import TextLines  # noqa: E402
from feedback.records.report import session_report  # noqa: E402
from feedback.records.summarise import digest  # noqa: E402
from feedback.screens.clinician.log import PanelLog  # noqa: E402
from feedback.screens.runner.model import show  # noqa: E402
from feedback.sound.mixer import Mixer  # noqa: E402
from feedback.sound.speech import file_of  # noqa: E402
from feedback.sound.tones import PITCHES, SOUNDS, render_all  # noqa: E402
from shared.flow import Cue  # noqa: E402
from shared.messages import PROTOCOL, Snapshot, Welcome  # noqa: E402
from shared.targets import CueStyle  # noqa: E402
from tests.feedback.making import strike_target  # noqa: E402
from tests.feedback.records.month import short_session, write  # noqa: E402
from tests.feedback.session_run import Run  # noqa: E402

RATE_HZ, BLOCK = 48_000, 256


def planned() -> tuple[Cue, list[Entry], Snapshot]:
    """A session whose runner keeps to the target: the cue, the journal, and what a screen gets."""
    run = Run(strike_target(cues=(CueStyle.WORDS, CueStyle.OUT_OF_BAND))).start()
    outputs = [run.step(number, strike=9.0) for number in range(6)]
    cues = [cue for one in outputs for cue in one.cues]
    screen = ScreenSide("token", "runner")
    screen.on_bytes(encode(Welcome(protocol=PROTOCOL, station="room 1")))
    screen.on_bytes(encode(run.snapshot()))
    assert screen.newest is not None
    assert len(cues) == 1
    return cues[0], [entry for one in outputs for entry in one.journal], screen.newest


def sounded(cue: Cue) -> list[str]:
    """What a mixer plays for it, told by the kind, where the samples are those of its tone."""
    sounds = render_all(RATE_HZ, SOUNDS | PITCHES)
    mixer = Mixer(sounds, RATE_HZ, 1.0, BLOCK)
    mixer.play(msgspec.structs.replace(cue, kind=CueKind.OUT_OF_BAND, sound="out_low"))
    mixer.play(cue)
    mixer.play(msgspec.structs.replace(cue, kind=CueKind.OUT_OF_BAND, sound="out_high"))
    heard = []
    for number in range(len(sounds[cue.sound]) // BLOCK):
        out = np.zeros((BLOCK, 2), np.float32)
        at_ns = cue.decided_ns + number * BLOCK * 1_000_000_000 // RATE_HZ
        mixer.fill(out, at_ns, at_ns)
        heard.append(out)
    whole = np.concatenate(heard)
    assert np.array_equal(whole, sounds[cue.sound][: len(whole)])
    return [played.kind.value for played in mixer.drain_played()]


def main() -> None:
    """Follow the cue from its plan to the report."""
    cue, entries, snapshot = planned()
    status = LinkStatus(LinkState.JOINED, "", snapshot, snapshot.at_ns, stop_asked=False)
    log = PanelLog()
    log.add(snapshot)
    path = short_session(Path(sys.argv[1]), "Heron", 1)
    found = read_journal(path)
    write(path, found.header, [*found.entries[:-1], CueEntry(cue=cue), found.entries[-1]])
    record = read_journal(path)
    page = session_report(digest(record), ())
    lines = [line for part in page.parts if isinstance(part, TextLines) for line in part.lines]
    for entry in entries:
        if isinstance(entry, CueEntry):
            LineByLine()(entry)
    spoken = strike_target(cues=(CueStyle.SPOKEN,))
    came_of_it = {
        "planned": [cue.kind.value, cue.sound, cue.words],
        "sounded": sounded(cue),
        "shown": show(status, snapshot.at_ns).line,
        "log": log.lines[0].text,
        "entries": [entry.cue.kind.value for entry in entries if isinstance(entry, CueEntry)],
        "record": [e.cue.kind.value for e in record.entries if isinstance(e, CueEntry)],
        "report": [line for line in lines if line.startswith("Cues:")],
        "speech": [line for line in sorted(speech_of([spoken])) if "holding" in line],
        "recording": file_of("cue_holding").name,
    }
    sys.stderr.write(json.dumps(came_of_it) + "\n")


if __name__ == "__main__":
    main()
