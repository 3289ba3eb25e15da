"""Prints how long after each sign the foot truly meets and leaves the belt, by movement.

``python -m tests.accuracy.signs`` reads them in the mean stride at every event told in every case
that is not kept apart, and prints the table in tests/accuracy/blends.py anew: what is learnt from
all movements, and without each. What it prints for all goes into live/measures/contact_signs.py by
hand.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Iterator
from pathlib import Path
from typing import Final, NamedTuple

import numpy as np

from live.measures import contact_signs as contact
from live.measures.readings import Scene
from live.stride.fourier import TWO_PI
from live.stride.vertical import shape_of
from shared.flow import EventKind, FloatArray, GaitEvent, Side, View
from shared.units import NS_PER_S
from tests.accuracy.blends import Learnt, in_strides
from tests.accuracy.report import every_case
from tests.accuracy.score import SETTLE_S
from tests.accuracy.sources import movement_of, true_in
from tests.accuracy.tracks import pipeline_for, poses_of, truth_of
from tests.rendered.truth import Truth

FALL: Final = "body_fall"
NEAR_S: Final = 0.12
"""An event further from every true one is of no step."""
SHRUNK: Final = 0.8
"""What of the least squares is believed: so single runners are spread least."""


class Lag(NamedTuple):
    """How much later than one sign the event truly comes, of one foot in one case."""

    event: EventKind
    view: View
    sign: str
    movement: str
    later_s: float
    stride_s: float
    shape: tuple[float, float, float, float]
    """Of the body's way, the knees' and the stride's time, as ``contact.FALL_LAG`` takes it."""


def lags_of(path: Path) -> Iterator[Lag]:
    """Of every sign that the blends use, the mean over all events that were told of a foot.

    One instant of a run would tell less: by how the stride is just learnt a sign wanders, the
    foot's rise by up to 20 ms.
    """
    seen: dict[tuple[EventKind, str, Side], list[Lag]] = defaultdict(list)
    for side, lag in _each_lag(path):
        seen[(lag.event, lag.sign, side)].append(lag)
    for some in seen.values():
        yield some[0]._replace(
            later_s=float(np.mean([lag.later_s for lag in some])),
            stride_s=float(np.mean([lag.stride_s for lag in some])),
            shape=tuple(np.mean([lag.shape for lag in some], axis=0)),
        )


def _each_lag(path: Path) -> Iterator[tuple[Side, Lag]]:
    truth = truth_of(path)
    pipeline = pipeline_for(path)
    for pose in poses_of(path):
        for event in pipeline.update(pose).events:
            off_s, scene = off_by_s(event, truth), pipeline.scene()
            if scene is None or event.side is None or off_s is None:
                continue
            for lag in _lags_now(scene, pipeline.view, event.kind, event.side, off_s):
                yield event.side, lag._replace(movement=movement_of(truth.meta))


def off_by_s(event: GaitEvent, truth: Truth) -> float | None:
    """How much later an event was told than it was; None before a run is steady, or of no step."""
    at_s, key = event.at_ns / NS_PER_S - 1.0, f"{event.kind.value}_s"
    off_s = [at_s - one[key] for one in truth.steps if one["side"] == event.side]
    nearest = min(off_s, key=abs, default=math.inf)
    if at_s < SETTLE_S or abs(nearest) >= NEAR_S or not true_in(truth.meta, event.kind):
        return None
    return float(nearest)


def _lags_now(scene: Scene, view: View, kind: EventKind, side: Side, off_s: float) -> Iterator[Lag]:
    stride_s, px_per_m = 1.0 / scene.mean.rate_hz, scene.scale.px_per_m
    assert px_per_m is not None
    curves = contact.curves_of(scene.mean, view, side, scene.forward, px_per_m)
    knees = contact.third_wave(curves.knee_lower)
    shape = (*shape_of(curves.body_down), knees, contact.slowness(stride_s))
    if kind is EventKind.CONTACT:
        (anchor, signs), weights = contact.contact_signs(curves, view), contact.CONTACT_BLEND[view]
        told = scene.phases.contact[side]
    else:
        anchor, signs = contact.toe_off_signs(curves, scene.phases.contact[side])
        told, weights = scene.phases.toe_off[side], contact.TOE_OFF_BLEND[view]
    true_s = (told - anchor) % TWO_PI / TWO_PI * stride_s - off_s
    for sign in weights:
        later_s = (true_s - signs[sign] + stride_s / 2.0) % stride_s - stride_s / 2.0
        if sign == FALL:  # without what the runner's own lag is taken for
            later_s += stride_s * float(np.dot(contact.FALL_LAG[view], shape))
        yield Lag(kind, view, sign, "", later_s, stride_s, shape)


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
                    by = fall_lag_fit(shapes, off, worth, by_body=view is View.FRONT)
                    fall_lag[view] = by
                    off = off - shapes @ np.array(by)
                later[(kind, view)][name] = round(float(np.average(off, weights=worth)), 4)
    return Learnt(fall_lag, later)


def fall_lag_fit(
    shapes: FloatArray, later: FloatArray, worth: FloatArray, by_body: bool
) -> contact.Lag:
    """FALL_LAG by least squares, a fifth less; ``shapes`` (n, 4), ``later`` (n,) strides.

    ``by_body``: by the shape of the body's way alone; in front the feet tell the rest.
    """
    columns = np.column_stack([shapes, np.ones(len(shapes))])
    if by_body:
        columns[:, 2:-1] = 0.0
    root = np.sqrt(worth)
    found = SHRUNK * np.linalg.lstsq(root[:, None] * columns, root * later, rcond=None)[0][:-1]
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
