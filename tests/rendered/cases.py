"""The rendered cases, and which of them are kept apart for the final check.

Rule, fixed before any clip was drawn: within each view, in the order written here, every third
group is kept apart. A group is one clip, or a pair that differs only in strike_ahead by 3 cm.
"""

from dataclasses import replace

from tests.rendered.camera import View
from tests.rendered.clip import Case
from tests.rendered.params import BySide, Happening, RunnerParams, both
from tests.rendered.render import Look

PAIR_STEP_M = 0.03

BLUE = Look()
RED = Look(
    shirt=(0.72, 0.20, 0.18), shorts=(0.15, 0.15, 0.17), shoes=(0.25, 0.55, 0.85),
    hair=(0.45, 0.30, 0.15), accent=(0.95, 0.95, 0.95), wall=(0.80, 0.78, 0.72),
)  # fmt: skip
GREEN = Look(
    skin=(0.45, 0.30, 0.22), hair=(0.08, 0.06, 0.05), shirt=(0.35, 0.62, 0.35),
    shorts=(0.30, 0.30, 0.33), shoes=(0.95, 0.95, 0.90), accent=(0.12, 0.25, 0.15),
    sleeve="none", wall=(0.68, 0.74, 0.78),
)  # fmt: skip
WHITE = Look(
    skin=(0.88, 0.70, 0.60), hair=(0.70, 0.55, 0.32), shirt=(0.88, 0.88, 0.90),
    shorts=(0.55, 0.16, 0.35), shoes=(0.30, 0.30, 0.35), accent=(0.55, 0.16, 0.35),
    lower="long_shorts",
)  # fmt: skip
TIGHTS = Look(
    skin=(0.62, 0.44, 0.34), shirt=(0.85, 0.55, 0.15), shorts=(0.13, 0.14, 0.20),
    shoes=(0.85, 0.85, 0.25), accent=(0.25, 0.25, 0.30), lower="tights", sleeve="long",
)  # fmt: skip
DARK = Look(  # little contrast between clothes, skin and wall
    skin=(0.36, 0.25, 0.19), hair=(0.07, 0.06, 0.06), shirt=(0.22, 0.23, 0.25),
    shorts=(0.20, 0.21, 0.23), shoes=(0.18, 0.18, 0.20), accent=(0.24, 0.25, 0.27),
    wall=(0.30, 0.31, 0.33), lower="tights", sleeve="long", light=1.2,
)  # fmt: skip
PALE = Look(  # pale clothes before a pale wall
    skin=(0.90, 0.76, 0.66), hair=(0.75, 0.66, 0.50), shirt=(0.80, 0.80, 0.78),
    shorts=(0.76, 0.76, 0.74), shoes=(0.82, 0.82, 0.80), accent=(0.78, 0.78, 0.76),
    wall=(0.80, 0.80, 0.78),
)  # fmt: skip
ORANGE_TAPE, GREEN_TAPE = (1.0, 0.45, 0.05), (0.25, 1.0, 0.30)

FEMALE, MALE = RunnerParams(), RunnerParams(body="male", strike_ahead_m=both(0.26))
STURDY, SLIGHT = replace(FEMALE, body="sturdy"), replace(FEMALE, body="slight")
SMALL_CRF = 32
"""Where the clip's size counts: the folder may hold so much and no more."""


def runner(base: RunnerParams, seed: int, speed: float, cadence: float, contact: float,
           **more: object) -> RunnerParams:  # fmt: skip
    """A base runner at a belt speed (m/s), cadence (steps/min) and contact time (ms)."""
    values = {
        "seed": seed,
        "belt_speed_mps": speed,
        "cadence_spm": cadence,
        "contact_time_ms": both(contact),
        **more,
    }
    return replace(base, **values)  # type: ignore[arg-type]


def side(near: str, yaw: float, **more: float) -> View:
    return View("side", near, yaw_deg=yaw, **{"field_of_view_deg": 36.0, **more})  # type: ignore[arg-type]


