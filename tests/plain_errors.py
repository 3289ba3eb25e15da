"""How surely the mean of values is known that have no step in common, by the product's own rule."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from shared.change import Error, Shares, batched


def error_of(values: Sequence[float], steps_apart: float = 1.0) -> Error | None:
    """Of their mean; neighbours are so many steps apart. None for fewer than two."""
    if len(values) < 2:
        return None
    alone = Shares(np.arange(len(values))[:, None], np.ones((len(values), 1)))
    return batched(alone, steps_apart).error(values)
