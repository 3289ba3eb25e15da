"""A session's sounds begin softly; warning, stop and fault are never softened."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from feedback.sound.mixer import SOFT_FROM, SOFT_S
from feedback.sound.tones import SOUNDS, Samples
from shared.flow import CueKind
from tests.feedback.sound.player import RENDERED, Desk


def peak(out: Samples) -> float:
    return float(np.abs(out).max())


def test_cues_and_beat_come_to_their_loudness_within_seconds() -> None:
    desk = Desk()
    desk.mixer.begin_softly()
    peaks = []
    for _ in range(12):
        desk.play("out_low")
        peaks.append(peak(desk.run(1.0)) / peak(RENDERED["out_low"]))
    assert peaks[0] == pytest.approx(SOFT_FROM, abs=0.02)
    assert all(a <= b for a, b in itertools.pairwise(peaks))
    assert peaks[-1] == 1.0
    first_full = peaks.index(1.0)
    assert SOFT_S - 1 <= first_full <= SOFT_S + 1


def test_the_beat_begins_softly_too_and_again_after_a_pause() -> None:
    desk = Desk()
    desk.mixer.set_beat(170.0)
    desk.mixer.begin_softly()
    loud = peak(RENDERED["beat_left"])
    assert peak(desk.run(0.3)) == pytest.approx(SOFT_FROM * loud, rel=0.05)
    assert peak(desk.run(10.0)) == pytest.approx(loud, rel=0.01)
    desk.mixer.begin_softly()
    assert peak(desk.run(0.4)) < 0.35 * loud


@pytest.mark.parametrize("sound", ["warning", "stop", "fault"])
def test_what_must_be_heard_is_never_softened(sound: str) -> None:
    desk = Desk()
    desk.mixer.begin_softly()
    desk.run(0.05)
    desk.play(sound, CueKind.WARNING)
    out = desk.run(SOUNDS[sound].length_s + 0.1)
    assert peak(out) == pytest.approx(peak(RENDERED[sound]), rel=1e-6)


def test_a_soft_sound_still_ends_without_a_click_at_a_stop() -> None:
    desk = Desk()
    desk.mixer.begin_softly()
    desk.play("out_high")
    desk.run(0.1)
    desk.mixer.stop(announce=False, now_ns=desk.now_ns)
    out = desk.run(0.5)
    assert not out[256:].any()
