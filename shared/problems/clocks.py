"""The problems of a clock that the records contradict: part of shared.problems (pure).

Each row: code, what happened, what it means, what to do.
"""

from __future__ import annotations

from typing import Final

CLOCK: Final[tuple[tuple[str, str, str, str], ...]] = (
    (
        "clock_back",
        "The computer's clock is behind its records.",
        "It says {now}; the newest record here is of {newest}. One of the two is wrong. Sessions "
        "are held and recorded all the same, with the time of this clock.",
        "If the clock is wrong, set it right before the session.",
    ),
    (
        "clock_ahead",
        "The computer's clock may have jumped ahead.",
        "It says {now}; the newest record here is of {newest}, {days} days before. Sessions are "
        "held and recorded all the same, with the time of this clock.",
        "If the clock is wrong, set it right before the session. After a long pause all is well.",
    ),
    (
        "rest_unknown",
        "The computer's clock says {now}; the last session is on record at {last}.",
        "A clock is or was wrong (the prescription is of {written}), so how long the rest has been "
        "cannot be told. Nothing was started.",
        "Set the clock right if it is wrong. If the last session was {hours} hours ago or more, "
        "start all the same with --now.",
    ),
)
