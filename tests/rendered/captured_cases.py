"""The cases in which captured running moves the drawn bodies: captured_TRIAL_VIEW_NUMBER.

Rule, fixed before any was drawn: each of four trials is drawn from the side, from behind and from
in front, each case with another part of the trial. Bodies, clothes and what stands before the
runner take turns; the rest is drawn by chance, as in chance.py, from the case's own seed. No build
is among them that is only among the cases kept apart. None is kept apart: who learns from them
leaves out a whole trial, body or look in turn.
"""

from dataclasses import replace
from typing import Any

from tests.rendered.camera import View
from tests.rendered.captured import MARGIN_S, Captured
from tests.rendered.cases import BLUE, DARK, GREEN, PALE, RED, WHITE
from tests.rendered.chance import CAMERAS, Draw
from tests.rendered.clip import Case
from tests.rendered.params import BySide, RunnerParams

DURATION_S = 13.5
MOST_YAW_DEG = 12.0
TRIALS = {
    # Short name: file, how long (s), belt m/s and steps/min as captured, cases from the side.
    "t25": ("rbds001_T25", 29.98, 2.5, 156.8, 6),
    "t35": ("rbds001_T35", 29.98, 3.5, 171.2, 6),
    "ric15": ("ric_20140515", 24.99, 2.87, 184.2, 5),
    "ric03": ("ric_20141003", 24.99, 3.36, 199.5, 5),
}
BEHIND, FRONT = 3, 2
BODIES = ("female", "drawn_1", "male", "drawn_2", "sturdy", "drawn_4", "drawn_5")
BLACK = (0.05, 0.05, 0.055)
CLOTHES: tuple[dict[str, Any], ...] = (
    # Black tights on both legs with dark shoes and socks.
    {"lower": "tights", "shorts": BLACK, "accent": BLACK, "shoes": (0.10, 0.10, 0.11),
     "socks": BLACK, "midsole": (0.16, 0.16, 0.17)},
    {"lower": "shorts"},
    # Black tights below a long shirt.
    {"lower": "tights", "shorts": BLACK, "accent": BLACK, "shoes": (0.12, 0.11, 0.10),
     "socks": BLACK, "shirt_below_waist_m": 0.19, "sleeve": "long"},
    {"lower": "long_shorts", "socks": (0.2, 0.2, 0.22)},
    {"lower": "shorts", "shirt_below_waist_m": 0.22},
)  # fmt: skip
PLAIN: dict[str, Any] = {}
BESIDE: tuple[dict[str, Any], ...] = (
    PLAIN,
    {"more_rails": (0.88,)},  # before the hips
    {"more_rails": (0.46,)},  # before the knees
    {"long_rails": True, "panel_m": (-0.12, 0.22, 0.78, 0.98)},  # a control panel before the hips
    {"more_rails": (0.90,), "panel_m": (0.0, 0.34, 1.10, 1.38)},  # one before the chest
    {"more_rails": (0.62, 0.92)},
)
ABOUT = (PLAIN, {"more_rails": (0.88,)}, {"long_rails": True})
BEFORE: tuple[dict[str, Any], ...] = (
    {"console": False},
    {"console_m": (1.02, 1.40)},  # over the chest
    {"console": False, "more_rails": (0.88,)},
    {"console_m": (0.74, 1.00)},  # over the hips
)


def _view(kind: str, draw: Draw, number: int) -> View:
    span = CAMERAS["side" if kind == "side" else "across"]
    distance = draw.between(3.3, span.furthest_m, 2)
    return View(
        kind,
        ("right", "left")[number % 2] if kind == "side" else "right",
        distance_m=distance,
        height_m=draw.between(span.lowest_m, span.highest_m, 2),
        yaw_deg=draw.between(-MOST_YAW_DEG, MOST_YAW_DEG, 1),
        roll_deg=draw.about(0.0, 1.0, 1),
        field_of_view_deg=round(36.0 * 3.4 / distance + draw.between(0.0, 3.0, 1), 1),
    )


def _runner(draw: Draw, body: str, seed: int, belt_mps: float, cadence: float) -> RunnerParams:
    return RunnerParams(
        body=body,
        seed=seed,
        height_m=draw.one_of(None, None, draw.between(1.58, 1.88, 2)),
        belt_speed_mps=belt_mps,
        cadence_spm=cadence,
        trunk_lean_deg=draw.between(3.0, 12.0, 1),
        arm_swing_deg=BySide(*(draw.between(40.0, 64.0, 0) for _ in range(2))),
        arm_direction_deg=BySide(*(draw.between(5.0, 45.0, 0) for _ in range(2))),
    )


def _cases() -> tuple[Case, ...]:
    out: list[Case] = []
    counts = {"side": 0, "behind": 0, "front": 0}
    for trial, (file, long_s, belt_mps, cadence, from_side) in TRIALS.items():
        kinds = ["side"] * from_side + ["behind"] * BEHIND + ["front"] * FRONT
        last_s = long_s - DURATION_S - MARGIN_S
        for place, kind in enumerate(kinds):
            number, here = counts[kind], kinds[:place].count(kind)
            counts[kind] += 1
            draw = Draw(2026, 11, list(TRIALS).index(trial), list(counts).index(kind), here)
            stands = {"side": BESIDE, "behind": ABOUT, "front": BEFORE}[kind]
            look = replace(
                draw.one_of(BLUE, RED, GREEN, WHITE, DARK, PALE),
                **CLOTHES[number % len(CLOTHES)],
                **stands[number % len(stands)],
            )
            body = BODIES[(len(out) + number // 5) % len(BODIES)]
            view = _view(kind, draw, number)
            out.append(
                Case(
                    f"captured_{trial}_{kind}_{here + 1}",
                    _runner(draw, body, 2000 + len(out), belt_mps, cadence),
                    view,
                    replace(look, light=round(look.light * draw.between(0.5, 1.1), 3)),
                    duration_s=DURATION_S,
                    noise=3.0 if draw.happens(0.25) else 0.0,
                    jitter_s=0.003 if draw.happens(0.2) else 0.0,
                    driver=Captured(
                        file,
                        round(MARGIN_S + (last_s - MARGIN_S) * place / (len(kinds) - 1), 2),
                    ),
                )
            )
    return tuple(out)


CASES = _cases()
