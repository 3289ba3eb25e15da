"""The first look at a stretch of running: its stride rate, its scale, and which leg is which.

The pose model exchanges the legs' names in up to half of the frames, so nothing here asks it for
them: the rate comes from head and shoulders and from the two legs as a pair, and which track is
which leg from the whole stretch at once. That leaves two legs; which of them is the left one is
another question (``live.stride.leg_sides``).
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from live.stride import fourier as harmonics
from live.stride.fourier import TWO_PI
from shared.flow import FloatArray
from shared.landmarks import Landmark as Lm

IntArray = NDArray[np.int64]
STRIDE_HZ: Final = (0.7, 1.95)
"""Searched stride rates: 84 to 234 steps/min, wider than people walk and run."""
SECOND: Final = 0.5
"""What counts of a signal's second harmonic. Less than the first: else half the rate would do."""
AS_GOOD, DOUBLED_WITHIN_HZ = 0.6, 0.05
"""The doubled rate is taken where it explains so much of what half of it does: 0.9 in a captured
runner seen from behind, whose head also bobs once a stride; 0.03 to 0.16 in a captured walk."""
LEVEL: Final = np.array([Lm.NOSE, Lm.LEFT_SHOULDER, Lm.RIGHT_SHOULDER])
"""Their mean height alone gives the step rate; hips go up and down with the leg in front."""
LEFT_LEG: Final = np.array([Lm.LEFT_KNEE, Lm.LEFT_ANKLE, Lm.LEFT_HEEL, Lm.LEFT_FOOT_INDEX])
RIGHT_LEG: Final = LEFT_LEG + 1
LEFT_HIP: Final = np.array([Lm.LEFT_HIP])
RIGHT_HIP: Final = LEFT_HIP + 1
HIPS_APART: Final = 0.07
"""Leg lengths in the picture, at least, where the body is seen across (0.1 to 0.2)."""
CROSSED_KNEES: Final = 0.5
"""By how much knees that cross all the time make a naming fit worse, with hips ``HIPS_APART``; with
the square of how far they are apart, for the squarer the body is seen the less can knees cross. In
black tights from behind the model lets both feet go up together, and a naming in which they take
turns fits 2.6 times as well (a captured runner)."""
LEFT_ARM: Final = np.array([Lm.LEFT_ELBOW, Lm.LEFT_WRIST])
RIGHT_ARM: Final = LEFT_ARM + 1


def swap_sides(values: FloatArray, left: IntArray, right: IntArray) -> FloatArray:
    """Copy of ``values`` (33, ...) with two groups of landmarks exchanged."""
    out = values.copy()
    out[left], out[right] = values[right], values[left]
    return out


def leg_length_px(rel: FloatArray, weight: FloatArray) -> float:
    """Thigh plus shank as seen when least foreshortened: 85th percentile, the longer leg.

    ``rel`` (n, 33, 2), ``weight`` (n, 33).
    """
    lengths = []
    for hip, knee, ankle in (
        (Lm.LEFT_HIP, Lm.LEFT_KNEE, Lm.LEFT_ANKLE),
        (Lm.RIGHT_HIP, Lm.RIGHT_KNEE, Lm.RIGHT_ANKLE),
    ):
        thigh, shank = rel[:, knee] - rel[:, hip], rel[:, ankle] - rel[:, knee]
        lengths_px = np.hypot(thigh[:, 0], thigh[:, 1]) + np.hypot(shank[:, 0], shank[:, 1])
        good = (weight[:, knee] > 0) & (weight[:, ankle] > 0)
        if good.sum() >= 5:
            lengths.append(float(np.percentile(lengths_px[good], 85)))
    return max(max(lengths, default=1.0), 1.0)


