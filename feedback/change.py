"""From when on a change of a mean is more than chance (pure): one rule for all who judge one.

Two means of the same thing differ by chance alone. How much, their own steps tell: each mean's
standard error comes from batch means (nonoverlapping batches of neighbouring values; Flegal, Haran
and Jones 2008; Schmeiser 1982, from memory, for few and long batches), so that neither values that
rest on the same steps in part nor steps that resemble their neighbours make it look better than it
is. The smallest change that counts is the half width of the 95 % interval of the difference
(t distribution; degrees of freedom by Welch 1947 and Satterthwaite 1946, from memory): with many
steps that is 1.96 x sqrt(2) x SEM, as Weir 2005 has it; with few it is more, since the standard
error itself is known from few.

By chance alone 4 to 6 % of changes pass, for independent steps (simulated in the tests); up to 8 %
where a step resembles the next of its side with a correlation of 0.3. Not allowed for is that
measures at contact and the pelvis's shift rest by half on the mean stride of the last seconds: for
them, simulated so, 12 % pass against a baseline of 60 steps, and 8 % between long sessions.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from statistics import median
from typing import Final, NamedTuple

from shared.catalogue import CATALOGUE
from shared.clock_units import NS_PER_S
from shared.records import Measure
from shared.statistics import Z95

BATCH_STEPS: Final = 10
"""A batch of single steps is so long at least, where there are enough of them: five strides."""
FEWEST_BATCHES: Final = 6
MOST_BATCHES: Final = 20
"""Schmeiser 1982: more than 10 to 30 batches gain next to nothing (from memory)."""
FEWEST_FREEDOM: Final = 1.0
OLD_FREEDOM: Final = 5.0
"""Of standard errors that older versions kept: from six batches."""


class Error(NamedTuple):
    """How surely a mean is known."""

    sem: float
    """Standard error of the mean, in its unit."""
    freedom: float = math.inf
    """Degrees of freedom of that standard error; infinite where it is known for sure."""


def error_of_mean(measures: Sequence[Measure], values: Sequence[float] = ()) -> Error | None:
    """Of the mean of one measure's values, in their order; None with too few to tell.

    ``values`` stand in for the measures' own, such as the same lengths in another unit.
    """
    if not measures:
        return None
    picked = apart(measures)
    numbers = values or [measure.value for measure in measures]
    first = measures[0]
    each = float(BATCH_STEPS)  # a mean over steps is a batch of them by itself
    if first.steps == 1 and not CATALOGUE[first.name].window_s:
        steps = [b.step_number - a.step_number for a, b in itertools.pairwise(measures)]
        each = max(1.0, median(steps)) if steps else 1.0
    return error_of([numbers[number] for number in picked], each)


def apart(measures: Sequence[Measure]) -> list[int]:
    """Places of those values that rest on no step in common, the first one first.

    Each is the mean of its last ``steps`` steps, or of the catalogue's ``window_s``.
    """
    found: list[int] = []
    for number, measure in enumerate(measures):
        if found:
            last = measures[found[-1]]
            window_s = CATALOGUE[measure.name].window_s
            steps = measure.step_number - last.step_number
            gone_s = (measure.at_ns - last.at_ns) / NS_PER_S
            if 0 <= steps < measure.steps or 0 <= gone_s < window_s:
                continue
        found.append(number)
    return found


def error_of(values: Sequence[float], steps_apart: float = 1.0) -> Error | None:
    """Of the mean of values with no step in common; neighbours are so many steps apart."""
    count = len(values)
    if count < 2:
        return None
    size = min(math.ceil(BATCH_STEPS / steps_apart), max(1, count // FEWEST_BATCHES))
    size = max(size, math.ceil(count / MOST_BATCHES))
    if steps_apart < 2 and size > 1:
        size += size % 2  # the sides take turns: as many of each
    batches = count // size
    if batches < 2:
        size, batches = 1, count
    means = [math.fsum(values[n * size : (n + 1) * size]) / size for n in range(batches)]
    middle = math.fsum(means) / batches
    variance = math.fsum((mean - middle) ** 2 for mean in means) / (batches - 1)
    return Error(math.sqrt(variance * size / count), batches - 1.0)


def together(*errors: Error) -> Error:
    """Of the sum or difference of independent means."""
    squares = [error.sem**2 for error in errors]
    total = math.fsum(squares)
    spent = math.fsum(s**2 / e.freedom for s, e in zip(squares, errors, strict=True))
    freedom = total**2 / spent if spent > 0.0 else math.inf
    return Error(math.sqrt(total), freedom)


def least_change(*errors: Error) -> float:
    """Smallest difference of means with these errors that counts as one."""
    both = together(*errors)
    return widened(Z95, both.freedom) * both.sem


def kept_error(sem: float | None, freedom: float | None) -> Error | None:
    """An error as it was kept; older versions kept no degrees of freedom."""
    return None if sem is None else Error(sem, OLD_FREEDOM if freedom is None else freedom)


def widened(z: float, freedom: float) -> float:
    """The t distribution's quantile where the normal one's is ``z``.

    Abramowitz and Stegun 1964, 26.7.5; within 1 % from two degrees of freedom on, for 95 %.
    """
    f = max(freedom, FEWEST_FREEDOM)
    terms = (
        (z**3 + z) / 4,
        (5 * z**5 + 16 * z**3 + 3 * z) / 96,
        (3 * z**7 + 19 * z**5 + 17 * z**3 - 15 * z) / 384,
        (79 * z**9 + 776 * z**7 + 1482 * z**5 - 1920 * z**3 - 945 * z) / 92160,
    )
    return z + math.fsum(term / f**power for power, term in enumerate(terms, start=1))
