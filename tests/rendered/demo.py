"""The two clips the product brings along: one runner from the side and from behind, looping."""

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
# Runners that answer: too slow, in the band, slow once more, caught; then back to the start. They
# are drawn once, so what answers a cue is when in the clip it comes: tests/feedback/demo holds
# that the pipeline's own cue came before. 108 steps in 40 s; 66 in 24 s.
ANSWERING_RUNNER = replace(
    DEMO_RUNNER,
    cadence_spm=162.0,
    cadence_course=(
        (0.0, 160.0), (10.0, 160.0), (13.0, 168.0), (22.0, 168.0), (24.0, 159.0), (29.5, 159.0),
        (31.5, 168.0), (37.0, 168.0), (40.0, 160.0),
    ),
    loop_steps=108,
)  # fmt: skip
STEADYING_RUNNER = replace(
    DEMO_RUNNER,
    cadence_spm=165.0,
    right_shift_course=((0.0, 0.0), (10.0, 0.0), (13.0, -0.015), (21.0, -0.015), (24.0, 0.0)),
    loop_steps=66,
)
DEMO_LOOK = Look(shorts=(0.20, 0.22, 0.34))
CASES = (
    Case("side", DEMO_RUNNER, View("side", "right", yaw_deg=12.0, field_of_view_deg=35.0),
         DEMO_LOOK, duration_s=6.0, crf=23),
    Case("behind", DEMO_RUNNER, View("behind", height_m=1.0, field_of_view_deg=35.0),
         DEMO_LOOK, duration_s=6.0, crf=23),
    Case("answers", ANSWERING_RUNNER, View("side", "right", yaw_deg=12.0, field_of_view_deg=35.0),
         DEMO_LOOK, duration_s=40.0, crf=27),
    Case("steadies", STEADYING_RUNNER, View("behind", height_m=1.0, field_of_view_deg=35.0),
         DEMO_LOOK, duration_s=24.0, crf=27),
)  # fmt: skip
