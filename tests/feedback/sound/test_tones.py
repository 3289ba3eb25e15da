"""The sounds: soft, bounded, told apart by side, direction and shape, and no medical alarm."""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import combinations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import signal

from feedback.sound.tones import (
    CEILING,
    DEFAULT_VOLUME,
    SOUNDS,
    Samples,
    render_all,
    worst_case_dba,
)
from tests.feedback.sound.loudness import (
    centroid_hz,
    momentary_lufs,
    on_one_loudspeaker,
    onsets,
)

RATE_HZ = 48_000
RENDERED = render_all(RATE_HZ)
CUES = [name for name in SOUNDS if name.startswith("out_")]
NOT_CUES = ["warning", "stop", "fault"]
Wave = NDArray[np.float64]


def mono(name: str) -> Wave:
    wave: Wave = RENDERED[name].astype(np.float64).sum(axis=1)
    return wave


def decibels(ratio: float) -> float:
    return 10.0 * math.log10(ratio)


def side_decibels(samples: Samples) -> float:
    """Energy of the right over the left, in dB."""
    left, right = np.sum(samples.astype(np.float64) ** 2, axis=0)
    return decibels(right / left)


def pitch_track_hz(wave: Wave, every_s: float = 0.01) -> Wave:
    """Strongest frequency in windows of 40 ms that lie wholly inside the sound."""
    size = round(0.04 * RATE_HZ)
    window = np.hanning(size)
    starts = range(0, len(wave) - size, round(every_s * RATE_HZ))
    peaks = [np.argmax(np.abs(np.fft.rfft(wave[s : s + size] * window, 1 << 15))) for s in starts]
    return np.array(peaks) * RATE_HZ / (1 << 15)


def pulses(wave: Wave) -> list[tuple[float, float]]:
    """(start, end) in s of each stretch whose 10 ms level is within 20 dB of the largest.

    Gaps under 20 ms are ripple of the level, not gaps between pulses (50 ms or more).
    """
    size = round(0.01 * RATE_HZ)
    padded = np.pad(wave, size)
    level = np.sqrt(np.convolve(padded**2, np.ones(size) / size, mode="same"))
    loud = np.concatenate([[False], level > level.max() / 10.0, [False]])
    edges = np.flatnonzero(np.diff(loud.astype(int))) / RATE_HZ
    found: list[tuple[float, float]] = []
    for start, end in zip(edges[::2], edges[1::2], strict=True):
        if found and start - found[-1][1] < 0.02:
            start = found.pop()[0]
        found.append((float(start), float(end)))
    return found


def test_all_sounds_of_the_interface_are_there() -> None:
    assert set(RENDERED) == {
        "beat_left", "beat_right", "out_low", "out_low_left", "out_low_right", "out_high",
        "out_high_left", "out_high_right", "back", "warning", "stop", "fault",
    }  # fmt: skip


@pytest.mark.parametrize("name", SOUNDS)
@pytest.mark.parametrize("rate_hz", [44_100, 48_000])
def test_shape_level_and_soft_edges(name: str, rate_hz: int) -> None:
    samples = render_all(rate_hz)[name]
    assert samples.dtype == np.float32
    assert samples.shape == (round(SOUNDS[name].length_s * rate_hz), 2)
    assert np.all(np.isfinite(samples))
    assert np.max(np.abs(samples)) == pytest.approx(SOUNDS[name].peak, rel=1e-6)
    assert SOUNDS[name].peak < CEILING
    assert np.max(np.abs(samples[[0, -1]])) < 1e-4
    assert np.max(np.abs(samples.mean(axis=0))) < 1e-4  # no DC


@pytest.mark.parametrize("name", SOUNDS)
def test_no_click(name: str) -> None:
    """No jump larger than a pure tone of 1.5 kHz makes, no spray of high frequencies."""
    samples = RENDERED[name]
    jump = np.max(np.abs(np.diff(samples, axis=0, prepend=0.0, append=0.0)))
    assert jump < SOUNDS[name].peak * 2.0 * math.pi * 1_500.0 / RATE_HZ
    spectrum = np.abs(np.fft.rfft(np.pad(mono(name), 4_800))) ** 2
    above = np.fft.rfftfreq(len(samples) + 9_600, 1.0 / RATE_HZ) > 6_000.0
    assert decibels(spectrum[above].sum() / spectrum.sum()) < -60.0