def behind(yaw: float = 0.0, **more: float) -> View:
    return View("behind", yaw_deg=yaw, **{"field_of_view_deg": 36.0, "height_m": 1.0, **more})  # type: ignore[arg-type]


def front(yaw: float = 0.0, **more: float) -> View:
    return View("front", yaw_deg=yaw, **{"field_of_view_deg": 36.0, "height_m": 1.1, **more})  # type: ignore[arg-type]


def pair(case: Case) -> tuple[Case, Case]:
    """A case, and the same with both feet landing 3 cm further ahead."""
    ahead = case.runner.strike_ahead_m
    further = BySide(ahead.left + PAIR_STEP_M, ahead.right + PAIR_STEP_M)
    return (
        replace(case, name=f"{case.name}_near"),
        replace(
            case,
            name=f"{case.name}_far",
            runner=replace(case.runner, strike_ahead_m=further),
        ),
    )


SIDE: tuple[tuple[Case, ...], ...] = (
    pair(Case(
        "side_01", runner(FEMALE, 101, 2.8, 168, 262, strike_ahead_m=both(0.225)),
        side("right", 0.0), BLUE,
    )),
    (Case(
        "side_02_long",
        runner(MALE, 102, 3.0, 165, 262, trunk_lean_deg=11.0, strike_ahead_m=BySide(0.255, 0.275)),
        side("left", 10.0), RED, duration_s=70.0, crf=SMALL_CRF,
    ),),
    pair(Case(
        "side_03", runner(MALE, 103, 3.3, 172, 245,
               trunk_lean_deg=10.0, strike_ahead_m=both(0.25), height_m=1.86),
        side("left", 12.0, distance_m=3.7), GREEN,
    )),
    (Case(
        "side_04",
        runner(FEMALE, 104, 2.6, 154, 285, strike_ahead_m=BySide(0.30, 0.28), height_m=1.60,
               foot_angle_contact_deg=both(19.0), trunk_lean_deg=5.0),
        side("right", 15.0), WHITE,
    ),),
    (Case(
        "side_05",
        runner(MALE, 105, 4.3, 184, 202,
               trunk_lean_deg=9.0, strike_ahead_m=both(0.27), retraction_s=0.045,
               foot_angle_contact_deg=both(-4.0), knee_flexion_swing_deg=both(108.0)),
        side("right", 5.0), TIGHTS, fps=60.0,
    ),),
    (Case(
        "side_06_long",
        runner(FEMALE, 106, 2.9, 172, 255, strike_ahead_m=BySide(0.245, 0.225)),
        side("right", 8.0), RED, duration_s=70.0,
    ),),
    pair(Case(
        "side_07",
        runner(FEMALE, 107, 3.0, 166, 255,
               trunk_lean_deg=4.0, strike_ahead_m=both(0.24), height_m=1.72),
        side("left", -10.0), TIGHTS, fps=24.0, jitter_s=0.004,
    )),
    (Case(
        "side_08", runner(MALE, 108, 2.7, 160, 275, trunk_lean_deg=10.0),
        side("right", 0.0), replace(BLUE, light=0.45), shutter_s=0.016, noise=4.0,
    ),),
    (Case(
        "side_09",
        runner(FEMALE, 109, 3.1, 170, 250, trunk_lean_deg=6.0, strike_ahead_m=BySide(0.27, 0.22),
               step_time_asymmetry_pct=4.0, contact_time_ms=BySide(258.0, 242.0)),
        side("left", 12.0), GREEN, fps=60.0,
    ),),
    (Case(
        "side_10", runner(MALE, 110, 3.5, 174, 236, trunk_lean_deg=12.0, strike_ahead_m=both(0.27)),
        side("right", -15.0), DARK,
    ),),
    (Case(
        "side_11",
        runner(FEMALE, 111, 2.8, 162, 268, strike_ahead_m=BySide(0.25, 0.27), stand_s=3.0),
        side("left", 12.0), BLUE, duration_s=20.0,
    ),),
    (Case(
        "side_12",
        runner(MALE, 112, 3.0, 158, 268,
               trunk_lean_deg=3.0, strike_ahead_m=BySide(0.29, 0.27), stand_s=3.0),
        side("right", 10.0), replace(WHITE, long_rails=True), duration_s=20.0,
    ),),
    (Case(
        "side_13",
        runner(FEMALE, 113, 2.9, 170, 256, foot_angle_contact_deg=both(8.0), retraction_s=0.055),
        side("left", 5.0, distance_m=2.6, field_of_view_deg=48.0, roll_deg=2.0, k1=-0.12), RED,
    ),),
    (Case(
        "side_14",
        runner(MALE, 114, 3.2, 168, 250,
               trunk_lean_deg=6.0, height_m=1.76, strike_ahead_m=both(0.28),
               knee_flexion_peak_deg=41.0),
        side("left", 8.0, distance_m=4.4, field_of_view_deg=30.0), WHITE,
        jitter_s=0.003, drop_share=0.08,
    ),),
    (Case(
        "side_15",
        runner(FEMALE, 115, 3.3, 178, 236, trunk_lean_deg=5.0, foot_angle_contact_deg=both(3.0),
               strike_ahead_m=BySide(0.235, 0.25)),
        side("right", 14.0, height_m=0.55), PALE, shutter_s=0.012,
    ),),
    (Case(
        "side_16",
        runner(MALE, 116, 2.9, 164, 264,
               happenings=(Happening("face_wipe", 7.0, 8.2, "right"),
                           Happening("hand_up", 12.0, 14.5, "right"))),
        side("right", 10.0, distance_m=4.2), GREEN,
    ),),
    (Case(
        "side_17",
        runner(FEMALE, 117, 2.7, 164, 268,
               happenings=(Happening("second_person", 6.0, 9.0), Happening("fall", 13.0, 18.0))),
        side("right", 12.0, distance_m=3.9), TIGHTS, duration_s=18.0,
    ),),
    (Case(
        "side_18",
        runner(MALE, 118, 3.1, 170, 252,
               happenings=(Happening("hand_up", 6.0, 8.0, "left"),
                           Happening("drift_back", 9.0, 12.0, amount_m=0.45),
                           Happening("drift_back", 14.0, 16.5, amount_m=2.2))),
        side("left", 10.0, distance_m=4.2), BLUE, duration_s=20.0,
    ),),
    # Added later: the ends of the ranges, two more builds (the slight one only among the kept
    # apart), standing before the run, and at least twenty strides.
    (Case(
        "side_19",
        runner(STURDY, 119, 2.5, 150, 285, strike_ahead_m=BySide(0.25, 0.28), trunk_lean_deg=6.0,
               stand_s=2.5, stand_hips_ahead_m=0.05, start_s=1.5),
        side("right", 8.0), RED, duration_s=24.0, crf=SMALL_CRF,
    ),),
    (Case(
        "side_20",
        runner(MALE, 120, 4.5, 195, 190, trunk_lean_deg=10.0, strike_ahead_m=BySide(0.27, 0.25),
               retraction_s=0.045, foot_angle_contact_deg=both(2.0),
               knee_flexion_swing_deg=both(110.0)),
        side("left", 6.0), BLUE, duration_s=17.5, crf=SMALL_CRF,
    ),),
    (Case(
        "side_21",
        runner(SLIGHT, 121, 2.5, 151, 282, strike_ahead_m=BySide(0.29, 0.26),
               trunk_lean_deg=7.0, step_time_asymmetry_pct=-3.0,
               stand_s=2.5, stand_hips_ahead_m=0.025, start_s=1.5),
        side("left", 12.0), replace(TIGHTS, sleeve="short"), duration_s=24.0, crf=SMALL_CRF,
    ),),
    (Case(
        "side_22",
        runner(MALE, 122, 3.4, 178, 236, trunk_lean_deg=7.0, strike_ahead_m=BySide(0.24, 0.26),
               step_time_asymmetry_pct=3.0,
               stand_s=2.5, stand_hips_ahead_m=0.035, start_s=1.5),
        side("right", 0.0), WHITE, duration_s=21.5, crf=SMALL_CRF,
    ),),
    (Case(
        "side_23",
        runner(STURDY, 123, 3.0, 170, 252, trunk_lean_deg=9.0, strike_ahead_m=both(0.23),
               foot_angle_contact_deg=both(8.0), stand_s=2.5, stand_hips_ahead_m=0.06, start_s=1.5),
        side("left", 13.0), GREEN, duration_s=22.0, crf=SMALL_CRF,
    ),),
    (Case(
        "side_24",
        runner(STURDY, 124, 4.4, 193, 194, trunk_lean_deg=8.0, strike_ahead_m=both(0.25),
               retraction_s=0.045, foot_angle_contact_deg=both(6.0),
               knee_flexion_swing_deg=both(106.0)),
        side("right", 10.0), BLUE, duration_s=17.5, crf=SMALL_CRF,
    ),),
)  # fmt: skip

