"""Summaries of sessions that nobody held, for what is made of many of them."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

from feedback.records.summary import Digest, MeanValue
from feedback.training.counting import SessionPart
from shared.flow import View
from shared.messages import StopReason
from shared.targets import SessionKind


def made_up(day: int, begin: datetime | None = None, **fields: Any) -> Digest:
    """The summary of the session of that day, with these fields."""
    if begin is None:
        begin = datetime(2025, 1, 1, tzinfo=UTC) + timedelta(days=day)
    return Digest(
        **{
            "uid": f"{day:032}",
            "code_name": "Heron",
            "started_utc": begin.isoformat(),
            "view": View.SIDE,
            "belt_speed_kmh": 10.0,
            "kind": SessionKind.PRACTICE,
            "number": None,
            "planned": None,
            "demo": False,
            "source": "made up",
            "version": "0.1.0",
            "run_s": 1200.0,
            "steps": 3200,
            "stop_reason": StopReason.FINISHED,
            "means": (),
            "targets": (),
            "first_targets": (),
            "goals": (),
            "own_cadence_spm": None,
            "answers": (),
            "changes": (),
            "blocks": (),
            "notices": (),
            "cues": {},
            "decided_ms": None,
            "sounded_ms": None,
            "lost": False,
            **fields,
        }
    )


def cadence(
    value: float, sem: float | None = 0.3, part: SessionPart = SessionPart.UNCUED
) -> MeanValue:
    """A mean of a hundred values."""
    return MeanValue(
        measure="cadence",
        side=None,
        unit="steps/min",
        part=part,
        mean=value,
        sd=2.0,
        values=100,
        sem=sem,
        stated=1.0,
        freedom=40.0,
    )
