"""The body's bounce: what it says of the phase, and which strides it does not believe."""

from __future__ import annotations

import numpy as np
import pytest

from live.measures.contact_signs import STEADY_S, steadied
from live.pipeline import Pipeline, Setup
from live.stride import fourier
from live.stride.fourier import GRID
from live.stride.mean_stride import MeanStride
from live.stride.vertical import GRAVITY_MPS2, VerticalMotion, borne_share, learn_bounce, shape_of
from shared.flow import EventKind, FloatArray, GaitEvent, Side, View
from shared.landmarks import LANDMARK_COUNT
from shared.landmarks import Landmark as Lm
from shared.units import NS_PER_S
from tests.accuracy.tracks import pipeline_for, poses_of, truth_of
from tests.live.virtual_runner import Spoil, take
from tests.rendered.params import RunnerParams
from tests.rendered.track_file import ENDING, TRACKS

STAND_S, START_S = 3.0, 1.5


def wave(order: int, size: float = 8.0) -> FloatArray:
    coefficients = np.zeros(13)
    coefficients[2 * order - 1] = size
    return coefficients


@pytest.mark.parametrize(("order", "true"), [(1, False), (2, True), (3, False), (4, False)])
def test_only_what_comes_twice_a_stride_is_a_stride(order: int, true: bool) -> None:
    assert VerticalMotion(wave(order), 1.0).twice_a_stride is true


def test_a_limp_is_still_a_stride() -> None:
    assert VerticalMotion(wave(2) + wave(1, 6.0), 1.0).twice_a_stride


def travel_px(*waves: FloatArray) -> float:
    """Of a head that goes up and down so, the hips standing still."""
    coefficients = np.zeros((13, LANDMARK_COUNT, 2))
    coefficients[:, Lm.NOSE, 1] = np.sum(waves, axis=0)
    still = np.zeros(13)
    mean = MeanStride(
        coefficients=coefficients,
        root=np.zeros((13, 2)),
        spread=np.zeros(LANDMARK_COUNT),
        bounce=VerticalMotion(still, 1.0),
        rate_hz=1.4,
        strides=3.0,
        hips_path=still,
        hips_seen=False,
    )
    return mean.travel_px(np.array([Lm.NOSE]))


def test_travel_is_highest_less_lowest_of_what_comes_twice_a_stride() -> None:
    """By hand: 8 cos(2 x) goes from -8 to 8, and so it does with any limp of landmarks on it."""
    assert travel_px(wave(2)) == pytest.approx(16.0)
    assert travel_px(wave(2), wave(1, 5.0), wave(3, 2.0)) == pytest.approx(16.0)
    # 8 cos(2 x) + 2 cos(4 x) is highest at 0, with 10, and lowest at 90 degrees, with -6.
    assert travel_px(wave(2), wave(4, 2.0)) == pytest.approx(16.0)
    # 8 cos(2 x) + 4 cos(4 x): 12 at 0; lowest where cos(2 x) = -1/2, with -6.
    assert travel_px(wave(2), wave(4, 4.0)) == pytest.approx(18.0, abs=0.01)


RATE_HZ = 1.4


def down_m(share: float, skew: float = 0.0) -> FloatArray:
    """A body's height over a stride, downward, m: half a sine of force that lasts ``share`` of each
    step and carries the body over all of it, integrated twice by hand; ``skew`` moves its peak."""
    at = np.arange(GRID) / (GRID / 2.0) % 1.0 / share
    force = np.where(at < 1.0, np.sin(np.pi * np.clip(at, 0.0, 1.0) ** (1.0 + skew)), 0.0)
    acceleration = GRAVITY_MPS2 * (force / force.mean() - 1.0)
    step_s = 1.0 / (RATE_HZ * GRID)
    up_mps = np.cumsum(acceleration) * step_s
    up_m = np.cumsum(up_mps - up_mps.mean()) * step_s
    return np.asarray(up_m.mean() - up_m)


@pytest.mark.parametrize("share", [0.5, 0.62, 0.75, 0.9])
def test_how_far_the_body_goes_says_how_long_the_feet_bear_it(share: float) -> None:
    assert borne_share(down_m(share), RATE_HZ) == pytest.approx(share, abs=0.01)
    limp = 0.01 * np.cos(fourier.PHASES)
    assert borne_share(down_m(share) + limp, RATE_HZ) == pytest.approx(share, abs=0.01)


