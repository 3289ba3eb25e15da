"""Our decoders beside two others: the README's table, and random packets through all three."""

from __future__ import annotations

import importlib.util
import io
import random
from pathlib import Path

import pytest

from live.sensors.packets import machine_status, treadmill_data
from tests.live.sensors.decoders import NOTHING, markdown, pyftms_models, table

README = Path(__file__).parents[3] / "live" / "sensors" / "README.md"

pytestmark = pytest.mark.skipif(
    importlib.util.find_spec("pyftms") is None, reason="pyftms is for Linux and Python below 3.13"
)


def test_all_read_alike() -> None:
    """Every field as by hand, and by all who read it; each is read by at least one other."""
    for row in table():
        assert row.ours == pytest.approx(row.vector, abs=1e-5), row
        others = [value for value in (row.first, row.second) if value is not NOTHING]
        assert others, row
        for value in others:
            assert value == pytest.approx(row.vector, abs=1e-5), row


def test_the_readme_has_the_table() -> None:
    """As it is made now."""
    assert markdown() in README.read_text(encoding="utf-8")


def test_random_packets_are_read_alike() -> None:
    """Speed, distance, incline and heart rate of a thousand packets; targets in a status."""
    treadmill, status = pyftms_models()
    chance = random.Random(7)
    for _ in range(1000):
        speed, distance = chance.randrange(3000), chance.randrange(2**24 - 1)
        incline, rate = chance.randrange(-150, 200), chance.randrange(30, 220)
        packet = bytes.fromhex("0c01") + speed.to_bytes(2, "little")
        packet += distance.to_bytes(3, "little") + incline.to_bytes(2, "little", signed=True)
        packet += bytes([0, 0, rate])
        ours, theirs = treadmill_data(packet), treadmill._deserialize(io.BytesIO(packet))
        assert ours.speed_kmh == pytest.approx(theirs.speed_instant)
        assert ours.total_distance_m == theirs.distance_total
        assert ours.incline_percent == pytest.approx(theirs.inclination.inclination)
        assert ours.heart_rate_bpm == theirs.heart_rate
        told = b"\x05" + speed.to_bytes(2, "little")
        said = status._deserialize(io.BytesIO(told))
        assert machine_status(told).target_kmh == pytest.approx(said.target_speed)
