"""How loud a session is at most: the stated levels hold for what the mixer really puts out."""

from __future__ import annotations

import math

import numpy as np
import pytest

from feedback.sound.tones import CEILING, DEFAULT_VOLUME, worst_case_dba
from tests.feedback.sound.player import Desk

STATED_DBA = 77.0
"""In feedback.sound.tones, for the default volume; the limit for adults is 80 dBA for 40 h a week
(ITU-T H.870, 2022)."""
STEP_S = 60.0 / 168.0


@pytest.mark.parametrize(("volume", "most_dba"), [(DEFAULT_VOLUME, STATED_DBA), (1.0, 86.5)])
def test_a_minute_with_beat_and_cues_on_one_side(volume: float, most_dba: float) -> None:
    """168 steps/min with a cue at every 8th step, all on the left, as loud as a player can be."""
    desk = Desk(volume)
    desk.mixer.set_beat(168.0)
    minute = []
    for _ in range(21):
        desk.play("out_high_left")
        minute.append(desk.run(8 * STEP_S))
    power = np.mean(np.concatenate(minute).astype(np.float64) ** 2, axis=0)
    assert worst_case_dba(math.sqrt(float(power.max()))) < most_dba


def test_nothing_is_ever_over_the_ceiling() -> None:
    desk = Desk(1.0)
    desk.mixer.set_beat(220.0)
    for sound in ("warning", "out_high", "fault", "stop"):
        desk.play(sound)
        assert float(np.abs(desk.run(0.2)).max()) <= CEILING
