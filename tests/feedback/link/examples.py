"""Snapshots to send over the link and to show on screens."""

from __future__ import annotations

from typing import Any

from shared.flow import BandState, View
from shared.messages import BlockNote, Focus, SessionState, Snapshot
from shared.targets import BlockKind

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


def block(line: str, **changes: Any) -> BlockNote:
    """A block of a drill, with 95 s to go."""
    kind = BlockKind.UNCUED if line == "baseline" else BlockKind(line)
    fields: dict[str, Any] = {
        "number": 3,
        "count": 7,
        "kind": kind,
        "line": f"block_{line}",
        "remaining_s": 95.0,
        "belt_speed_kmh": 10.5,
        **changes,
    }
    return BlockNote(**fields)
