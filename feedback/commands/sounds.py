"""``beltside sounds``: play each sound once, with its meaning."""

from __future__ import annotations

import argparse
import sys
import time

from feedback.guard import OK
from feedback.sound.speaker import Speaker
from feedback.sound.tones import SOUNDS
from shared.clock import now_ns
from shared.problems import UserError
from shared.records import Cue, CueKind

_PAUSE_S = 0.6


def run(options: argparse.Namespace) -> int:
    """Play every sound in turn. Raises UserError when there is no sound output."""
    speaker = Speaker() if options.volume is None else Speaker(options.volume)
    speaker.open()
    try:
        for name, tone in SOUNDS.items():
            sys.stdout.write(f"{name:16} {tone.meaning}\n")
            sys.stdout.flush()
            speaker.play(_cue(name))
            time.sleep(tone.pitch[-1][0] + _PAUSE_S)
            lost = speaker.problem()
            if lost is not None:
                raise UserError(lost.code, lost.details, why="it ended while playing")
    finally:
        speaker.close()
    return OK


def _cue(sound: str) -> Cue:
    at_ns = now_ns()
    return Cue(
        kind=CueKind.WARNING,
        measure=None,
        side=None,
        sound=sound,
        words="",
        step_number=0,
        captured_ns=at_ns,
        decided_ns=at_ns,
    )
