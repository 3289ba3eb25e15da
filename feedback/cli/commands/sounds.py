"""``beltside sounds``: play each sound once, with its meaning."""

from __future__ import annotations

import argparse
import json
import sys
import time
from typing import Final, NamedTuple

from feedback.cueing.cue_table import CUES
from feedback.safety.rules import ALERT_LEAST_VOLUME
from feedback.sound.speaker import Speaker, output_names
from feedback.sound.speech import speech_length_s
from feedback.sound.tones import DEFAULT_VOLUME, PITCHES, SOUNDS
from feedback.storage.preferences import read_preferences
from feedback.storage.toml_fields import did_you_mean
from feedback.terminal.guard import OK, say
from feedback.texts.runner import words
from shared.clock import now_ns
from shared.flow import Cue, CueKind
from shared.language import _
from shared.plain_text import plain_lines
from shared.problems import UserError

_PAUSE_S = 0.6
_SPOKEN: Final = ("say_cue_cadence_below", "say_cue_beat")
_ALERTS: Final = frozenset(
    CUES[kind].sound for kind in (CueKind.STOP, CueKind.FAULT, CueKind.WARNING)
)


class _Heard(NamedTuple):
    """One sound."""

    shown: str
    sound: str
    """Its key."""
    meaning: str
    length_s: float


def run(options: argparse.Namespace) -> int:
    """Play every sound in turn, or one. Raises UserError when there is no sound output."""
    if options.json:
        sys.stdout.write(plain_lines(json.dumps({"outputs": output_names()}) + "\n"))
        return OK
    heard = _asked_for(options.only)
    preferred = read_preferences()
    volume = DEFAULT_VOLUME if options.volume is None else options.volume
    speaker = Speaker(
        volume,
        preferred.sound_device or None,
        speech=_SPOKEN,
        alert_least=ALERT_LEAST_VOLUME,
    )
    speaker.set_volume_percent(preferred.volume_percent)
    speaker.open()
    try:
        for one in heard:
            say(f"{one.shown:16} {one.meaning}")
            speaker.play(_cue(one.sound))
            time.sleep(one.length_s + _PAUSE_S)
            lost = speaker.problem()
            if lost is not None:
                raise UserError(lost.code, lost.details, why=_("it ended while playing"))
    finally:
        speaker.close()
    return OK


def _asked_for(only: str | None) -> tuple[_Heard, ...]:
    """Every tone, the pitches of the middle, and spoken lines; or the one of that name."""
    middle = {name: tone for name, tone in PITCHES.items() if name[-1].isdigit()}
    heard = [
        _Heard(name, name, _(tone.meaning), tone.length_s)
        for name, tone in (SOUNDS | middle).items()
    ]
    for name in _SPOKEN:
        line = name.removeprefix("say_")
        heard.append(_Heard("spoken", name, f'"{words(line)}"', speech_length_s(line)))
    if only is None:
        return tuple(heard)
    known = {one.sound: one for one in heard}
    if only not in known:
        near = did_you_mean(only, known) or "."
        raise UserError("name_unknown", kind="sound", name=only, near=near, known=", ".join(known))
    return (known[only],)


def _cue(sound: str) -> Cue:
    at_ns = now_ns()
    return Cue(
        # as in a session: what warns keeps its floor, and nothing else does
        kind=CueKind.WARNING if sound in _ALERTS else CueKind.OUT_OF_BAND,
        measure=None,
        side=None,
        sound=sound,
        words="",
        step_number=0,
        captured_ns=at_ns,
        decided_ns=at_ns,
    )
