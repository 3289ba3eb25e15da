"""What may stand in a result from home: a limit for every field, told in words (pure).

A result is written by another program on a computer that nobody here knows. What is beyond these
limits would be refused by a database, spoil means and charts, or fill pages.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from datetime import UTC, datetime, timedelta
from typing import Final

from feedback.athlete_files.plan_log import Result
from feedback.texts.measures import full_title
from feedback.texts.numbers import general
from feedback.training.block_results import BlockMean, BlockResult, TargetKept
from feedback.training.plan import MOST_LEVEL, MOST_SESSIONS, MOST_UNIX_S, Done
from shared.catalogue import CATALOGUE
from shared.flow import CueKind
from shared.language import _
from shared.plain_text import fault_in
from shared.targets import Plan

EARLIEST: Final = datetime(2000, 1, 1, tzinfo=UTC)
CLOCKS_WITHIN: Final = timedelta(hours=26)
"""Two computers may disagree on the time of day and on the date."""
MOST_BELT_KMH: Final = 25.0
"""As for a prescription."""
LONGEST_S: Final = 24 * 3600
MOST_BLOCKS: Final = 1000
MOST_ROWS: Final = 300
"""Of means, answers and the like in one block."""
MOST_COUNT: Final = 1_000_000
"""Of steps, values and cues; a day of running has some 250,000 steps."""
MOST_TEXT: Final = 300
MOST_OTHER_UNIT: Final = 1000.0
"""Of a value in a unit that the catalogue gives no plausible range for, such as % of leg length."""


def started_of(result: Result) -> datetime:
    """When the session began, UTC, to the second. Raises ValueError, in words.

    The same for every way of writing the same moment.
    """
    try:
        started = datetime.fromisoformat(result.started_utc)
    except ValueError as error:
        raise ValueError(_("its date cannot be read")) from error
    if started.tzinfo is None:
        raise ValueError(_("its date has no time zone"))
    if not EARLIEST.year <= started.year < 9999:
        raise ValueError(_("its date, the year {year}, cannot be").format(year=started.year))
    return started.astimezone(UTC).replace(microsecond=0)


def faults(result: Result, plan: Plan | None, now: datetime) -> Iterator[str]:
    """What of a result cannot be; nothing for one that may be taken in."""
    try:
        if started_of(result) > now + CLOCKS_WITHIN:
            yield _("it is dated in the future")
    except ValueError as error:
        yield str(error)
    texts = (result.made_with, result.source, result.code_name)
    if any(len(text) > MOST_TEXT or "\0" in text for text in texts) or fault_in(result.code_name):
        yield _("a text in it is too long, or no text")
    if not _within(result.belt_speed_kmh, 0, MOST_BELT_KMH):
        yield _("its belt speed is not possible")
    if not _within(result.planned_s, 0, LONGEST_S):
        yield _("it was planned for longer than a day")
    yield from _session_faults(result.session, plan)
    if len(result.blocks) > MOST_BLOCKS:
        yield _("it has {count} blocks").format(count=len(result.blocks))
    elif not _within(sum(block.seconds for block in result.blocks), 0, LONGEST_S):
        yield _("it lasts for longer than a day")
    elif sum(block.steps for block in result.blocks) > MOST_COUNT:
        yield _("it has more steps than can be run")
    else:
        for block in result.blocks:
            yield from _block_faults(block)


def _session_faults(done: Done, plan: Plan | None) -> Iterator[str]:
    most = MOST_SESSIONS if plan is None else len(plan.sessions)
    if not 1 <= done.number <= most:
        yield _("its prescription has no session {number}").format(number=done.number)
    levels = done.levels
    if (
        not 0 <= done.started_unix_s <= MOST_UNIX_S
        or not _within(done.share_done, 0, MOST_COUNT)
        or len(levels) > MOST_ROWS
        or any(len(name) > MOST_TEXT for name in levels)
        or not _all_within(levels.values(), 0, MOST_LEVEL)
    ):
        yield _("its account of the session is not possible")


def _block_faults(block: BlockResult) -> Iterator[str]:
    if not 0 <= block.number <= MOST_BLOCKS:
        yield _("the number of a block cannot be")
    if block.cued and block.cued not in CATALOGUE:
        yield _("its block {number} cues a measure that there is not").format(number=block.number)
    if not (set(block.cues) <= set(CueKind) and _all_within(block.cues.values(), 0, MOST_COUNT)):
        yield _("its block {number} has cues that cannot be").format(number=block.number)
    if max(len(block.means), len(block.kept), len(block.answers)) > MOST_ROWS:
        yield _("its block {number} has more values than there are measures").format(
            number=block.number
        )
        return
    for kept in block.kept:
        if not _is_kept(kept):
            yield _("its block {number} keeps to a target as nobody can").format(
                number=block.number
            )
    for mean in block.means:
        yield from _mean_faults(mean)


def _is_kept(kept: TargetKept) -> bool:
    return kept.measure in CATALOGUE and 0 <= kept.inside <= kept.judged <= MOST_COUNT


def _mean_faults(mean: BlockMean) -> Iterator[str]:
    spec = CATALOGUE.get(mean.name)
    if spec is None or mean.unit not in spec.units:
        yield _('it contains a measure "{name}" in {unit}, which there is not').format(
            name=mean.name, unit=mean.unit
        )
        return
    low, high = -MOST_OTHER_UNIT, MOST_OTHER_UNIT
    if mean.unit == spec.units[0]:
        low, high = spec.plausible
    named = full_title(mean.name)
    if not _within(mean.mean, low, high):
        yield _("its value of {measure}, {value} {unit}, cannot be").format(
            measure=named, value=general(mean.mean), unit=mean.unit
        )
    if not 0 <= mean.values <= MOST_COUNT:
        yield _("its number of values of {measure} cannot be").format(measure=named)
    for spread in (mean.sd, mean.sem, mean.stated):
        # Values within a range spread by less than its width.
        if spread is not None and not _within(spread, 0, high - low):
            yield _("its values of {measure} spread by {spread} {unit}, which cannot be").format(
                measure=named, spread=general(spread), unit=mean.unit
            )


def _within(value: float, low: float, high: float) -> bool:
    """False for what is no number, too."""
    return math.isfinite(value) and low <= value <= high


def _all_within(values: Iterable[int], low: int, high: int) -> bool:
    return all(low <= value <= high for value in values)