def find_stride_rate(
    times_s: FloatArray, rel: FloatArray, root: FloatArray, weight: FloatArray
) -> tuple[float, float]:
    """Stride rate (Hz) by what comes twice a stride, however the legs are named.

    That is the height of head and shoulders, the sum of the two legs' heights, and the products of
    left less right, in which it does not matter which is which. ``rel`` (n, 33, 2) and ``root``
    (n, 2) px, ``weight`` (n, 33). Returns (rate, explained share 0 to 1).
    """
    fastest = min(STRIDE_HZ[1], len(times_s) / (4.0 * max(float(np.ptp(times_s)), 1e-9)))
    rates = np.arange(STRIDE_HZ[0], fastest, 0.01)
    if len(rates) == 0:
        return 0.0, 0.0
    pairs = np.array([Lm.LEFT_KNEE, Lm.LEFT_ANKLE])
    difference = rel[:, pairs] - rel[:, pairs + 1]
    # Knee and ankle with themselves and with each other, across and upright apart: from behind and
    # in front left less right has a mean across, and that would bring in the stride itself.
    products = np.concatenate([difference**2, difference[:, :1] * difference[:, 1:]], axis=1)
    height = rel[:, LEVEL, 1].mean(axis=1) + root[:, 1]
    sums = rel[:, pairs, 1] + rel[:, pairs + 1, 1]
    legs = np.minimum(weight[:, pairs], weight[:, pairs + 1]).min(axis=1)
    bob = _explained(times_s, rates, height[:, None], weight[:, LEVEL].min(axis=1))
    pair = _explained(times_s, rates, products.reshape(len(times_s), -1), legs)
    both = _explained(times_s, rates, sums, legs)
    together = (3.0 * bob + 1.5 * pair + both) / 5.5
    top = int(np.argmax(together))
    # Half the true rate explains all that the true one does, in its second wave, and more.
    doubled = np.abs(rates - 2.0 * rates[top]) < DOUBLED_WITHIN_HZ
    if doubled.any() and together[doubled].max() > AS_GOOD * together[top]:
        top = int(np.argmax(np.where(doubled, together, 0.0)))
    return float(rates[top]), float(together[top])


def _explained(
    times_s: FloatArray, rates: FloatArray, values: FloatArray, trust: FloatArray
) -> FloatArray:
    """Share of ``values`` (n, c) that waves at twice a rate explain, for each of ``rates``.

    What drifts slowly is taken out first. ``trust`` (n,).
    """
    root = np.sqrt(trust)[:, None]
    at = (times_s - times_s.mean())[:, None] / max(float(np.ptp(times_s)), 1e-9)
    drift: FloatArray = np.linalg.qr(root * np.hstack([np.ones_like(at), at, at**2]))[0]
    steady = root * values
    steady -= drift @ (drift.T @ steady)
    energy = float((steady**2).sum())
    total = np.zeros(len(rates))
    if energy <= 0:
        return total
    for order, share in ((2, 1.0), (4, SECOND)):
        angle = order * TWO_PI * np.multiply.outer(times_s, rates)
        waves = root[:, :, None] * np.stack([np.cos(angle), np.sin(angle)], axis=2)
        waves -= np.tensordot(drift, np.tensordot(drift, waves, (0, 0)), 1)
        columns = waves.transpose(1, 2, 0)
        right = columns @ steady
        normal = columns @ columns.transpose(0, 2, 1) + 1e-6 * np.eye(2)
        total += share * (right * np.linalg.solve(normal, right)).sum(axis=(1, 2)) / energy
    return np.asarray(total)


def tell_apart(theta: FloatArray, rel: FloatArray, weight: FloatArray) -> FloatArray:
    """Which frames have the legs exchanged, without a word from the model; (n,) of 0 or 1.

    Left less right, d, goes through a stride as c cos(theta) + s sin(theta) and turns its sign with
    an exchange. Its products with itself do not, so their mean and their waves at twice the phase
    give cc' + ss', cc' - ss' and cs' + sc', and these give c and s but for one sign for all: that
    is which leg is called left. Legs that are never in antiphase would come out as noise.
    """
    difference = (rel[:, LEFT_LEG] - rel[:, RIGHT_LEG]).reshape(len(theta), -1)
    trust = np.minimum(weight[:, LEFT_LEG], weight[:, RIGHT_LEG]).min(axis=1)[:, None]
    columns = np.stack([np.ones_like(theta), np.cos(2.0 * theta), np.sin(2.0 * theta)], axis=1)
    products = (difference[:, :, None] * difference[:, None, :]).reshape(len(theta), -1)
    normal = columns.T @ (trust * columns) + 1e-9 * np.eye(3)
    found = np.linalg.solve(normal, columns.T @ (trust * products))
    mean, even, odd = found.reshape(3, difference.shape[1], -1)
    c, s = _strongest(mean + even), _strongest(mean - even)
    if c @ odd @ s < 0:
        s = -s
    expected = np.cos(theta)[:, None] * c + np.sin(theta)[:, None] * s
    return np.asarray((difference * expected).sum(axis=1) < 0, np.float64)


def _strongest(products: FloatArray) -> FloatArray:
    """The (n,) vector whose product with itself comes nearest to these (n, n)."""
    sizes, ways = np.linalg.eigh(products)
    return np.asarray(np.sqrt(max(float(sizes[-1]), 0.0)) * ways[:, -1])


