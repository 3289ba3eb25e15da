"""The rendered runner's gait keeps to identities, to what was asked, and to published ranges."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from tests.rendered import measure
from tests.rendered.gait import Gait, make_gait
from tests.rendered.params import BySide, Happening, RunnerParams, both
from tests.rendered.truth import JOINTS

PLAIN = RunnerParams(step_time_sd_pct=0.0, variability=0.0)
SECONDS, LONG_SECONDS = 4.0, 8.0
RUNNERS = {
    "easy": RunnerParams(),
    "slow and long": RunnerParams(
        belt_speed_mps=2.6,
        cadence_spm=154.0,
        contact_time_ms=both(285.0),
        strike_ahead_m=both(0.29),
        foot_angle_contact_deg=both(19.0),
    ),
    "fast on the forefoot": RunnerParams(
        body="male",
        belt_speed_mps=4.3,
        cadence_spm=184.0,
        contact_time_ms=both(202.0),
        strike_ahead_m=both(0.27),
        foot_angle_contact_deg=both(-4.0),
    ),
    "uneven": RunnerParams(
        body="male",
        belt_speed_mps=3.1,
        strike_ahead_m=BySide(0.28, 0.25),
        step_time_asymmetry_pct=4.0,
        pelvic_shift_m=BySide(0.03, 0.01),
        arm_direction_deg=BySide(5.0, 50.0),
    ),
}


@pytest.fixture(params=RUNNERS.values(), ids=list(RUNNERS))
def gait(request: pytest.FixtureRequest) -> Gait:
    return make_gait(request.param, SECONDS)


def means_of(params: RunnerParams) -> dict[str, dict[str, float]]:
    gait = make_gait(params, SECONDS)
    return measure.means(measure.steps(gait, SECONDS), measure.strides(gait, SECONDS))


def test_speed_is_step_length_times_cadence(gait: Gait) -> None:
    # Identity, over whole strides so that an uneven step cancels.
    steps = measure.steps(gait, SECONDS)[1:-1]
    steps = steps[: len(steps) // 2 * 2]
    cadence = 60 / np.mean([s["step_time_s"] for s in steps])
    length = np.mean([s["step_length_m"] for s in steps])
    assert length * cadence / 60 == pytest.approx(gait.params.belt_speed_mps, rel=0.01)


def test_limbs_keep_their_length(gait: Gait) -> None:
    motion = gait.motion(np.arange(0, SECONDS, 0.01))
    for side in ("left", "right"):
        leg, arm = motion.legs[side], motion.arms[side]
        bones = (
            (leg.hip, leg.knee),
            (leg.knee, leg.ankle),
            (arm.shoulder, arm.elbow),
            (arm.elbow, arm.wrist),
        )
        for a, b in bones:
            assert np.ptp(np.linalg.norm(a - b, axis=1)) < 1e-9


def test_contacts_and_toe_offs_alternate_with_flight_between(gait: Gait) -> None:
    events = measure.events(gait, SECONDS)
    first = next(i for i, e in enumerate(events) if e["kind"] == "contact")
    pairs = list(zip(events[first::2], events[first + 1 :: 2], strict=False))
    for contact, off in pairs:
        assert (contact["kind"], off["kind"]) == ("contact", "toe_off")
        assert contact["side"] == off["side"]
    sides = [contact["side"] for contact, _ in pairs]
    assert all(a != b for a, b in pairwise(sides))
    for (_, off), (contact, _) in pairwise(pairs):
        assert contact["time_s"] > off["time_s"]


def test_ankle_is_furthest_forward_shortly_before_contact(gait: Gait) -> None:
    # Seen on rendered bodies: 42 to 56 ms before contact.
    for step in measure.steps(gait, SECONDS):
        assert 0.040 <= step["furthest_forward_before_contact_s"] <= 0.060


def test_default_runner_lies_in_published_ranges() -> None:
    found = means_of(RunnerParams())["both"]
    # Peak stance knee flexion of uninjured men 39-41 (SD 6) deg: PMC6044588 Table 2.
    assert 33 <= found["knee_flexion_peak_deg"] <= 52
    # From memory, Souza 2016: knee flexion at contact 10-20 deg; shank a little extended.
    assert 10 <= found["knee_flexion_contact_deg"] <= 20
    assert 0 < found["shank_angle_deg"] < 13
    # From memory: ankle 20-27 deg, hip extension 5-20 deg, trunk lean 5-12 deg (Teng & Powers
    # 2014), vertical excursion 6-10 cm.
    assert 18 <= found["ankle_dorsiflexion_peak_deg"] <= 29
    assert 5 <= found["hip_extension_peak_deg"] <= 22
    assert 5 <= found["trunk_lean_deg"] <= 12
    assert 0.055 <= found["vertical_excursion_m"] <= 0.10
    # Duty factor 0.30-0.42 between 8 and 16 km/h; anchors 0.354 and 0.389, J Exp Biol, Table 4.
    duty = found["contact_time_s"] / (2 * found["step_time_s"])
    assert 0.30 <= duty <= 0.42


def test_step_time_varies_as_treadmill_runners_do() -> None:
    steps = measure.steps(make_gait(RunnerParams(seed=4), 60.0), 60.0)[1:]
    times = np.array([s["step_time_s"] for s in steps])
    # 1-3 % from memory; under 4 %: Hanley & Tucker 2018.
    assert 0.01 <= times.std() / times.mean() <= 0.03


def test_up_and_down_twice_a_stride_and_sideways_once() -> None:
    gait = make_gait(PLAIN, SECONDS)
    stride = 120 / PLAIN.cadence_spm
    t = np.arange(0, 8 * stride, stride / 64)
    hips = gait.motion(t).trunk.mid_hips
    up = np.abs(np.fft.rfft(hips[:, 2] - hips[:, 2].mean()))
    across = np.abs(np.fft.rfft(hips[:, 1] - hips[:, 1].mean()))
    assert np.argmax(up) == 16
    assert np.argmax(across) == 8


@pytest.mark.parametrize("side", ["left", "right"])
def test_three_centimetres_more_ahead_are_three_centimetres(side: str) -> None:
    base = means_of(PLAIN)
    ahead = {s: PLAIN.strike_ahead_m.of(s) + 0.03 * (s == side) for s in ("left", "right")}
    moved = means_of(replace(PLAIN, strike_ahead_m=BySide(ahead["left"], ahead["right"])))
    other = "left" if side == "right" else "right"
    change = moved[side]["strike_ahead_m"] - base[side]["strike_ahead_m"]
    assert change == pytest.approx(0.03, abs=0.002)
    assert moved[other]["strike_ahead_m"] == pytest.approx(base[other]["strike_ahead_m"], abs=0.002)


@pytest.mark.parametrize("side", ["left", "right"])
def test_pelvic_shift_follows_its_own_side(side: str) -> None:
    base = means_of(PLAIN)
    shift = {s: PLAIN.pelvic_shift_m.of(s) + 0.015 * (s == side) for s in ("left", "right")}
    moved = means_of(replace(PLAIN, pelvic_shift_m=BySide(shift["left"], shift["right"])))
    other = "left" if side == "right" else "right"
    change = moved[side]["pelvic_shift_m"] - base[side]["pelvic_shift_m"]
    assert change == pytest.approx(0.015, abs=0.001)
    assert moved[other]["pelvic_shift_m"] == pytest.approx(base[other]["pelvic_shift_m"], abs=0.001)


@pytest.mark.parametrize("wanted", [-12.0, 0.0, 20.0, 55.0])
def test_arms_swing_in_the_asked_direction(wanted: float) -> None:
    found = means_of(replace(PLAIN, arm_direction_deg=both(wanted)))
    assert found["both"]["arm_direction_deg"] == pytest.approx(wanted, abs=1.0)


def test_asked_pelvic_drop_and_trunk_lean_come_out() -> None:
    found = means_of(replace(PLAIN, pelvic_drop_deg=BySide(3.0, 7.0), trunk_lean_deg=11.0))
    assert found["left"]["pelvic_drop_deg"] == pytest.approx(3.0, abs=0.2)
    assert found["right"]["pelvic_drop_deg"] == pytest.approx(7.0, abs=0.2)
    assert found["both"]["trunk_lean_deg"] == pytest.approx(11.0, abs=0.2)


def test_uneven_step_time_is_longer_on_the_right() -> None:
    found = means_of(replace(PLAIN, step_time_asymmetry_pct=4.0))
    left, right = found["left"]["step_time_s"], found["right"]["step_time_s"]
    assert 200 * (right - left) / (right + left) == pytest.approx(4.0, abs=0.1)


def test_loop_has_no_seam() -> None:
    params = RunnerParams(cadence_spm=160.0, loop_steps=16, seed=7)
    gait = make_gait(params, 6.0)
    near = np.array([0.0, 1e-3])
    start, end = (measure.file_joints(gait.body, gait.motion(near + t)) for t in (0.0, 6.0))
    assert np.abs(start - end).max() < 1e-6  # place and, with two times, speed
    assert not np.allclose(start, measure.file_joints(gait.body, gait.motion(near + 3.0)))


def test_stands_still_before_the_belt_starts() -> None:
    gait = make_gait(RunnerParams(stand_s=3.0), LONG_SECONDS)
    joints = measure.file_joints(gait.body, gait.motion(np.linspace(0, 3, 31)))
    assert np.ptp(joints, axis=0).max() < 0.02
    assert measure.events(gait, LONG_SECONDS)[0]["time_s"] >= 5.0
    leg = gait.motion(np.zeros(1)).legs["left"]
    assert leg.hip[0, 2] > leg.knee[0, 2] > leg.ankle[0, 2]


def test_raised_hand_is_above_the_head_for_its_time() -> None:
    gait = make_gait(
        RunnerParams(happenings=(Happening("hand_up", 3.0, 5.0, "left"),)), LONG_SECONDS
    )
    t = np.array([2.0, 3.0, 4.0, 5.0, 6.0])
    motion = gait.motion(t)
    joints = measure.file_joints(gait.body, motion)
    head = joints[:, JOINTS.index("head"), 2]
    above = motion.arms["left"].wrist[:, 2] > head
    assert above.tolist() == [False, True, True, True, False]
    assert (motion.arms["right"].wrist[:, 2] < head).all()


def test_fall_drops_the_hips_for_good_and_ends_the_events() -> None:
    gait = make_gait(RunnerParams(happenings=(Happening("fall", 4.0, 8.0),)), LONG_SECONDS)
    up = gait.motion(np.array([3.9, 5.0, 7.9])).trunk.mid_hips[:, 2]
    assert up[0] - up[1] > 0.3
    assert up[1] == pytest.approx(up[2], abs=0.02)
    assert max(e["time_s"] for e in measure.events(gait, LONG_SECONDS)) < 4.0


def test_drift_carries_the_runner_back() -> None:
    drifting = Happening("drift_back", 2.0, 6.0, amount_m=0.5)
    gait = make_gait(replace(PLAIN, happenings=(drifting,)), LONG_SECONDS)
    ahead = gait.motion(np.array([1.0, 7.0])).trunk.mid_hips[:, 0]
    assert ahead[0] - ahead[1] == pytest.approx(0.5, abs=0.03)
