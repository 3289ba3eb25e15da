"""The clips the product brings along: one runner from the side and from behind, looping."""

from dataclasses import replace

from tests.rendered.camera import View
from tests.rendered.clip import Case
from tests.rendered.params import BySide, RunnerParams, both
from tests.rendered.render import Look

# 16 steps at 160 a minute last 6 s = 180 frames; the belt runs 16.8 m = 48 of its marks.
DEMO_RUNNER = RunnerParams(
    belt_speed_mps=2.8,
    cadence_spm=160.0,
    contact_time_ms=both(275.0),
    strike_ahead_m=BySide(0.265, 0.275),
    pelvic_shift_m=BySide(0.014, 0.030),
    pelvic_drop_deg=BySide(4.0, 6.5),
    arm_direction_deg=BySide(28.0, 14.0),
    loop_steps=16,
    seed=7,
)
# The same steps with the pelvis held: what the runner from behind comes to in the demo.
STEADY_RUNNER = replace(DEMO_RUNNER, pelvic_shift_m=BySide(0.014, 0.015))
# 14 steps at 168 a minute last 5 s; the belt runs 14 m = 40 of its marks.
QUICK_RUNNER = replace(
    DEMO_RUNNER,
    cadence_spm=168.0,
    contact_time_ms=both(265.0),
    strike_ahead_m=BySide(0.245, 0.255),
    loop_steps=14,
)
DEMO_LOOK = Look(shorts=(0.20, 0.22, 0.34))
CASES = (
    Case("side", DEMO_RUNNER, View("side", "right", yaw_deg=12.0, field_of_view_deg=35.0),
         DEMO_LOOK, duration_s=6.0, crf=23),
    Case("behind", DEMO_RUNNER, View("behind", height_m=1.0, field_of_view_deg=35.0),
         DEMO_LOOK, duration_s=6.0, crf=23),
    Case("side_quick", QUICK_RUNNER, View("side", "right", yaw_deg=12.0, field_of_view_deg=35.0),
         DEMO_LOOK, duration_s=5.0, crf=23),
    Case("behind_steady", STEADY_RUNNER, View("behind", height_m=1.0, field_of_view_deg=35.0),
         DEMO_LOOK, duration_s=6.0, crf=23),
)  # fmt: skip
