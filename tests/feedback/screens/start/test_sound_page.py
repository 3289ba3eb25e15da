"""The page of the sound: every cue to try where it is heard, from a recorded output."""

from __future__ import annotations

from pathlib import Path

import pytest

from feedback.screens.start.sound_model import Heard, sound_rows
from feedback.sound.tones import SOUNDS
from tests.feedback.screens.looking import run_checks
from tests.pulse import PulseServer

NAMES = ("PULSE_SERVER", "PULSE_COOKIE", "PULSE_RUNTIME_PATH")


def test_every_sound_can_be_tried_once() -> None:
    rows = sound_rows({key: tone.meaning for key, tone in SOUNDS.items()})
    keys = [key for row in rows for key in row.sounds.values()]
    assert sorted(keys) == sorted(SOUNDS)
    low = next(row for row in rows if "out_low" in row.sounds.values())
    assert dict(low.sounds) == {
        Heard.MIDDLE: "out_low",
        Heard.LEFT: "out_low_left",
        Heard.RIGHT: "out_low_right",
    }


@pytest.mark.window
@pytest.mark.sound
def test_what_is_tried_is_heard_where_it_is_said(tmp_path: Path, pulse_server: PulseServer) -> None:
    check = "what_is_tried_is_heard_where_it_is_said"
    output = {name: pulse_server.environment[name] for name in NAMES}
    assert run_checks("start_look", check, XDG_DATA_HOME=str(tmp_path), **output) == {check: ""}
