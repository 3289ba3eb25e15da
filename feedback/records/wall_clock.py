"""Whether the computer's clock agrees with the moments that are on record (pure).

All moments are seconds since 1970 (UTC). Nothing here can tell a right clock from a wrong one: it
tells when clock and records contradict each other, so that a person decides which of them is right.
"""

from __future__ import annotations

from collections.abc import Iterable
from enum import StrEnum
from itertools import pairwise
from typing import Final

DAY_S: Final = 24 * 3600
BACK_AT_LEAST_S: Final = 5 * 60
"""By so much the newest record must be ahead: clocks are put right by seconds all the time."""
AHEAD_AT_LEAST_S: Final = 45 * DAY_S
"""So long nothing may have been recorded before a jump ahead is thought of: longer than the
longest pause of most places, the summer's (common practice, no source)."""
OTHER_CLOCK_S: Final = 26 * 3600
"""Two computers may disagree on the time of day and on the date."""


class Jump(StrEnum):
    """How the clock stands to the newest record."""

    BACK = "back"
    """Before it."""
    AHEAD = "ahead"
    """So far after it that it may have jumped; a long pause looks the same."""


def jump(now_s: float, newest_s: float | None) -> Jump | None:
    """Whether the clock has jumped against the newest record; None where nothing speaks for it."""
    if newest_s is None:
        return None
    if newest_s - now_s >= BACK_AT_LEAST_S:
        return Jump.BACK
    return Jump.AHEAD if now_s - newest_s >= AHEAD_AT_LEAST_S else None


def has_passed(since_s: float, now_s: float, records_s: Iterable[float]) -> bool:
    """Whether the records bear out that the time from then to now has really passed.

    They do when none is ahead of the clock, and none of the pauses between them is so long that the
    clock may have jumped there.
    """
    between = sorted(one for one in records_s if one > since_s)
    moments = [since_s, *between, now_s]
    return all(jump(later, earlier) is None for earlier, later in pairwise(moments))


def rest_unknown(now_s: float, last_s: float, written_s: float | None) -> bool:
    """Whether it cannot be told how long ago the last session of a plan was.

    ``written_s``: when its prescription was written, maybe on another computer. No session is held
    before that, and none in the future.
    """
    if jump(now_s, last_s) is Jump.BACK:
        return True
    return written_s is not None and min(now_s, last_s) < written_s - OTHER_CLOCK_S