def test_a_body_that_is_seen_too_large_is_taken_to_fly_longer() -> None:
    """By hand: 2 cos(0.7 pi) / (1 - 4 * 0.7^2) is 1.225 g, and 1.1 times it is that of 0.633."""
    assert borne_share(1.1 * down_m(0.7), RATE_HZ) == pytest.approx(0.633, abs=0.01)


@pytest.mark.parametrize("size", [1.0, 300.0])
@pytest.mark.parametrize("turned", [0, 47])
def test_a_force_that_rises_at_once_makes_the_way_lopsided(size: float, turned: int) -> None:
    """Whatever the scale, and wherever the stride begins."""
    even, early, late = (
        shape_of(size * np.roll(down_m(0.7, skew), turned)).early for skew in (0.0, -0.3, 0.5)
    )
    assert even == pytest.approx(0.0, abs=0.002)
    assert early > 0.02
    assert late < -0.02


def test_height_and_slope_at_a_phase() -> None:
    """8 cos(2 x): at 30 degrees 4, falling by 16 sin(60 degrees) = 13.86 a radian."""
    height, slope = fourier.rows(np.pi / 6.0, 6) @ wave(2)
    assert height == pytest.approx(4.0)
    assert slope == pytest.approx(-13.856, abs=0.001)


def test_the_bounce_is_learnt_apart_from_the_drift_toward_the_camera() -> None:
    theta = np.linspace(0.0, 40.0, 200)
    drift = np.linspace(-0.5, 0.5, 200)[:, None]
    columns = np.hstack([fourier.basis(theta, 6), drift, drift**2])
    downs = 200.0 + 8.0 * np.cos(2.0 * theta) + 30.0 * drift[:, 0]
    found = learn_bounce(downs, columns, np.full(15, 1e-9), np.ones(200), 13)
    assert found.coefficients == pytest.approx(wave(2), abs=0.01)
    assert found.spread == pytest.approx(0.0, abs=0.01)


def test_steadying_keeps_the_time_and_takes_the_tremble() -> None:
    step_s = 0.7 / GRID
    t = np.arange(GRID) * step_s
    slow, fast = np.cos(2 * np.pi * t * 2 / 0.7), np.cos(2 * np.pi * t * 20 / 0.7)
    kept = np.exp(-0.5 * (2 * np.pi * STEADY_S * 2 / 0.7) ** 2)
    assert steadied(slow + fast, step_s, STEADY_S) == pytest.approx(kept * slow, abs=1e-4)


@pytest.mark.parametrize("view", View)
@pytest.mark.parametrize("ahead_m", [0.0, 0.06])
def test_the_stride_is_known_soon_after_standing_and_rightly(view: View, ahead_m: float) -> None:
    """Standing and starting must neither hold up the first measures nor make up a false stride."""
    params = RunnerParams(stand_s=STAND_S, stand_hips_ahead_m=ahead_m, start_s=START_S)
    made = take(params, view, 12.0, spoil=Spoil(noise_px=1.0, swap_near_contact=view is View.SIDE))
    pipeline = Pipeline(Setup(view, 1.66, params.belt_speed_mps))
    found = [
        event
        for pose in made.poses
        for event in pipeline.update(pose).events
        if event.kind is EventKind.CONTACT
    ]
    running_ns = made.start_ns + int((STAND_S + START_S) * NS_PER_S)
    assert found[0].captured_ns < running_ns + 3 * NS_PER_S
    late = [event for event in found if event.at_ns > running_ns + 3 * NS_PER_S]
    assert sides_of(late) == nearest_sides(late, made.contacts())


def test_a_runner_whose_two_steps_differ_much_is_found_as_soon() -> None:
    """Two thirds of this one's way up and down come twice a stride (rendered, second gait)."""
    path = TRACKS / f"spring_behind_09{ENDING}"
    running_s = truth_of(path).meta["running_from_s"]
    pipeline = pipeline_for(path)
    first = next(pose for pose in poses_of(path) if pipeline.update(pose).events)
    assert first.captured_ns / NS_PER_S - 1.0 < running_s + 4.0


def sides_of(events: list[GaitEvent]) -> list[Side | None]:
    return [event.side for event in events]


def nearest_sides(events: list[GaitEvent], true: list[tuple[int, Side]]) -> list[Side]:
    """The side of the true contact nearest to each event; every true one must be there."""
    rows = [min(true, key=lambda row: abs(row[0] - event.at_ns)) for event in events]
    first, last = rows[0][0], rows[-1][0]
    assert rows == [row for row in true if first <= row[0] <= last]
    return [side for _, side in rows]
