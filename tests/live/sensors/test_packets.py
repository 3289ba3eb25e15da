"""Packets of treadmills, straps and foot pods against published vectors and open decoders.

Vectors: the examples that two independent open-source decoders, bluetooth-sig 0.6.0 (MIT) and
pyftms 0.2.20 (Apache-2.0), read alike; the first of them decodes thousands of random packets
beside ours.
"""

from __future__ import annotations

import contextlib
import random
from typing import Any

import pytest
from bluetooth_sig import BluetoothSIGTranslator

from live.sensors.packets import (
    HeartRate,
    MalformedPacketError,
    RunningSpeedCadence,
    TreadmillData,
    heart_rate,
    machine_status,
    running_speed_cadence,
    steps_per_min,
    treadmill_data,
)
from shared.sensor_values import MachineState

READERS = (treadmill_data, machine_status, heart_rate, running_speed_cadence)


def _bytes(text: str) -> bytes:
    return bytes.fromhex(text)


def test_published_treadmill_vectors() -> None:
    """Speed alone, and a packet with distance, incline, heart rate and time."""
    assert treadmill_data(_bytes("00 00 38 04")) == TreadmillData(speed_kmh=10.8)
    assert treadmill_data(_bytes("0c 05 38 04 d2 04 00 0f 00 09 00 98 58 02")) == TreadmillData(
        speed_kmh=10.8,
        total_distance_m=1234,
        incline_percent=1.5,
        ramp_deg=0.9,
        heart_rate_bpm=152,
        elapsed_s=600,
    )


def test_published_strap_and_pod_vectors() -> None:
    """A strap on the skin with one beat interval, and a pod that runs."""
    beat = heart_rate(_bytes("16 48 55 03"))
    assert beat == HeartRate(72, True, (853 / 1024,))
    assert beat.beat_intervals_s[0] == pytest.approx(0.83301, abs=1e-5)
    pod = running_speed_cadence(_bytes("07 00 03 aa d4 00 39 30 00 00"))
    assert pod == RunningSpeedCadence(3.0, 170, 2.12, 1234.5, True)
    assert steps_per_min(pod) == 170


@pytest.mark.parametrize(
    ("packet", "state", "stops"),
    [
        ("02 01", MachineState.STOPPED, True),
        ("02 02", MachineState.PAUSED, True),
        ("02", MachineState.STOPPED, True),
        ("02 77", MachineState.STOPPED, True),
        ("03", MachineState.SAFETY_KEY, True),
        ("04", MachineState.STARTED, False),
        ("01", MachineState.RESET, False),
        ("ff", MachineState.CONTROL_LOST, False),
        ("08 00 00", MachineState.OTHER, False),
    ],
)
def test_machine_says_what_happened(packet: str, state: MachineState, stops: bool) -> None:
    """Stop, pause and safety key all halt the belt; a stop without its kind is a stop."""
    status = machine_status(_bytes(packet))
    assert (status.state, status.belt_stops) == (state, stops)


def test_targets_in_a_status() -> None:
    """A new target speed and incline are told with their values."""
    assert machine_status(_bytes("05 38 04")).target_kmh == 10.8
    assert machine_status(_bytes("06 f1 ff")).target_incline_percent == -1.5


def test_unknown_values_are_none() -> None:
    """All ones mean "not known" and are not 655 km/h."""
    assert treadmill_data(_bytes("00 00 ff ff")).speed_kmh is None
    level = treadmill_data(_bytes("08 00 38 04 ff 7f ff 7f"))
    assert (level.speed_kmh, level.incline_percent, level.ramp_deg) == (10.8, None, None)


def test_nothing_after_a_pace_is_believed() -> None:
    """Open decoders read a pace as one byte or two, so the heart rate after it is not read."""
    said = treadmill_data(_bytes("20 01 38 04 10 00 98"))
    assert said == TreadmillData(speed_kmh=10.8, cut_at_pace=True)


