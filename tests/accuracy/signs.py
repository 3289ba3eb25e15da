"""Prints how long after each sign the foot truly meets and leaves the belt, by movement.

``python -m tests.accuracy.signs`` reads them in the mean stride at the end of every case that is
not kept apart, and prints the table in tests/accuracy/blends.py anew: what is learnt from all
movements, and without each. What it prints for all goes into live/measures/contact_signs.py by
hand.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator
from pathlib import Path
from typing import Final, NamedTuple

import numpy as np

from live.measures import contact_signs as contact
from live.measures.readings import Scene
from live.stride.fourier import TWO_PI
from live.stride.vertical import shape_of
from shared.flow import EventKind, FloatArray, Side, View
from shared.units import NS_PER_S
from tests.accuracy.blends import Learnt, in_strides
from tests.accuracy.report import every_case
from tests.accuracy.sources import movement_of, true_in
from tests.accuracy.tracks import pipeline_for, poses_of, truth_of
from tests.rendered.truth import Truth

FALL: Final = "body_fall"
SHRUNK: Final = 0.8
"""What of the least squares is believed: so single runners are spread least."""


class Lag(NamedTuple):
    """How much later than one sign the event truly comes, in one case and foot."""

    event: EventKind
    view: View
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
                if sign == FALL:  # without what the runner's own lag is taken for
                    later_s += stride_s * float(np.dot(contact.FALL_LAG[view], shape))
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


def learn(lags: list[Lag], without: str) -> Learnt:
    """All that is learnt of the signs from all movements but one, each movement counting alike."""
    fall_lag: dict[View, contact.Lag] = {}
    later: dict[tuple[EventKind, View], dict[str, float]] = {}
    for kind, table in (
        (EventKind.CONTACT, contact.CONTACT_BLEND),
        (EventKind.TOE_OFF, contact.TOE_OFF_BLEND),
    ):
        for view, blend in table.items():
            later[(kind, view)] = {}
            for name, sign in blend.items():
                mine = [
                    lag
                    for lag in lags
                    if (lag.event, lag.view, lag.sign) == (kind, view, name)
                    and lag.movement != without
                ]
                counts = Counter(lag.movement for lag in mine)
                worth = np.array([1.0 / counts[lag.movement] for lag in mine])
                off = np.array([lag.later_s for lag in mine])
                if in_strides(sign):
                    off = off / np.array([lag.stride_s for lag in mine])
                if name == FALL:
                    shapes = np.array([lag.shape for lag in mine])
                    by = fall_lag_fit(shapes, off, worth, knees=view is View.BEHIND)
                    fall_lag[view] = by
                    off = off - shapes @ np.array(by)
                later[(kind, view)][name] = round(float(np.average(off, weights=worth)), 4)
    return Learnt(fall_lag, later)


def fall_lag_fit(
    shapes: FloatArray, later: FloatArray, worth: FloatArray, knees: bool
) -> contact.Lag:
    """FALL_LAG by least squares, a fifth less; ``shapes`` (n, 3), ``later`` (n,) strides."""
    columns = np.column_stack([shapes, np.ones(len(shapes))])
    if not knees:
        columns[:, 2] = 0.0
    root = np.sqrt(worth)
    found = SHRUNK * np.linalg.lstsq(root[:, None] * columns, root * later, rcond=None)[0][:3]
    return contact.Lag(*(round(float(one), 3) for one in found))


def main() -> None:
    """Print a row a sign, and what is learnt of them all."""
    lags = [
        lag
        for path in every_case()
        if not truth_of(path).meta["kept_apart"]
        for lag in lags_of(path)
    ]
    groups: dict[tuple[str, str, str], dict[str, list[float]]] = defaultdict(
        lambda: defaultdict(list)
    )
    for lag in lags:
        groups[(lag.event, lag.view, lag.sign)][lag.movement].append(1000.0 * lag.later_s)
    for (event, view, sign), movements in sorted(groups.items()):
        told = [
            f"{movement} {np.mean(later_ms):.1f} ({np.std(later_ms):.1f}, {len(later_ms)})"
            for movement, later_ms in sorted(movements.items())
        ]
        print(f"{event} {view} {sign}, ms: " + "; ".join(told))
    for without in ("", *sorted({lag.movement for lag in lags})):
        print(f"{without!r}: {learn(lags, without)}")


if __name__ == "__main__":
    main()