def name_legs_together(
    theta: FloatArray, rel: FloatArray, weight: FloatArray, leg_px: float
) -> FloatArray:
    """Which frames have the legs exchanged, from the whole window at once; (n,) of 0 or 1.

    The best of three beginnings: by the legs' products, by which leg is further left in the
    picture (from behind and in front that is one and the same leg), and as the model names them.
    The model's own names decide by majority which leg is called the left one.
    """
    across = (rel[:, LEFT_LEG[:2], 0] - rel[:, RIGHT_LEG[:2], 0]).sum(axis=1)
    begun = (
        tell_apart(theta, rel, weight),
        (across > 0).astype(np.float64),
        np.zeros(len(theta)),
    )
    tried: list[tuple[float, FloatArray]] = []
    for flips in begun:
        if not any(_alike(flips, known) for _, known in tried):
            tried.append(_settled(theta, rel, weight, leg_px, flips))
    _, best = min(tried, key=lambda one: one[0])
    return 1.0 - best if best.mean() > 0.5 else best


def name_hips_together(rel: FloatArray, leg_px: float) -> FloatArray:
    """Which frames have the hips exchanged, once the legs are named; (n,) of 0 or 1.

    From behind and in front alone, by the knees under them: from the side one hip hides the other.
    """
    knees, hips = (rel[:, left, 0] - rel[:, left + 1, 0] for left in (Lm.LEFT_KNEE, Lm.LEFT_HIP))
    under = float(np.median(knees))
    if min(abs(under), float(np.median(np.abs(hips)))) < HIPS_APART * leg_px:
        return np.zeros(len(hips))
    return np.asarray(hips * under < 0, np.float64)


def _alike(flips: FloatArray, others: FloatArray) -> bool:
    off = float(np.abs(flips - others).mean())
    return off in (0.0, 1.0)


def _settled(
    theta: FloatArray, rel: FloatArray, weight: FloatArray, leg_px: float, flips: FloatArray
) -> tuple[float, FloatArray]:
    """Go on from a naming until it fits itself; (how badly it fits, flips).

    Begins with the fundamental only, which a few wrong frames in a stride cannot bend, and adds
    harmonics as the naming settles. A naming whose legs do not move in antiphase fits worse.
    """
    both = np.concatenate([LEFT_LEG, RIGHT_LEG])
    crossed = np.concatenate([RIGHT_LEG, LEFT_LEG])
    straight, exchanged = rel[:, both], rel[:, crossed]
    for count in (1, 2, 3, 4):
        columns = harmonics.basis(theta, count)
        turned = flips[:, None] > 0
        chosen = np.where(turned[:, :, None], exchanged, straight)
        trust = np.where(turned, weight[:, crossed], weight[:, both])
        ridge = harmonics.smoothness(count, 0.01)
        found, _, _ = harmonics.fit_robustly(columns, chosen, trust, ridge, 0.08 * leg_px)
        fitted = np.tensordot(columns, found, 1)
        cost_straight = np.abs(straight - fitted).sum(axis=(1, 2))
        cost_exchanged = np.abs(exchanged - fitted).sum(axis=(1, 2))
        flips = (cost_exchanged < cost_straight).astype(np.float64)
    left, right = found[:, : len(LEFT_LEG)], found[:, len(LEFT_LEG) :]
    apart, together = (float((odd**2).sum()) for odd in (_odd(left - right), _odd(left + right)))
    antiphase = apart / max(apart + together, 1e-9)
    misfit = float(np.minimum(cost_straight, cost_exchanged).mean()) / max(antiphase, 1e-3)
    return misfit * (1.0 + _knees_crossed(rel, leg_px, flips)), flips


def _knees_crossed(rel: FloatArray, leg_px: float, flips: FloatArray) -> float:
    """How much speaks against a naming that has the knees the other way round in some frames.

    0 where the hips are not seen side by side.
    """
    hips, knees = (rel[:, left, 0] - rel[:, left + 1, 0] for left in (Lm.LEFT_HIP, Lm.LEFT_KNEE))
    apart = float(np.median(np.abs(hips))) / leg_px
    if apart < HIPS_APART:
        return 0.0
    first_left = float((knees * (1.0 - 2.0 * flips) < 0).mean())
    return CROSSED_KNEES * (apart / HIPS_APART) ** 2 * min(first_left, 1.0 - first_left)


def _odd(coefficients: FloatArray) -> FloatArray:
    """Those of the orders 1, 3, 5, ...: what turns its sign with half a stride."""
    return np.concatenate([coefficients[1::4], coefficients[2::4]])
