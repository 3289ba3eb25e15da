"""Prints how long after each sign the foot truly meets and leaves the belt, by movement.

``python -m tests.accuracy.signs`` reads them in the mean stride at the end of every case that is
not kept apart. What it prints as mean over the movements goes into live/measures/contact_signs.py
by hand: the
seconds of a sign in ``CONTACT_BLEND`` and ``TOE_OFF_BLEND``, or the share of a stride. From behind
and in front it also prints what would have to be added to ``FALL_LAG`` of the body's fall.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import numpy as np

from live.measures import contact_signs as contact
from live.measures.readings import Scene
from live.stride.fourier import TWO_PI
from live.stride.vertical import shape_of
from shared.flow import EventKind, FloatArray, Side, View
from shared.units import NS_PER_S
from tests.accuracy.report import every_case
from tests.accuracy.sources import movement_of, true_in
from tests.accuracy.tracks import pipeline_for, poses_of, truth_of
from tests.rendered.truth import Truth


class Lag(NamedTuple):
    """How much later than one sign the event truly comes, in one case and foot."""

    event: EventKind
    view: str
    sign: str
    movement: str
    later_s: float
    stride_s: float
    shape: tuple[float, float, float]
    """Of the body's way and of the knees', as ``contact.FALL_LAG`` takes it."""


def lags_of(path: Path) -> Iterator[Lag]:
    """Of every sign that the blends use."""
    truth = truth_of(path)
    pipeline = pipeline_for(path)
    for pose in poses_of(path):
        pipeline.update(pose)
    scene = pipeline.scene()
    if scene is None:
        return
    movement, view = movement_of(truth.meta), pipeline.view
    stride_s, px_per_m = 1.0 / scene.mean.rate_hz, scene.scale.px_per_m
    assert px_per_m is not None
    for side in Side:
        curves = contact.curves_of(scene.mean, view, side, scene.forward, px_per_m)
        shape = (*shape_of(curves.body_down), contact.third_wave(curves.knee_lower))
        for event, (anchor, signs), weights in (
            (
                EventKind.CONTACT,
                contact.contact_signs(curves, view),
                contact.CONTACT_BLEND[view],
            ),
            (
                EventKind.TOE_OFF,
                contact.toe_off_signs(curves, scene.phases.contact[side]),
                contact.TOE_OFF_BLEND[view],
            ),
        ):
            true = true_phase(scene, truth, event, side)
            if true is None or not true_in(truth.meta, event):
                continue
            after_s = (true - anchor) % TWO_PI / TWO_PI * stride_s
            for sign in weights:
                later_s = (after_s - signs[sign] + stride_s / 2.0) % stride_s - stride_s / 2.0
                yield Lag(event, view, sign, movement, later_s, stride_s, shape)


def true_phase(scene: Scene, truth: Truth, event: EventKind, side: Side) -> float | None:
    """Where in the stride the foot truly met or left the belt in the last four seconds, rad."""
    model = scene.model
    model.smooth_back(len(model.samples))
    at_s = np.array([sample.captured_ns / NS_PER_S - 1.0 for sample in model.samples])
    theta = np.array([sample.theta for sample in model.samples])
    true_s = [
        one["time_s"]
        for one in truth.events
        if one["kind"] == event
        and one["side"] == side
        and max(at_s[0], at_s[-1] - 4.0) < one["time_s"] < at_s[-1] - 0.1
    ]
    if not true_s:
        return None
    return float(np.angle(np.exp(1j * np.interp(true_s, at_s, theta)).mean()))


def fall_lag_fit(movements: dict[str, list[Lag]], knees: bool) -> FloatArray:
    """What is to be added to FALL_LAG, strides a unit: least squares, each movement alike."""
    lags = [lag for some in movements.values() for lag in some]
    worth = np.sqrt([1.0 / len(movements[lag.movement]) for lag in lags])
    shapes = np.array([(*lag.shape, 1.0) for lag in lags])
    if not knees:
        shapes[:, 2] = 0.0
    later = np.array([lag.later_s / lag.stride_s for lag in lags])
    found = np.linalg.lstsq(worth[:, None] * shapes, worth * later, rcond=None)[0]
    return np.asarray(found[:3])


def main() -> None:
    """Print a row a sign, and what its mean over the movements is."""
    groups: dict[tuple[str, str, str], dict[str, list[Lag]]] = defaultdict(
        lambda: defaultdict(list)
    )
    for path in every_case():
        if truth_of(path).meta["kept_apart"]:
            continue
        for lag in lags_of(path):
            groups[(lag.event, lag.view, lag.sign)][lag.movement].append(lag)
    for (event, view, sign), movements in sorted(groups.items()):
        told, means = [], []
        for movement, lags in sorted(movements.items()):
            later_ms = np.array([1000.0 * lag.later_s for lag in lags])
            means.append((later_ms.mean(), np.mean([lag.later_s / lag.stride_s for lag in lags])))
            told.append(f"{movement} {later_ms.mean():.1f} ({later_ms.std():.1f}, {len(lags)})")
        ms, strides = np.mean(means, axis=0)
        print(f"{event} {view} {sign}: {ms:.1f} ms or {strides:.3f} strides; " + "; ".join(told))
        if sign == "body_fall":
            early, pointed, knees = fall_lag_fit(movements, knees=view == View.BEHIND)
            print(f"  FALL_LAG: early {early:+.2f}, pointed {pointed:+.2f}, knees {knees:+.3f}")


if __name__ == "__main__":
    main()
