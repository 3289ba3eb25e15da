"""Snapshots to send over the link and to show on screens."""

from __future__ import annotations

from typing import Any

from shared.messages import Focus, SessionState, Snapshot
from shared.records import BandState, View

STRIKE = Focus(
    measure="strike_ahead",
    side=None,
    unit="cm",
    low=None,
    high=12.0,
    value=9.8,
    state=BandState.INSIDE,
    words="",
)


def snapshot(number: int = 1, **changes: Any) -> Snapshot:
    """A running session's snapshot, with some fields replaced."""
    fields: dict[str, Any] = {
        "number": number,
        "at_ns": number * 100_000_000,
        "state": SessionState.RUNNING,
        "stop_reason": None,
        "view": View.SIDE,
        "code_name": "Heron",
        "focus": STRIKE,
        "readings": (),
        "problems": (),
        "cues": (),
        "elapsed_s": 65.0,
        "remaining_s": 535.0,
        "frames_per_s": 30.0,
        "decision_ms": 21.0,
        "sound_on": True,
        "demo": False,
    }
    return Snapshot(**(fields | changes))
