"""Cases of the second gait (`spring.py`), drawn by chance, to learn and to judge against.

Rule, fixed before any was drawn: a case's number is the seed of all that is drawn for it, as in
chance.py, and that of its recipe; numbers whose recipe asks for what its runner's legs cannot do,
or for what nobody runs like (`fit`), are left out, so many as it takes. None is kept apart: the
source as a whole is left out when a constant is judged.
"""

from dataclasses import replace

import numpy as np

from tests.rendered import measure
from tests.rendered.body import load_body
from tests.rendered.camera import View
from tests.rendered.chance import BODIES, CAMERAS, DRAWN_APART, DRAWN_BUILDS, SHORT_S, Draw, _look
from tests.rendered.clip import Case, runner_of
from tests.rendered.motion import Driver
from tests.rendered.params import BySide, RunnerParams
from tests.rendered.spring import Spring

FROM = 1000
"""These numbers come after all of chance.py."""
BUILDS = (*BODIES, *(name for name in DRAWN_BUILDS if name not in DRAWN_APART))
VIEWS = {"side": ("side", 0), "behind": ("across", 100), "front": ("across", 200)}
COUNTS = {"side": 24, "behind": 12, "front": 8}
LEFT_OUT: dict[str, set[int]] = {"side": {0, 7, 8}, "behind": {11}, "front": set()}
MOST_DEG = {"knee_flexion_contact_deg": 25.0, "knee_flexion_peak_deg": 53.0}


def _runner(draw: Draw, number: int) -> RunnerParams:
    speed = draw.between(2.4, 4.4, 1)
    height = draw.between(1.62, 1.92, 2)
    body = load_body(draw.one_of(*BUILDS), height)
    # A leg covers so much of its own length while its foot is on the belt.
    longest_ms = 1000 * draw.between(0.80, 0.95) * (body.thigh_m + body.shank_m) / speed
    contact = min(405.0 - 48.0 * speed + draw.about(0.0, 8.0, 0), longest_ms)
    cadence = float(np.clip(draw.about(152.0 + 15.0 * (speed - 1.9), 9.0, 0), 150, 195))
    contact = min(contact, 60_000 / cadence - 55.0)
    return RunnerParams(
        body=body.name,
        seed=FROM + number,
        height_m=height,
        belt_speed_mps=speed,
        cadence_spm=cadence,
        step_time_asymmetry_pct=draw.about(0.0, 2.0, 1),
        contact_time_ms=BySide(*(round(contact + draw.about(0.0, 5.0, 0)) for _ in range(2))),
        step_width_m=draw.between(0.0, 0.09),
        toe_out_deg=BySide(*(draw.between(0.0, 12.0, 1) for _ in range(2))),
        knee_inward_deg=BySide(*(draw.between(0.0, 8.0, 1) for _ in range(2))),
        step_time_sd_pct=draw.between(0.8, 2.2, 1),
        variability=draw.between(0.6, 1.4, 1),
    )


def drawn(view: str, number: int) -> Case:
    """The case with this number, whether it fits or not."""
    draw, mine = drawing(view, FROM, number), VIEWS[view][1] + number
    runner, stands = _runner(draw, mine), number % 8 == 1
    return before_camera(
        draw, f"spring_{view}_{number:02}", view, number, runner, stands, Spring(mine)
    )


def drawing(view: str, first: int, number: int) -> Draw:
    """What a case is drawn by, of a source whose numbers begin at ``first``."""
    kind, offset = VIEWS[view]
    return Draw(2026, first + offset + number, list(CAMERAS).index(kind))


def before_camera(
    draw: Draw,
    name: str,
    view: str,
    number: int,
    runner: RunnerParams,
    stands: bool = False,
    driver: Driver | None = None,
) -> Case:
    """A runner in drawn clothes before a drawn camera; ``stands``: still at first."""
    span, look = CAMERAS[VIEWS[view][0]], _look(draw)
    if view == "front":
        look = replace(look, console=False)
    distance = draw.between(3.3, span.furthest_m, 2)
    if stands:
        posture = draw.between(0.0, 0.06)
        runner = replace(runner, stand_s=2.5, start_s=1.5, stand_hips_ahead_m=posture)
    return Case(
        name,
        runner,
        View(
            view,
            ("left", "right")[number % 2] if view == "side" else "right",
            distance_m=distance,
            height_m=draw.between(span.lowest_m, span.highest_m, 2),
            yaw_deg=draw.between(-span.most_yaw_deg, span.most_yaw_deg, 1),
            roll_deg=draw.about(0.0, 1.0, 1),
            field_of_view_deg=round(36.0 * 3.4 / distance + draw.between(0.0, 3.0, 1), 1),
        ),
        look,
        fps=30.0,
        duration_s=SHORT_S + (3.5 if stands else 0.0),
        noise=3.0 if draw.happens(0.25) else 0.0,
        jitter_s=0.003 if draw.happens(0.2) else 0.0,
        driver=driver,
    )


def fit(case: Case) -> bool:
    """Whether the case's recipe can be run, and looks like running."""
    try:
        gait = runner_of(case)
        means = measure.means(measure.steps(gait, case.duration_s), [])["both"]
    except ValueError:
        return False
    return all(means[name] <= most for name, most in MOST_DEG.items())


CASES = tuple(
    drawn(view, number)
    for view, count in COUNTS.items()
    for number in range(count + len(LEFT_OUT[view]))
    if number not in LEFT_OUT[view]
)
