"""The receiver's process against devices of our own on a real bus; nothing is written to them."""

from __future__ import annotations

import os
import queue
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from typing import TypeVar

import msgspec
import pytest

from live.sensors import receiver
from shared.clock import now_ns
from shared.sensor_values import (
    BeltReading,
    HeartReading,
    LinkReading,
    MachineReading,
    MachineState,
    PodReading,
    SensorKind,
    SensorReading,
)
from tests.live.sensors.bluez import Bluetooth

pytestmark = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="BlueZ is Linux's")
T = TypeVar("T")
CONTROL_POINT = "00002ad9-0000-1000-8000-00805f9b34fb"


class Heard:
    """What a receiver's process prints."""

    def __init__(self, address: str, *words: str) -> None:
        self.lines: queue.Queue[SensorReading] = queue.Queue()
        self.process = subprocess.Popen(
            [sys.executable, "-m", "live.sensors.receiver", *words],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            env={**os.environ, "DBUS_SYSTEM_BUS_ADDRESS": address},
        )
        self._thread = threading.Thread(target=self._read, daemon=True)
        self._thread.start()

    def next(self, kind: type[T]) -> T:
        """The next reading of this kind; others are passed over."""
        while True:
            reading = self.lines.get(timeout=30)
            if isinstance(reading, kind):
                return reading

    def close(self) -> int:
        assert self.process.stdin is not None
        self.process.stdin.close()
        code = self.process.wait(10)
        self._thread.join(5)
        return code

    def _read(self) -> None:
        assert self.process.stdout is not None
        with self.process.stdout as pipe:
            for line in pipe:
                self.lines.put(msgspec.json.decode(line, type=SensorReading))


@pytest.fixture
def bluetooth() -> Iterator[Bluetooth]:
    with Bluetooth() as running:
        yield running


def _until(holds: Callable[[], bool]) -> None:
    for _ in range(200):
        if holds():
            return
        time.sleep(0.05)
    pytest.fail("it has not come to that")


def test_treadmill_strap_and_pod_are_heard_lost_and_heard_again(bluetooth: Bluetooth) -> None:
    """All three at once; the strap goes and comes back; no write ever reaches a device."""
    machine = (receiver.TREADMILL_DATA, receiver.MACHINE_STATUS, CONTROL_POINT)
    bluetooth.add("Belt 7", 1, receiver.FITNESS_MACHINE, machine)
    bluetooth.add("Strap", 2, receiver.HEART_RATE, (receiver.HEART_RATE_MEASUREMENT,))
    bluetooth.add("Pod", 3, receiver.RUNNING, (receiver.RSC_MEASUREMENT,))
    words = ("--treadmill", "belt 7", "--heart-strap", "any", "--foot-pod", "00:00:00:00:00:03")
    begun_ns = now_ns()
    heard = Heard(bluetooth.address, *words)
    reached = {heard.next(LinkReading).sensor for _ in range(3)}
    assert reached == set(SensorKind)
    bluetooth.tell("Belt 7", receiver.TREADMILL_DATA, bytes.fromhex("0800 3804 0f00 0000"))
    belt = heard.next(BeltReading)
    assert (belt.speed_kmh, belt.incline_percent) == (10.8, 1.5)
    assert begun_ns < belt.at_ns < now_ns()
    bluetooth.tell("Strap", receiver.HEART_RATE_MEASUREMENT, bytes.fromhex("04 90"))  # off the skin
    bluetooth.tell("Strap", receiver.HEART_RATE_MEASUREMENT, bytes.fromhex("06"))  # cut short
    bluetooth.tell("Strap", receiver.HEART_RATE_MEASUREMENT, bytes.fromhex("06 98"))
    assert heard.next(HeartReading).rate_bpm == 152
    bluetooth.tell("Pod", receiver.RSC_MEASUREMENT, bytes.fromhex("05 0003 55 d400"))
    assert heard.next(PodReading).cadence_spm == 170
    bluetooth.drop("Strap")
    lost = heard.next(LinkReading)
    assert (lost.sensor, lost.reached) == (SensorKind.HEART_STRAP, False)
    back = heard.next(LinkReading)
    assert (back.sensor, back.reached) == (SensorKind.HEART_STRAP, True)
    bluetooth.tell("Belt 7", receiver.MACHINE_STATUS, bytes([3]))
    assert heard.next(MachineReading).state is MachineState.SAFETY_KEY
    assert heard.close() == 0
    assert bluetooth.written == []


def test_a_device_that_is_not_there_is_said_once_and_looked_for_again(
    bluetooth: Bluetooth, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One line that it is missing; it is found when it comes."""
    heard = Heard(bluetooth.address, "--treadmill", "Belt 8")
    missing = heard.next(LinkReading)
    assert not missing.reached
    bluetooth.add("Belt 8", 4, receiver.FITNESS_MACHINE, (receiver.TREADMILL_DATA,))
    assert heard.next(LinkReading).reached
    _until(lambda: bluetooth.subscribed("Belt 8", receiver.TREADMILL_DATA))
    assert heard.close() == 0


def test_without_a_bluetooth_service_it_says_so_and_ends_with_its_station() -> None:
    """No bus at all: a line that says why, and an end with stdin."""
    heard = Heard("unix:path=/nonexistent/bus", "--heart-strap", "any")
    missing = heard.next(LinkReading)
    assert (missing.reached, bool(missing.why)) == (False, True)
    assert heard.close() == 0
