"""What values rest on: how much each resembles the one before is as the catalogue has it."""

from __future__ import annotations

from collections import defaultdict
from functools import cache

import numpy as np
import pytest

from live.pipeline import Pipeline, Setup
from live.stride.mean_stride import FORGET_S, WINDOW_S
from shared.catalogue import CATALOGUE, offered
from shared.change import shares
from shared.flow import Measure, Side, View
from tests.live.virtual_runner import take
from tests.rendered.params import RunnerParams

RUN_S = 150.0
LAGS = 3
BORDER = 0.17
"""Of correlations over the first three lags, both sides: chance makes 0.05 of it (SD)."""


@cache
def values(view: View) -> dict[tuple[str, Side | None], list[Measure]]:
    """Of a runner whose steps are independent of each other, once the mean stride is filled."""
    speed = None if view is View.SIDE else 2.8
    pipeline = Pipeline(Setup(view, height_m=1.66, belt_speed_mps=speed))
    found: dict[tuple[str, Side | None], list[Measure]] = defaultdict(list)
    for pose in take(RunnerParams(start_s=0.0, seed=5), view, RUN_S).poses:
        for one in pipeline.update(pose).measures:
            found[one.name, one.side].append(one)
    return {key: many[20:] for key, many in found.items() if len(many) > 100}


def seen(many: list[Measure]) -> float:
    off = np.array([one.value for one in many])
    off -= off.mean()
    return float(np.mean([(off[:-lag] * off[lag:]).mean() for lag in range(1, LAGS + 1)])) / float(
        (off**2).mean()
    )


def expected(many: list[Measure]) -> float:
    """For independent steps, by the shares that every value has in them."""
    found = shares(many[:60])
    each = [dict(zip(*row, strict=True)) for row in zip(*found, strict=True)]
    one = each[len(each) // 2]
    alike = [
        sum(part * other.get(step, 0.0) for step, part in one.items())
        for other in each[len(each) // 2 :]
    ]
    return float(np.mean(alike[1 : LAGS + 1]) / alike[0])


@pytest.mark.parametrize("view", list(View))
def test_each_measures_values_overlap_as_the_catalogue_says(view: View) -> None:
    by_name: dict[str, list[tuple[float, float]]] = defaultdict(list)
    for (name, _), many in values(view).items():
        by_name[name].append((seen(many), expected(many)))
    assert set(by_name) == {spec.name for spec in offered(view)}
    off = {}
    for name, pairs in by_name.items():
        found, said = np.mean(pairs, axis=0)
        print(f"{view} {name}: {found:.2f}, by the catalogue {said:.2f}")
        if abs(found - said) > BORDER:
            off[name] = (found, said)
    assert not off


def test_the_mean_stride_is_learnt_from_as_long_a_stretch_as_the_catalogue_says() -> None:
    assert {spec.forget_s for spec in CATALOGUE.values()} == {FORGET_S, np.inf}
    assert {spec.window_s for spec in CATALOGUE.values()} == {0.0, WINDOW_S, 8.5}
