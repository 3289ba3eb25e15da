"""A whole session with a simulated treadmill and strap: speed change, strap lost, key pulled."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from feedback.demo import demo_clip
from feedback.feed.lines import FeedLine, MeasureLine, SensorLine, StateLine, decoded
from feedback.feed.reader import join
from feedback.journal.entries import ProblemEntry, SensorEntry, StateEntry
from feedback.journal.writer import read_journal
from live.sensors import receiver
from shared.flow import View
from shared.messages import SessionState, StopReason
from shared.problems import UserError
from shared.sensor_values import BeltReading, HeartReading
from tests.live.sensors.bluez import Bluetooth

pytestmark = [
    pytest.mark.model,
    pytest.mark.skipif(not sys.platform.startswith("linux"), reason="BlueZ is Linux's"),
]


@pytest.fixture
def bluetooth() -> Iterator[Bluetooth]:
    with Bluetooth() as running:
        machine = (receiver.TREADMILL_DATA, receiver.MACHINE_STATUS)
        running.add("Belt 7", 1, receiver.FITNESS_MACHINE, machine)
        running.add("Strap", 2, receiver.HEART_RATE, (receiver.HEART_RATE_MEASUREMENT,))
        yield running


def _lines() -> Iterator[FeedLine]:
    for _ in range(600):
        try:
            connection = join()
        except UserError:
            time.sleep(0.1)
            continue
        with connection:
            while True:
                yield decoded(str(connection.recv(timeout=60)).encode())
    pytest.fail("the session's feed has not begun")


def _wait(lines: Iterator[FeedLine], fits: Callable[[FeedLine], bool]) -> FeedLine:
    return next(line for line in lines if fits(line))


def _heart(line: FeedLine) -> bool:
    return isinstance(line, SensorLine) and isinstance(line.reading, HeartReading)


def _belt(line: FeedLine) -> bool:
    return isinstance(line, SensorLine) and isinstance(line.reading, BeltReading)


def test_a_session_with_a_treadmill_and_a_strap(
    bluetooth: Bluetooth, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What is heard is on record; a lost strap stops nothing, a pulled key ends."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    words = ["run", "--athlete", "heron", "--file", str(demo_clip(View.SIDE)), "--loop"]
    words += ["--view", "side", "--no-sound", "--windowed", "--no-report", "--feed"]
    words += ["--treadmill", "Belt 7", "--heart-strap", "any"]
    session = subprocess.Popen(
        [sys.executable, "-m", "feedback.cli", *words],
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        env={
            **os.environ,
            "DBUS_SYSTEM_BUS_ADDRESS": bluetooth.address,
            "QT_QPA_PLATFORM": "offscreen",
        },
    )
    try:
        lines = _lines()
        _wait(lines, lambda line: isinstance(line, StateLine) and line.state == "running")
        for kmh in (b"\x38\x04", b"\x60\x04"):  # 10.8, then 11.2 km/h
            while not bluetooth.subscribed("Belt 7", receiver.TREADMILL_DATA):
                time.sleep(0.1)
            bluetooth.tell("Belt 7", receiver.TREADMILL_DATA, b"\x08\x00" + kmh + b"\x0f\0\0\0")
            heard = _wait(lines, _belt)
        assert isinstance(heard, SensorLine)
        assert isinstance(heard.reading, BeltReading)
        assert (heard.reading.speed_kmh, heard.reading.incline_percent) == (11.2, 1.5)
        while not bluetooth.subscribed("Strap", receiver.HEART_RATE_MEASUREMENT):
            time.sleep(0.1)
        bluetooth.tell("Strap", receiver.HEART_RATE_MEASUREMENT, b"\x06\x98")
        _wait(lines, _heart)
        bluetooth.drop("Strap")
        step = _wait(lines, lambda line: isinstance(line, MeasureLine) and line.name == "cadence")
        assert isinstance(step, MeasureLine)  # the session measures on
        bluetooth.tell("Belt 7", receiver.MACHINE_STATUS, b"\x03")
        last = _wait(lines, lambda line: isinstance(line, StateLine))
        assert isinstance(last, StateLine)
        assert (last.state, last.reason) == ("stopped", "safety_key")
        session.terminate()  # its screen lingers until somebody closes it
        said, _ = session.communicate(timeout=30)
    finally:
        session.kill()
        session.communicate()
    assert "Traceback" not in said
    (record,) = (tmp_path / "beltside" / "sessions").glob("*.jsonl")
    entries = read_journal(record).entries
    readings = [entry.reading for entry in entries if isinstance(entry, SensorEntry)]
    assert [one.speed_kmh for one in readings if isinstance(one, BeltReading)] == [10.8, 11.2]
    lost = [entry.problem.code for entry in entries if isinstance(entry, ProblemEntry)]
    assert "heart_strap_lost" in lost
    assert "belt_inclined" in lost  # 1.5 %
    (stop,) = (one for one in entries if isinstance(one, StateEntry) and one.reason is not None)
    assert (stop.state, stop.reason) == (SessionState.STOPPED, StopReason.SAFETY_KEY)
    assert stop.source == "the treadmill"
    assert bluetooth.written == []