BEHIND: tuple[tuple[Case, ...], ...] = (
    (Case(
        "behind_01",
        runner(FEMALE, 201, 2.8, 166, 264, pelvic_shift_m=BySide(0.012, 0.030),
               pelvic_drop_deg=BySide(4.0, 7.0), arm_direction_deg=BySide(30.0, 10.0)),
        behind(), BLUE,
    ),),
    (Case(
        "behind_02",
        runner(MALE, 202, 3.1, 168, 252, pelvic_shift_m=both(0.010), step_width_m=0.06,
               arm_direction_deg=both(12.0)),
        behind(), replace(RED, tape=GREEN_TAPE),
    ),),
    (Case(
        "behind_03",
        runner(FEMALE, 203, 2.7, 160, 272, pelvic_shift_m=BySide(0.036, 0.016),
               pelvic_drop_deg=BySide(7.5, 4.0), knee_inward_deg=BySide(12.0, 5.0),
               arm_direction_deg=BySide(20.0, 45.0)),
        behind(), replace(GREEN, tape=ORANGE_TAPE),
    ),),
    (Case(
        "behind_04",
        runner(MALE, 204, 3.3, 172, 244, pelvic_shift_m=BySide(0.018, 0.022),
               arm_direction_deg=both(50.0), forearm_in_deg=both(20.0)),
        behind(), replace(WHITE, tape=GREEN_TAPE), fps=60.0,
    ),),
    (Case(
        "behind_05",
        runner(FEMALE, 205, 3.0, 172, 252, pelvic_shift_m=BySide(0.022, 0.010),
               arm_direction_deg=BySide(8.0, 25.0)),
        behind(), DARK, fps=24.0, jitter_s=0.004,
    ),),
    (Case(
        "behind_06",
        runner(MALE, 206, 2.9, 162, 266, pelvic_shift_m=BySide(0.014, 0.028),
               pelvic_drop_deg=BySide(4.0, 6.5), arm_direction_deg=BySide(5.0, 52.0)),
        behind(8.0), TIGHTS,
    ),),
    (Case(
        "behind_07",
        runner(FEMALE, 207, 2.8, 168, 262, pelvic_shift_m=BySide(0.026, 0.014), stand_s=3.0,
               arm_direction_deg=BySide(35.0, 15.0)),
        behind(-8.0), replace(BLUE, tape=ORANGE_TAPE), duration_s=20.0,
    ),),
    (Case(
        "behind_08",
        runner(MALE, 208, 3.4, 174, 240, pelvic_shift_m=BySide(0.012, 0.020), step_width_m=0.08,
               arm_direction_deg=both(22.0)),
        behind(), replace(GREEN, light=0.45), shutter_s=0.016, noise=4.0,
    ),),
    (Case(
        "behind_09",
        runner(FEMALE, 209, 3.0, 176, 248, pelvic_shift_m=BySide(0.008, 0.024),
               trunk_side_lean_deg=BySide(1.0, 5.0), arm_direction_deg=BySide(40.0, 18.0)),
        behind(0.0, distance_m=2.7, field_of_view_deg=46.0, roll_deg=-2.0, k1=-0.12), RED,
    ),),
    (Case(
        "behind_10",
        runner(MALE, 210, 2.8, 160, 272, pelvic_shift_m=both(0.020),
               happenings=(Happening("second_person", 5.0, 8.0),
                           Happening("hand_up", 10.0, 12.5, "left"),
                           Happening("drift_back", 13.5, 16.0, amount_m=0.5))),
        behind(0.0, distance_m=4.0), BLUE, duration_s=18.0,
    ),),
    (Case(
        "behind_11",
        runner(STURDY, 211, 2.6, 154, 278, pelvic_shift_m=BySide(0.030, 0.016),
               arm_direction_deg=BySide(60.0, 28.0)),
        behind(), RED, duration_s=20.0, crf=SMALL_CRF,
    ),),
    (Case(
        "behind_12",
        runner(SLIGHT, 212, 3.2, 178, 240, pelvic_shift_m=BySide(0.012, 0.024),
               arm_direction_deg=BySide(15.0, 58.0)),
        behind(4.0), WHITE, duration_s=18.0, crf=SMALL_CRF,
    ),),
)  # fmt: skip

