"""What standing before the run is worth, on the rendered cases kept apart, by the real model."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pytest

from live.pipeline import Pipeline
from shared.units import NS_PER_S
from tests.accuracy.report import all_cases
from tests.accuracy.score import standing_ankle_deg
from tests.accuracy.tracks import pipeline_for, poses_of, truth_of
from tests.rendered.body import SOLE_M

pytestmark = [pytest.mark.model, pytest.mark.timeout(1200)]


def kept_apart(view: str = "", stands: bool = True) -> list[Path]:
    """The cases kept apart, those that begin with standing or the others."""
    metas = {path: truth_of(path).meta for path in all_cases()}
    return [
        path
        for path, meta in metas.items()
        if meta["kept_apart"] and bool(meta["standing"]) == stands and view in ("", meta["view"])
    ]


LONG_ENOUGH_S = 12.0
"""Standing comes first; the scale takes some seconds of running."""


@cache
def measured(path: Path) -> Pipeline:
    """The pipeline after the first seconds of a clip."""
    pipeline, poses = pipeline_for(path), poses_of(path)
    for pose in poses:
        if pose.captured_ns - poses[0].captured_ns < LONG_ENOUGH_S * NS_PER_S:
            pipeline.update(pose)
    return pipeline


def test_standing_is_seen_where_there_was_some_and_nowhere_else() -> None:
    """One of them, in dark clothes before a dark wall, is not: its landmarks wander from behind.

    By up to 7 % of the leg's length, as those of somebody who shifts the weight do.
    """
    missed = [path.name for path in kept_apart() if not measured(path).standing]
    assert len(kept_apart()) >= 20
    assert set(missed) <= {"chance_across_77.track.xz"}
    assert not any(measured(path).standing for path in kept_apart(stands=False))


def test_the_shank_and_the_leg_are_read_as_they_stand() -> None:
    paths = kept_apart("side")
    assert len(paths) >= 8
    off_deg, legs_off = [], []
    for path in paths:
        truth, pipeline = truth_of(path), measured(path)
        stood, scene = pipeline.standing, pipeline.scene()
        assert stood is not None
        assert scene is not None
        assert stood.shank_deg is not None
        off_deg.append(abs(stood.shank_deg - standing_ankle_deg(truth)))
        assert scene.scale.px_per_m is not None
        leg_m = scene.scale.leg_to_floor_px / scene.scale.px_per_m
        legs_off.append(abs(leg_m / (truth.meta["leg_length_m"] - SOLE_M) - 1.0))
    assert np.mean(off_deg) <= 2.0
    assert max(off_deg) <= 4.5
    assert np.mean(legs_off) <= 0.015
    assert max(legs_off) <= 0.045
