"""Reads the values in Bluetooth packets of treadmills, heart rate straps and foot pods (pure).

The fields are those of the Bluetooth SIG's Fitness Machine Service 1.0 (Treadmill Data 0x2ACD,
Fitness Machine Status 0x2ADA), Heart Rate Service (0x2A37) and Running Speed and Cadence Service
(0x2A53); numbers are little endian. A packet that is too short for what its flags promise is
refused whole: half a packet is no measurement.
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from typing import Final

from shared.sensor_values import MachineState

_UNKNOWN_U16: Final = 0xFFFF
_UNKNOWN_S16: Final = 0x7FFF
_MORE_DATA: Final = 1
"""The only flag that means "not here": set, the speed comes in another packet."""
_PACE_BITS: Final = 0x0060
"""How long a pace is, two open decoders read differently (two bytes, or one): no field after one
is believed."""


class MalformedPacketError(ValueError):
    """The packet does not hold what its flags promise."""


class _Reader:
    """Takes little-endian numbers off the front of a packet."""

    def __init__(self, packet: bytes) -> None:
        self._packet = packet
        self._at = 0

    def unsigned(self, size: int) -> int:
        return int.from_bytes(self._bytes(size), "little")

    def signed(self, size: int) -> int:
        return int.from_bytes(self._bytes(size), "little", signed=True)

    def left(self) -> int:
        """Bytes that were not read yet."""
        return len(self._packet) - self._at

    def _bytes(self, size: int) -> bytes:
        if self.left() < size:
            raise MalformedPacketError(f"{len(self._packet)} bytes, {self._at + size} needed")
        self._at += size
        return self._packet[self._at - size : self._at]


@dataclass(frozen=True, slots=True)
class TreadmillData:
    """One packet of a treadmill; None: not in this packet, or not known to the machine."""

    speed_kmh: float | None = None
    average_speed_kmh: float | None = None
    total_distance_m: int | None = None
    incline_percent: float | None = None
    ramp_deg: float | None = None
    ascent_m: float | None = None
    descent_m: float | None = None
    heart_rate_bpm: int | None = None
    elapsed_s: int | None = None
    cut_at_pace: bool = False
    """A pace was in it, so that what came after it was left unread."""


def treadmill_data(packet: bytes) -> TreadmillData:
    """What a Treadmill Data packet (0x2ACD) says. Raises MalformedPacketError."""
    reader = _Reader(packet)
    flags = reader.unsigned(2)
    speed = None if flags & _MORE_DATA else _hundredths(reader.unsigned(2))
    average = _hundredths(reader.unsigned(2)) if flags & 1 << 1 else None
    distance = reader.unsigned(3) if flags & 1 << 2 else None
    incline = ramp = ascent = descent = None
    if flags & 1 << 3:
        incline, ramp = _tenths(reader.signed(2)), _tenths(reader.signed(2))
    if flags & 1 << 4:
        ascent, descent = _tenths_up(reader.unsigned(2)), _tenths_up(reader.unsigned(2))
    before_pace = TreadmillData(speed, average, distance, incline, ramp, ascent, descent)
    if flags & _PACE_BITS:
        return dataclasses.replace(before_pace, cut_at_pace=True)
    if flags & 1 << 7:
        reader.unsigned(2 + 2 + 1)  # energy: an estimate of the machine's, not used
    heart = reader.unsigned(1) if flags & 1 << 8 else None
    if flags & 1 << 9:
        reader.unsigned(1)  # metabolic equivalent: the same
    elapsed = reader.unsigned(2) if flags & 1 << 10 else None
    if flags & 1 << 11:
        reader.unsigned(2)
    if flags & 1 << 12:
        reader.unsigned(4)
    return dataclasses.replace(before_pace, heart_rate_bpm=heart or None, elapsed_s=elapsed)


@dataclass(frozen=True, slots=True)
class MachineStatus:
    """One Fitness Machine Status."""

    state: MachineState
    target_kmh: float | None = None
    target_incline_percent: float | None = None

    @property
    def belt_stops(self) -> bool:
        """Whether the belt comes to a halt by it."""
        return self.state in (MachineState.STOPPED, MachineState.PAUSED, MachineState.SAFETY_KEY)


_PLAIN_STATES: Final = {
    0x01: MachineState.RESET,
    0x03: MachineState.SAFETY_KEY,
    0x04: MachineState.STARTED,
    0xFF: MachineState.CONTROL_LOST,
}


def machine_status(packet: bytes) -> MachineStatus:
    """What a Fitness Machine Status (0x2ADA) says; OTHER for what is of no use here.

    Raises MalformedPacketError. A stop whose kind is missing or unknown counts as a stop.
    """
    reader = _Reader(packet)
    code = reader.unsigned(1)
    if code == 0x02:
        paused = reader.left() and reader.unsigned(1) == 0x02
        return MachineStatus(MachineState.PAUSED if paused else MachineState.STOPPED)
    if code == 0x05:
        speed = _hundredths(reader.unsigned(2))
        return MachineStatus(MachineState.TARGET_SPEED, target_kmh=speed)
    if code == 0x06:
        incline = _tenths(reader.signed(2))
        return MachineStatus(MachineState.TARGET_INCLINE, target_incline_percent=incline)
    return MachineStatus(_PLAIN_STATES.get(code, MachineState.OTHER))


@dataclass(frozen=True, slots=True)
class HeartRate:
    """One Heart Rate Measurement."""

    rate_bpm: int
    skin_contact: bool | None
    """None: the strap cannot tell."""
    beat_intervals_s: tuple[float, ...] = ()
    """Between successive beats, oldest first."""

    @property
    def usable(self) -> bool:
        """A strap off the skin goes on sending; what it sends then is no heart rate."""
        return self.rate_bpm > 0 and self.skin_contact is not False


def heart_rate(packet: bytes) -> HeartRate:
    """What a Heart Rate Measurement (0x2A37) says. Raises MalformedPacketError."""
    reader = _Reader(packet)
    flags = reader.unsigned(1)
    rate = reader.unsigned(2 if flags & 1 else 1)
    contact = bool(flags & 1 << 1) if flags & 1 << 2 else None
    if flags & 1 << 3:
        reader.unsigned(2)  # energy
    intervals: list[float] = []
    if flags & 1 << 4:
        if reader.left() % 2:
            raise MalformedPacketError(f"{reader.left()} bytes of beat intervals")
        intervals = [reader.unsigned(2) / 1024 for _ in range(reader.left() // 2)]
    return HeartRate(rate, contact, tuple(intervals))


@dataclass(frozen=True, slots=True)
class RunningSpeedCadence:
    """One Running Speed and Cadence measurement of a foot pod."""

    speed_mps: float
    cadence_per_min: int
    """Of steps or of strides, as the maker pleased: see :func:`steps_per_min`."""
    stride_length_m: float | None = None
    total_distance_m: float | None = None
    running: bool = False
    """False: walking, or a pod that cannot tell."""


def running_speed_cadence(packet: bytes) -> RunningSpeedCadence:
    """What an RSC Measurement (0x2A53) says. Raises MalformedPacketError."""
    reader = _Reader(packet)
    flags = reader.unsigned(1)
    speed = reader.unsigned(2) / 256
    cadence = reader.unsigned(1)
    stride = reader.unsigned(2) / 100 if flags & 1 else None
    distance = reader.unsigned(4) / 10 if flags & 1 << 1 else None
    return RunningSpeedCadence(speed, cadence, stride, distance, bool(flags & 1 << 2))


_AGREES_WITHIN: Final = 0.15
"""Of the stride's length (our choice: the two readings differ by a factor of two)."""
_STEPS_FROM: Final = 120
"""Nobody runs at so many strides a minute (240 steps), or at so few steps (common practice, no
source)."""


def steps_per_min(said: RunningSpeedCadence) -> int | None:
    """The cadence in steps a minute: pods send steps or strides, and do not say which.

    Where speed and stride length are given, what fits them decides; else the size of the number.
    None where nobody runs, or where neither reading fits.
    """
    if not said.cadence_per_min or not said.speed_mps:
        return None
    strides = said.cadence_per_min * 2
    if said.stride_length_m:
        expected = said.speed_mps * 120 / said.stride_length_m
        for reading in (said.cadence_per_min, strides):
            if abs(reading - expected) <= _AGREES_WITHIN * expected:
                return reading
        return None
    return said.cadence_per_min if said.cadence_per_min >= _STEPS_FROM else strides


def _hundredths(value: int) -> float | None:
    return None if value == _UNKNOWN_U16 else value / 100


def _tenths(value: int) -> float | None:
    return None if value == _UNKNOWN_S16 else value / 10


def _tenths_up(value: int) -> float | None:
    return None if value == _UNKNOWN_U16 else value / 10