FRONT: tuple[tuple[Case, ...], ...] = (
    (Case(
        "front_01",
        runner(FEMALE, 301, 2.8, 166, 264, pelvic_shift_m=BySide(0.014, 0.026),
               arm_direction_deg=BySide(20.0, 40.0)),
        front(), replace(BLUE, console=False),
    ),),
    (Case(
        "front_02",
        runner(MALE, 302, 3.2, 170, 248, pelvic_shift_m=BySide(0.020, 0.012),
               arm_direction_deg=BySide(10.0, 15.0)),
        front(10.0), replace(RED, console=False, tape=GREEN_TAPE),
    ),),
    (Case(
        "front_03",
        runner(FEMALE, 303, 2.7, 162, 270, pelvic_shift_m=BySide(0.030, 0.014), stand_s=3.0,
               arm_direction_deg=BySide(35.0, 10.0)),
        front(), replace(TIGHTS, console=False), duration_s=20.0,
    ),),
    (Case(
        "front_04",
        runner(MALE, 304, 3.0, 164, 262, pelvic_shift_m=both(0.016),
               arm_direction_deg=both(30.0), forearm_in_deg=both(22.0)),
        front(), replace(GREEN, console=False, light=0.6), fps=60.0,
    ),),
    (Case(
        "front_05",
        runner(FEMALE, 305, 3.1, 174, 246, pelvic_shift_m=BySide(0.018, 0.024)),
        front(0.0, height_m=1.3, distance_m=3.8), WHITE, fps=24.0,
    ),),
    (Case(
        "front_06",
        runner(MALE, 306, 2.8, 160, 272, pelvic_shift_m=BySide(0.010, 0.028),
               pelvic_drop_deg=BySide(3.5, 6.5), arm_direction_deg=BySide(48.0, 12.0)),
        front(-12.0, k1=-0.08), replace(BLUE, console=False, tape=ORANGE_TAPE),
    ),),
)  # fmt: skip


def _chosen() -> tuple[Case, ...]:
    out = []
    for groups in (SIDE, BEHIND, FRONT):
        for number, group in enumerate(groups):
            out += [replace(case, kept_apart=number % 3 == 2) for case in group]
    return tuple(out)


CASES = _chosen()

BY_LANDMARKS = frozenset(
    {
        "side_03_near", "side_04", "side_07_near", "side_07_far", "side_14", "side_19", "side_20",
        "side_21", "side_22", "side_23", "side_24", "behind_12", "front_01", "front_04", "front_05",
    }
)  # fmt: skip
"""No test looks at their pictures, so that landmarks and truth are kept of them and no clip: that
makes room for more cases (chance.py)."""
