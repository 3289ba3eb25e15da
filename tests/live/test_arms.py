"""The arms' direction seen from above: its geometry, and a virtual runner's arms from behind."""

from __future__ import annotations

import numpy as np
import pytest

from live.arms import direction_deg
from live.pipeline import Pipeline, Setup
from shared.records import Side, View
from tests.live.virtual_runner import take
from tests.rendered.params import BySide, RunnerParams


@pytest.mark.parametrize("turned_deg", [0.0, 15.0, 45.0, 80.0, 90.0])
def test_the_main_axis_of_an_oval_path(turned_deg: float) -> None:
    angle = np.linspace(0.0, 2.0 * np.pi, 100, endpoint=False)
    along, aside = 20.0 * np.cos(angle), 3.0 * np.sin(angle)
    turn = np.radians(turned_deg)
    path = np.stack(
        [along * np.cos(turn) - aside * np.sin(turn), along * np.sin(turn) + aside * np.cos(turn)],
        axis=1,
    )
    assert direction_deg(path + np.array([5.0, -3.0])) == pytest.approx(turned_deg, abs=0.5)


def test_an_arm_that_swings_more_across_is_read_as_more_across() -> None:
    params = RunnerParams(start_s=0.0, arm_direction_deg=BySide(10.0, 45.0))
    pipeline = Pipeline(Setup(View.BEHIND, height_m=1.66))
    for pose in take(params, View.BEHIND, 10.0).poses:
        pipeline.update(pose)
    found = {m.side: m.value for m in pipeline.summary() if m.name == "arm_direction"}
    assert found[Side.RIGHT] > found[Side.LEFT] + 15.0
