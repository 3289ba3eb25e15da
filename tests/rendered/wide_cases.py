"""Cases of the first gait, drawn from ranges so wide that captured runners lie inside them.

`descriptors.py` shows that the cases of chance.py all load their legs earlier than real runners do,
reach furthest ahead 20 ms sooner and hold elbow and wrist in one plane. What their recipes take
for given is drawn here. The rule is that of `spring_cases.py`; none is kept apart.
"""

import numpy as np

from tests.rendered.body import load_body
from tests.rendered.chance import Draw
from tests.rendered.clip import Case
from tests.rendered.params import BySide, RunnerParams
from tests.rendered.spring_cases import BUILDS, VIEWS, before_camera, drawing

FROM = 2000
"""These numbers come after all of spring_cases.py."""
COUNTS = {"side": 10, "behind": 4, "front": 2}
LEFT_OUT: dict[str, set[int]] = {"side": set(), "behind": set(), "front": set()}


def _runner(draw: Draw, number: int) -> RunnerParams:
    speed = draw.between(2.4, 4.2, 1)
    height = draw.between(1.62, 1.92, 2)
    body = load_body(draw.one_of(*BUILDS), height)
    longest_ms = 1000 * draw.between(0.80, 0.92) * (body.thigh_m + body.shank_m) / speed
    contact = min(405.0 - 48.0 * speed + draw.about(0.0, 8.0, 0), longest_ms)
    cadence = float(np.clip(draw.about(154.0 + 15.0 * (speed - 1.9), 9.0, 0), 150, 195))
    contact = min(contact, 60_000 / cadence - 50.0)
    ahead = draw.between(0.17, 0.25) * body.height_m / 1.7 + 0.02 * (speed - 2.5)
    uneven = draw.about(0.0, 0.012)
    foot, elbow = draw.between(-8.0, 18.0, 0), draw.between(-25.0, 12.0, 0)
    wrist, knee = draw.between(max(elbow, 0.0), 45.0, 0), draw.between(80.0, 112.0, 0)
    return RunnerParams(
        body=body.name,
        seed=FROM + number,
        height_m=height,
        belt_speed_mps=speed,
        cadence_spm=cadence,
        step_time_asymmetry_pct=draw.about(0.0, 2.0, 1),
        contact_time_ms=BySide(*(round(contact + draw.about(0.0, 5.0, 0)) for _ in range(2))),
        strike_ahead_m=BySide(round(ahead - uneven / 2, 3), round(ahead + uneven / 2, 3)),
        foot_angle_contact_deg=BySide(foot, foot),
        knee_flexion_contact_deg=draw.between(9.0, 20.0, 1),
        knee_flexion_peak_deg=draw.between(36.0, 48.0, 1),
        knee_flexion_toe_off_deg=draw.between(14.0, 24.0, 1),
        knee_flexion_swing_deg=BySide(*(knee + draw.about(0.0, 2.0, 0) for _ in range(2))),
        ankle_dorsiflexion_peak_deg=BySide(*(draw.about(25.0, 2.5, 1) for _ in range(2))),
        knee_inward_deg=BySide(*(draw.between(0.0, 8.0, 1) for _ in range(2))),
        toe_out_deg=BySide(*(draw.between(0.0, 12.0, 1) for _ in range(2))),
        step_width_m=draw.between(0.0, 0.09),
        retraction_s=draw.between(0.012, 0.045),
        landing_speed_share=draw.between(-0.40, 0.65, 2),
        swing_peak_share=draw.between(0.38, 0.54, 2),
        landing_bend_dps=draw.between(20.0, 280.0, 0),
        force_rise=draw.between(0.35, 1.6, 2),
        pelvic_shift_m=BySide(*(draw.between(0.001, 0.036) for _ in range(2))),
        pelvic_drop_deg=BySide(*(draw.between(2.0, 7.5, 1) for _ in range(2))),
        pelvic_rotation_deg=draw.between(1.0, 9.0, 1),
        pelvic_tilt_deg=draw.between(2.0, 13.0, 1),
        trunk_lean_deg=draw.between(2.0, 13.0, 1),
        trunk_side_lean_deg=BySide(*(draw.between(0.0, 4.0, 1) for _ in range(2))),
        thorax_rotation_deg=draw.between(4.0, 15.0, 1),
        arm_direction_deg=BySide(*(wrist + draw.about(0.0, 3.0, 0) for _ in range(2))),
        elbow_direction_deg=BySide(*(elbow + draw.about(0.0, 3.0, 0) for _ in range(2))),
        arm_swing_deg=BySide(*(draw.between(34.0, 66.0, 0) for _ in range(2))),
        elbow_deg=BySide(*(draw.between(72.0, 112.0, 0) for _ in range(2))),
        step_time_sd_pct=draw.between(0.8, 2.2, 1),
        variability=draw.between(0.6, 1.4, 1),
        swing_late_share=draw.between(-0.02, 0.08),
    )


def drawn(view: str, number: int) -> Case:
    """The case with this number, whether it fits or not."""
    draw = drawing(view, FROM, number)
    runner = _runner(draw, VIEWS[view][1] + number)
    return before_camera(draw, f"wide_{view}_{number:02}", view, number, runner)


CASES = tuple(
    drawn(view, number)
    for view, count in COUNTS.items()
    for number in range(count + len(LEFT_OUT[view]))
    if number not in LEFT_OUT[view]
)
