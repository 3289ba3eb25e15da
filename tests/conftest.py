"""Fixtures for all tests, and which of them must run by themselves."""

from __future__ import annotations

import os
from typing import Final

import pytest

from tests.processors import two
from tests.pulse import pulse_server, sound_output, sound_output_to_lose

__all__ = ["pulse_server", "sound_output", "sound_output_to_lose", "two"]

# Tests compare words; what the system or its user prefers must not change them.
os.environ["BELTSIDE_LANGUAGE"] = "en"

ALONE: Final = frozenset(
    {
        *("tests/test_unasked.py", "bench/test_bench.py", "sound/test_heard.py"),
        *("safety/test_faults.py", "records/test_many.py", "camera_check/test_station.py"),
        *("station/test_station.py", "station/test_station_threads.py"),
        *("station/test_replay_whole.py", "link/test_link.py", "link/test_slow_reader.py"),
        "start/test_first_session.py",
        *("link/test_network.py", "link/test_wires.py", "link/test_false_stations.py"),
    }
)
"""Files in which times, a load or the computer's network are part of what is checked."""


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark what must run alone: those files, and all that is really heard."""
    for item in items:
        if "/".join(item.path.parts[-2:]) in ALONE or item.get_closest_marker("sound"):
            item.add_marker("alone")