def test_speed_in_another_packet() -> None:
    """The first flag is inverted: set, there is no speed here."""
    assert treadmill_data(_bytes("05 00 d2 04 00")) == TreadmillData(total_distance_m=1234)


def test_strap_off_the_skin() -> None:
    """It goes on sending: the value is not used. A strap that cannot tell is believed."""
    assert not heart_rate(_bytes("04 48")).usable
    assert heart_rate(_bytes("06 48")).usable
    assert heart_rate(_bytes("00 48")).usable
    assert not heart_rate(_bytes("00 00")).usable


@pytest.mark.parametrize(
    ("speed", "cadence", "stride", "steps"),
    [
        (3.0, 170, 2.12, 170),
        (3.0, 85, 2.12, 170),
        (3.0, 85, None, 170),
        (3.0, 170, None, 170),
        (3.0, 120, 2.12, None),
        (0.0, 0, None, None),
    ],
)
def test_steps_or_strides(
    speed: float, cadence: int, stride: float | None, steps: int | None
) -> None:
    """Pods send either; at 3.0 m/s and 170 steps a minute a stride is 2.118 m (an identity)."""
    assert steps_per_min(RunningSpeedCadence(speed, cadence, stride)) == steps


@pytest.mark.parametrize("reader", READERS)
def test_any_bytes_are_read_or_refused(reader: Any) -> None:
    """Ten thousand random packets of every length: a value or the one refusal, nothing else."""
    chance = random.Random(11)
    for _ in range(10_000):
        packet = chance.randbytes(chance.randrange(24))
        with contextlib.suppress(MalformedPacketError):
            reader(packet)


def test_cut_packets_are_refused() -> None:
    """Every length short of the whole is refused, not read as something else."""
    whole = _bytes("0c 05 38 04 d2 04 00 0f 00 09 00 98 58 02")
    for length in range(len(whole)):
        with pytest.raises(MalformedPacketError):
            treadmill_data(whole[:length])


def test_agrees_with_another_decoder() -> None:
    """Random well-formed packets, read by bluetooth-sig as well, come out alike."""
    other = BluetoothSIGTranslator()
    chance = random.Random(5)
    for _ in range(300):
        speed, rate = chance.randrange(3000), chance.randrange(30, 220)
        distance, incline = chance.randrange(2**24 - 1), chance.randrange(-150, 200)
        packet = (
            _bytes("0c 01")
            + speed.to_bytes(2, "little")
            + distance.to_bytes(3, "little")
            + incline.to_bytes(2, "little", signed=True)
            + (0).to_bytes(2, "little")
            + rate.to_bytes(1, "little")
        )
        theirs: Any = other.parse_characteristic("2ACD", packet)
        ours = treadmill_data(packet)
        assert ours.speed_kmh == pytest.approx(theirs.instantaneous_speed)
        assert ours.total_distance_m == theirs.total_distance
        assert ours.incline_percent == pytest.approx(theirs.inclination)
        assert ours.heart_rate_bpm == theirs.heart_rate
        beats: Any = other.parse_characteristic(
            "2A37", bytes([0x16, rate]) + speed.to_bytes(2, "little")
        )
        mine = heart_rate(bytes([0x16, rate]) + speed.to_bytes(2, "little"))
        assert mine.rate_bpm == beats.heart_rate
        assert mine.beat_intervals_s == pytest.approx(tuple(beats.rr_intervals), abs=1e-3)
        pod_packet = bytes([0x05]) + speed.to_bytes(2, "little") + bytes([rate, 212, 0])
        pod: Any = other.parse_characteristic("2A53", pod_packet)
        own = running_speed_cadence(pod_packet)
        assert own.speed_mps == pytest.approx(pod.instantaneous_speed)
        assert own.cadence_per_min == pod.instantaneous_cadence
        assert own.stride_length_m == pytest.approx(pod.instantaneous_stride_length)
