"""From when on a change of a mean is more than chance (pure): one rule for all who judge one.

Two means of the same thing differ by chance alone. How much, their own steps tell: each mean's
standard error comes from batch means (nonoverlapping batches of neighbouring values; Flegal, Haran
and Jones 2008; Schmeiser 1982, from memory, for few and long batches), so that steps that resemble
their neighbours do not make it look better than it is. Many values rest on the same steps in part:
the last eight, the mean stride of the last seconds, or half on that. Which ones, the catalogue says
(:func:`shares`), so what the batches' scatter tells of the mean's own is reckoned from it, and so
are its degrees of freedom (Satterthwaite 1946, from memory).

The smallest change that counts is the half width of the 95 % interval of the difference (t
distribution; degrees of freedom by Welch 1947 and Satterthwaite, from memory): with many steps
that is 1.96 x sqrt(2) x SEM, as Weir 2005 has it; with few it is more, since the standard error
itself is known from few.

By chance alone 4 to 6 % of changes pass, for independent steps of every measure in the catalogue
(simulated in the tests); up to 8 % where a step resembles the next of its side with a correlation
of 0.3.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from statistics import median
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from shared.catalogue import CATALOGUE
from shared.flow import FloatArray, Measure
from shared.measure_spec import MeasureSpec
from shared.statistics import Z90, Z95
from shared.units import NS_PER_S

BATCH_STEPS: Final = 10
"""A batch of single steps is so long at least, where there are enough of them: five strides."""
FEWEST_BATCHES: Final = 6
MOST_BATCHES: Final = 20
"""Schmeiser 1982: more than 10 to 30 batches gain next to nothing (from memory)."""
SHORTEST_STEP_S: Final = 0.2
LONGEST_STEP_S: Final = 0.6
"""300 and 100 steps a minute."""
FEWEST_FREEDOM: Final = 1.0
OLD_FREEDOM: Final = 5.0
"""Of standard errors that older versions kept: from six batches."""


class Error(NamedTuple):
    """How surely a mean is known."""

    sem: float
    """Standard error of the mean, in its unit."""
    freedom: float = math.inf
    """Degrees of freedom of that standard error; infinite where it is known for sure."""


class Batches(NamedTuple):
    """How values are batched, and what their scatter tells."""

    size: int
    """Values in each."""
    number: int
    of_mean: float
    """Variance of the mean of all values over that of the batches' means."""
    freedom: float
    """Degrees of freedom of the latter."""

    def error(self, values: Sequence[float]) -> Error:
        """Of the mean of these values."""
        batched = np.asarray(values[: self.number * self.size], float).reshape(-1, self.size)
        variance = float(batched.mean(axis=1).var(ddof=1))
        return Error(math.sqrt(variance * self.of_mean), self.freedom)


def error_of_mean(measures: Sequence[Measure], values: Sequence[float] = ()) -> Error | None:
    """Of the mean of one measure's values, in their order; None with too few to tell.

    ``values`` stand in for the measures' own, such as the same lengths in another unit.
    """
    batches = batches_of(measures)
    return None if batches is None else batches.error(values or [one.value for one in measures])


def batches_of(measures: Sequence[Measure]) -> Batches | None:
    """How one measure's values, in their order, are batched; None with too few of them."""
    if len(apart(measures)) < 2:
        return None
    gaps = [b.step_number - a.step_number for a, b in itertools.pairwise(measures)]
    return batched(shares(measures), max(1.0, median(gaps)))


class Shares(NamedTuple):
    """How much of each value which step is; of most values the most steps are nothing."""

    steps: NDArray[np.int_]
    """(values, n): numbers of steps."""
    parts: FloatArray
    """(values, n): of these steps; each row adds up to 1."""


def shares(measures: Sequence[Measure]) -> Shares:
    """What each value of one measure rests on.

    It is the mean of its last ``steps`` steps, or of the mean stride over the catalogue's
    ``window_s``, in which older steps count less (``own_step`` of it the step by itself).
    """
    spec = CATALOGUE[measures[0].name]
    if spec.window_s:
        every = 2 if spec.by_side else 1
        lags = _window(spec, every * _step_s(measures))
        parts = np.tile(lags, (len(measures), 1))
    else:
        every = 1
        many = np.array([measure.steps for measure in measures])[:, None]
        parts = (np.arange(many.max()) < many) / many
    at = np.array([measure.step_number for measure in measures])
    return Shares(at[:, None] - every * np.arange(parts.shape[1]), parts)


def _window(spec: MeasureSpec, apart_s: float) -> FloatArray:
    """Of steps so far apart, the newest one first."""
    weights = np.exp(-np.arange(0.0, spec.window_s, apart_s) / spec.forget_s)
    weights *= (1.0 - spec.own_step) / weights.sum()
    weights[0] += spec.own_step
    return np.asarray(weights)


def _step_s(measures: Sequence[Measure]) -> float:
    """How long a step lasts, within what running can be."""
    each = [
        (b.at_ns - a.at_ns) / NS_PER_S / (b.step_number - a.step_number)
        for a, b in itertools.pairwise(measures)
        if b.step_number > a.step_number
    ]
    return min(max(median(each), SHORTEST_STEP_S), LONGEST_STEP_S) if each else LONGEST_STEP_S


def apart(measures: Sequence[Measure]) -> list[int]:
    """Places of those values that rest on no step in common, the first one first.

    Each is the mean of its last ``steps`` steps, or of the catalogue's ``window_s``; what is a step
    by itself to some part counts as one.
    """
    found: list[int] = []
    for number, measure in enumerate(measures):
        if found:
            last = measures[found[-1]]
            spec = CATALOGUE[measure.name]
            window_s = 0.0 if spec.own_step else spec.window_s
            steps = measure.step_number - last.step_number
            gone_s = (measure.at_ns - last.at_ns) / NS_PER_S
            if 0 <= steps < measure.steps or 0 <= gone_s < window_s:
                continue
        found.append(number)
    return found


def batched(shared: Shares, steps_apart: float) -> Batches:
    """Of two values or more, neighbours so many steps apart, that rest on these steps."""
    count = len(shared.steps)
    size = min(math.ceil(BATCH_STEPS / steps_apart), max(1, count // FEWEST_BATCHES))
    size = max(size, math.ceil(count / MOST_BATCHES))
    if steps_apart < 2 and size > 1:
        size += size % 2  # the sides take turns: as many of each
    batches = count // size
    if batches < 2:
        size, batches = 1, count
    # What the batches' variance and the whole mean's come to for steps of variance 1.
    known, columns = np.unique(shared.steps, return_inverse=True)
    columns = columns.reshape(shared.steps.shape)
    whole = np.bincount(columns.ravel(), shared.parts.ravel()) / count
    rows = np.zeros((batches, len(known)))
    batch = np.repeat(np.arange(batches), size)[:, None]
    np.add.at(rows, (batch, columns[: len(batch)]), shared.parts[: len(batch)] / size)
    rows -= rows.mean(axis=0)
    scatter = rows @ rows.T / (batches - 1)
    of_batches = float(np.trace(scatter))
    of_mean = float((whole**2).sum())
    freedom = of_batches**2 / float((scatter**2).sum())
    return Batches(size, batches, of_mean / of_batches, freedom)


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


def half_width(error: Error | None) -> float | None:
    """Half width of the 90 % interval of a mean; None where its error is not known."""
    return None if error is None else widened(Z90, error.freedom) * error.sem


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
