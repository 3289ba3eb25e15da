"""When this computer's sessions began, by its own clock, and how the clock stands to them now."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from feedback.journal.writer import SUFFIX
from feedback.records.owners import read_header
from feedback.records.wall_clock import Jump, jump
from feedback.records.wording import in_words
from shared.problems import Problem, UserError, describe

_STAMP = "%Y-%m-%dT%H%M%SZ"
_STAMP_LENGTH = len("2025-03-04T170511Z")


def begins(folder: Path) -> tuple[datetime, ...]:
    """When each session of a folder began; of those that cannot be read nothing is known.

    Results from home are left out: another computer's clock has stamped them.
    """
    found = (_begin(path) for path in folder.glob(f"*{SUFFIX}"))
    return tuple(sorted(one for one in found if one is not None))


def newest_begin(folder: Path, now: datetime) -> datetime | None:
    """When the newest session began whose record contradicts the clock; None where none does."""
    newest = max(begins(folder), default=None)
    if newest is None or jump(now.timestamp(), newest.timestamp()) is None:
        return None
    return newest


def clock_problem(now: datetime, newest: datetime | None) -> Problem | None:
    """What to tell of the clock, with both times; None where it agrees with the newest record."""
    kind = None if newest is None else jump(now.timestamp(), newest.timestamp())
    if kind is None or newest is None:
        return None
    code = "clock_back" if kind is Jump.BACK else "clock_ahead"
    days = abs(now - newest).days
    return describe(code, now=in_words(now), newest=in_words(newest), days=days)


def _begin(path: Path) -> datetime | None:
    try:
        return datetime.strptime(path.name[:_STAMP_LENGTH], _STAMP).replace(tzinfo=UTC)
    except ValueError:  # renamed by somebody
        pass
    try:
        anchor = read_header(path).anchor
        return anchor.wall_of(anchor.monotonic_ns)
    except (UserError, ValueError, OverflowError, OSError):
        return None
