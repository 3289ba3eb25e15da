"""``beltside sounds``: play each sound once, with its meaning."""

from __future__ import annotations

import argparse
import time
from collections.abc import Iterator

from feedback.sound.speaker import Speaker
from feedback.sound.speech import speech_length_s
from feedback.sound.tones import DEFAULT_VOLUME, PITCHES, SOUNDS
from feedback.terminal.guard import OK, say
from feedback.texts.runner import TEXTS
from shared.clock import now_ns
from shared.flow import Cue, CueKind
from shared.language import _
from shared.problems import UserError

_PAUSE_S = 0.6
_SPOKEN = ("say_cue_cadence_below", "say_cue_beat")


def run(options: argparse.Namespace) -> int:
    """Play every sound in turn. Raises UserError when there is no sound output."""
    volume = DEFAULT_VOLUME if options.volume is None else options.volume
    speaker = Speaker(volume, speech=_SPOKEN)
    speaker.open()
    try:
        for name, meaning, length_s in _all():
            say(f"{name:16} {meaning}")
            speaker.play(_cue(name))
            time.sleep(length_s + _PAUSE_S)
            lost = speaker.problem()
            if lost is not None:
                raise UserError(lost.code, lost.details, why=_("it ended while playing"))
    finally:
        speaker.close()
    return OK


def _all() -> Iterator[tuple[str, str, float]]:
    """Every tone, the pitches of the middle, and a spoken line: key, meaning, seconds."""
    middle = {name: tone for name, tone in PITCHES.items() if name[-1].isdigit()}
    for name, tone in (SOUNDS | middle).items():
        yield name, _(tone.meaning), tone.length_s
    for name in _SPOKEN:
        line = name.removeprefix("say_")
        yield "spoken", f'"{TEXTS[line]}"', speech_length_s(line)


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
