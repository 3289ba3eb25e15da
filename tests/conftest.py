"""Fixtures for all tests, and which of them must run by themselves."""

from __future__ import annotations

from typing import Final

import pytest

from tests.processors import two
from tests.pulse import pulse_server, sound_output, sound_output_to_lose

__all__ = ["pulse_server", "sound_output", "sound_output_to_lose", "two"]

ALONE: Final = frozenset(
    {
        *("test_heard.py", "test_faults.py", "test_station.py", "test_station_threads.py"),
        *("test_bench.py", "test_link.py", "test_slow_reader.py", "test_network.py"),
        *("test_wires.py", "test_many.py", "test_replay_whole.py", "test_unasked.py"),
        "test_false_stations.py",
    }
)
"""Files in which times, a load or the computer's network are part of what is checked."""


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark what must run alone: those files, and all that is really heard."""
    for item in items:
        if item.path.name in ALONE or item.get_closest_marker("sound"):
            item.add_marker("alone")
