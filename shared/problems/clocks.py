"""The problems of a clock that the records contradict: part of shared.problems (pure).

Each row: code, what happened, what it means, what to do.
"""

from __future__ import annotations

from typing import Final

CLOCK: Final[tuple[tuple[str, str, str, str], ...]] = (
    (
        "clock_back",
        "The computer's clock is behind its records.",
        "It shows {now}; the latest record here is dated {newest}. One of the two is wrong. "
        "Sessions still run and are recorded with this clock's time.",
        "If the clock is wrong, correct it before the session.",
    ),
    (
        "clock_ahead",
        "The computer's clock may have jumped ahead.",
        "It shows {now}; the latest record here is dated {newest}, {days} days earlier. Sessions "
        "still run and are recorded with this clock's time.",
        "If the clock is wrong, correct it before the session. After a long break this is normal.",
    ),
    (
        "rest_unknown",
        "The computer's clock shows {now}; the last session is recorded at {last}.",
        "A clock is or was wrong (the prescription is dated {written}), so the length of the rest "
        "is not known. Nothing was started.",
        "Correct the clock if it is wrong. If the last session was {hours} hours ago or more, "
        "start anyway with --now.",
    ),
)