def test_a_hard_edge_would_be_called_a_click() -> None:
    """The limits above can fail: the same tone cut off in full swing breaks both."""
    cut = RENDERED["out_low"][: len(RENDERED["out_low"]) // 4 + 23]
    largest = SOUNDS["out_low"].peak * 2.0 * math.pi * 1_500.0 / RATE_HZ
    assert np.max(np.abs(np.diff(cut, axis=0, append=0.0))) > largest
    spectrum = np.abs(np.fft.rfft(np.pad(cut.sum(axis=1), 4_800))) ** 2
    above = np.fft.rfftfreq(len(cut) + 9_600, 1.0 / RATE_HZ) > 6_000.0
    assert decibels(spectrum[above].sum() / spectrum.sum()) > -60.0


@pytest.mark.parametrize(
    ("name", "least", "most"),
    [
        ("out_low_left", -30.0, -15.0),
        ("out_high_left", -30.0, -15.0),
        ("out_low_right", 15.0, 30.0),
        ("out_high_right", 15.0, 30.0),
        ("beat_left", -10.0, -5.0),
        ("beat_right", 5.0, 10.0),
        *[(name, -0.01, 0.01) for name in ("out_low", "out_high", "back", *NOT_CUES)],
    ],
)
def test_side(name: str, least: float, most: float) -> None:
    assert least < side_decibels(RENDERED[name]) < most


@pytest.mark.parametrize("name", CUES)
def test_rising_asks_for_more_and_falling_for_less_by_a_fifth(name: str) -> None:
    track = pitch_track_hz(mono(name))
    ratio = track[-4:].mean() / track[:4].mean()
    assert ratio == pytest.approx(1.5 if "low" in name else 1 / 1.5, rel=0.01)


@pytest.mark.parametrize("kind", ["out_low", "out_high"])
def test_sides_differ_by_rhythm_and_timbre_on_one_loudspeaker(kind: str) -> None:
    left, middle, right = (
        on_one_loudspeaker(RENDERED[f"{kind}{end}"]) for end in ("_left", "", "_right")
    )
    assert [onsets(sound) for sound in (left, middle, right)] == [1, 2, 3]
    # A third and more brighter each time, the pitch alone being two or three half tones.
    assert centroid_hz(middle) > 1.15 * centroid_hz(left)
    assert centroid_hz(right) > 1.35 * centroid_hz(middle)


@pytest.mark.parametrize("heard", [np.asarray, on_one_loudspeaker])
def test_cues_are_equally_loud_from_every_side(
    heard: Callable[[Samples], NDArray[np.float32]],
) -> None:
    """Within 1 LU of the middle, from two loudspeakers and from one (ITU-R BS.1770)."""
    for kind in ("out_low", "out_high"):
        middle = momentary_lufs(heard(RENDERED[kind]))
        for side in ("_left", "_right"):
            assert momentary_lufs(heard(RENDERED[kind + side])) == pytest.approx(middle, abs=1.0)


def test_the_loudness_meter_reads_what_the_recommendation_says() -> None:
    """997 Hz at full scale in one channel is -3.01 LKFS (ITU-R BS.1770-5, annex 1)."""
    wave = np.sin(2.0 * np.pi * 997.0 * np.arange(RATE_HZ) / RATE_HZ)
    assert momentary_lufs(np.stack([wave, 0.0 * wave], axis=1)) == pytest.approx(-3.01, abs=0.02)


def test_sides_differ_by_register_too_for_a_single_loudspeaker() -> None:
    for kind in ("out_low", "out_high"):
        left, middle, right = (
            float(np.median(pitch_track_hz(mono(f"{kind}{end}"))[:4]))  # of the first note
            for end in ("_left", "", "_right")
        )
        # At least two semitones between neighbours.
        assert middle / left > 2 ** (2 / 12)
        assert right / middle > 2 ** (2 / 12)
    beats = [np.median(pitch_track_hz(mono(name))) for name in ("beat_left", "beat_right")]
    assert beats[1] / beats[0] > 2 ** (2 / 12)


def test_a_cue_is_over_before_the_next_step_but_one() -> None:
    """At 200 steps/min a step takes 0.3 s; a beat is far shorter than that."""
    for name in (*CUES, "back"):
        assert SOUNDS[name].length_s < 60.0 / 200.0
    for name in ("beat_left", "beat_right"):
        assert SOUNDS[name].length_s < 0.05


def test_beats_are_softer_than_cues() -> None:
    quietest = min(np.max(np.abs(RENDERED[name])) for name in (*CUES, "back"))
    for name in ("beat_left", "beat_right"):
        assert 20.0 * math.log10(quietest / np.max(np.abs(RENDERED[name]))) > 4.0


def test_warning_stop_and_fault_have_shapes_of_their_own() -> None:
    longest_cue = max(SOUNDS[name].length_s for name in (*CUES, "back"))
    tracks = {name: pitch_track_hz(mono(name)) for name in NOT_CUES}
    for name in NOT_CUES:
        assert SOUNDS[name].length_s > 2.0 * longest_cue
    # Stop only ever falls, and by more than an octave; the other two go to and fro.
    # (One bin of the transform is 1.5 Hz.)
    assert np.all(np.diff(tracks["stop"]) < 3.0)
    assert tracks["stop"][0] / tracks["stop"][-1] > 2.0
    for name in ("warning", "fault"):
        turns = np.flatnonzero(np.diff(np.sign(np.diff(tracks[name]))))
        assert len(turns) >= 6
    # Warning and fault lie more than an octave apart.
    assert tracks["warning"].min() / tracks["fault"].max() > 1.7
    assert np.median(tracks["warning"]) / np.median(tracks["fault"]) > 2.0


def likeness(first: Wave, second: Wave) -> float:
    """Cosine of two loudness pictures (quarter-tone bands by 20 ms), best over time shifts."""
    bands = 200.0 * 2.0 ** (np.arange(0, 80) / 24.0)

    def picture(wave: Wave) -> Wave:
        size = round(0.04 * RATE_HZ)
        hz, _, power = signal.stft(
            wave, RATE_HZ, nperseg=size, noverlap=size // 2, nfft=1 << 14, boundary="zeros"
        )
        rows = np.searchsorted(bands, hz)
        out = np.zeros((len(bands) + 1, power.shape[1]))
        np.add.at(out, rows, np.abs(power) ** 2)
        picture: Wave = np.sqrt(out[1:-1])
        return picture

    one, two = picture(first), picture(second)
    scale = math.sqrt(float((one**2).sum() * (two**2).sum()))
    return float(signal.correlate(one, two, mode="full")[len(two) - 1].max() / scale)


@pytest.mark.parametrize(("one", "two"), list(combinations(SOUNDS, 2)))
def test_no_two_sounds_are_alike_even_in_mono(one: str, two: str) -> None:
    assert likeness(mono(one), mono(two)) < 0.6


@pytest.mark.parametrize("name", SOUNDS)
def test_a_sound_is_like_itself(name: str) -> None:
    assert likeness(mono(name), mono(name)) > 0.999


@pytest.mark.parametrize("name", SOUNDS)
def test_no_medical_alarm(name: str) -> None:
    """IEC 60601-1-8 (secondary summaries of tables 3 and 4): bursts of 10, 3, or 1 to 2 pulses
    of 75 to 250 ms, each with four or more harmonics within 15 dB of one another.

    Every sound here is one pulse, of two partials at most; those that tell of a state (and so
    might be taken for an alarm) also last longer than any alarm pulse.
    """
    wave = mono(name)
    found = pulses(wave)
    assert len(found) == 1
    if name in (*CUES, *NOT_CUES):
        assert found[0][1] - found[0][0] > 0.25
    size = round(0.05 * RATE_HZ)
    for start in range(0, len(wave) - size + 1, size // 2):
        piece = wave[start : start + size]
        power = np.abs(np.fft.rfft(piece * np.hanning(size), 1 << 15)) ** 2
        hz = np.fft.rfftfreq(1 << 15, 1.0 / RATE_HZ)
        path = np.array(SOUNDS[name].pitch)
        times = np.linspace(start, start + size, 50) / RATE_HZ
        pitch = np.interp(times, path[:, 0], path[:, 1])
        if 3.0 * 0.96 * pitch.min() < 2.0 * 1.04 * pitch.max():
            continue  # both notes are in it: one's second partial would be taken for a third
        levels = np.array(
            [
                power[(hz > 0.96 * k * pitch.min()) & (hz < 1.04 * k * pitch.max())].max()
                for k in range(1, 7)
            ]
        )
        within_15_db = levels > levels.max() / 10**1.5
        assert within_15_db.sum() <= 2


def test_pulse_counting_sees_a_real_alarm_burst() -> None:
    """The check above can fail: a 3-pulse burst (200 ms pulses, 200 ms apart) counts as three."""
    at_s = np.arange(round(1.2 * RATE_HZ)) / RATE_HZ
    burst = np.sin(2 * np.pi * 440.0 * at_s) * (at_s % 0.4 < 0.2)
    assert len(pulses(burst)) == 3


def weekly_hours(level_dba: float) -> float:
    """Hours a week that reach the limit for adults: 80 dBA for 40 h, equal energy (ITU-T H.870
    2022)."""
    return float(40.0 * 2.0 ** ((80.0 - level_dba) / (10.0 * math.log10(2.0))))


def test_weekly_hours_agree_with_published_pairs() -> None:
    """Equal energy gives 4.0 h at 90 dBA and 0.40 h at 100 dBA."""
    assert weekly_hours(90.0) == pytest.approx(4.0)
    assert weekly_hours(100.0) == pytest.approx(0.4)


@pytest.mark.parametrize(("volume", "least_hours"), [(1.0, 4.0), (DEFAULT_VOLUME, 16.0)])
def test_sound_dose_with_everything_at_its_worst(volume: float, least_hours: float) -> None:
    """Loudest player, fastest beat (220), a cue at every 4th step without end.

    A retraining plan takes about 2 h a week: 8 sessions of 15 to 30 min in two weeks (Davis,
    Tenforde, Neal, Roper and Willy 2020, table 1).
    """
    step_s = 60.0 / 220.0
    energy = {name: float((samples.astype(np.float64) ** 2).sum(axis=0).max()) / RATE_HZ
              for name, samples in RENDERED.items()}  # fmt: skip
    loudest_cue = max(energy[name] for name in CUES)
    mean_square = energy["beat_left"] / step_s + loudest_cue / (4.0 * step_s)
    level = worst_case_dba(volume * math.sqrt(mean_square))
    assert weekly_hours(level) > least_hours
