"""Two processors for tests, whatever the computer has more, and nobody else's sessions on them."""

from __future__ import annotations

import os
import sys

import pytest

from shared import cores
from shared.cores import Share


@pytest.fixture
def two(monkeypatch: pytest.MonkeyPatch) -> Share:
    """As if the computer had just two; skips where it has one, or threads cannot be placed.

    One of them is reserved under a name of the test's own: others hold sessions meanwhile.
    """
    if sys.platform != "linux":
        pytest.skip("only Linux places single threads")
    there = sorted(os.sched_getaffinity(0))[:2]
    if len(there) < 2:
        pytest.skip("needs two processors")
    share = Share(measuring=frozenset(there[1:]), rest=frozenset(there[:1]))
    monkeypatch.setattr(cores, "share_out", lambda _: share)
    monkeypatch.setattr(cores, "_TAKEN", f"\0beltside test {os.getpid()}")
    return share
