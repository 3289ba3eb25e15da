"""Which values count: one rule for cues, means, baselines and reports (pure)."""

from __future__ import annotations

import math
from typing import Final

from shared.catalogue import CATALOGUE, PERCENT_LEG
from shared.flow import Measure

LEG_CM: Final = (60.0, 120.0)
"""Legs of the smallest and tallest runner of a profile (0.53 of height; Winter, from memory)."""


def usable(measure: Measure) -> bool:
    """True when a value is finite, good enough and plausible by the catalogue.

    A length given in another unit than the catalogue's first is only refused when no leg
    length makes it plausible.
    """
    spec = CATALOGUE.get(measure.name)
    if spec is None or not math.isfinite(measure.value):
        return False
    # Written so that a quality that is not a number fails as well.
    if not measure.quality >= spec.quality_floor:
        return False
    low, high = spec.plausible
    if measure.unit == spec.units[0]:
        return low <= measure.value <= high
    shortest, longest = (leg / 100.0 for leg in LEG_CM)
    if measure.unit == PERCENT_LEG:
        shortest, longest = 1.0 / longest, 1.0 / shortest
    return min(low * shortest, low * longest) <= measure.value <= high * longest
