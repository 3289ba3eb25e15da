"""The one place that defines every measure: name, unit, sign, views, definition, source."""

from __future__ import annotations

import math
from typing import Final

from shared.flow import View
from shared.language import _
from shared.measure_spec import MeasureSpec, UnitSpec

CADENCE: Final = "cadence"
"""The measure that a beat can sound."""
CM: Final = "cm"
PERCENT_LEG: Final = "% leg"
DEGREES: Final = "deg"
MILLISECONDS: Final = "ms"
PERCENT: Final = "%"
PERCENT_CONTACT: Final = "% of contact time"
STEPS_PER_MIN: Final = "steps/min"
KMH: Final = "km/h"
UNITS: Final[dict[str, UnitSpec]] = {
    unit.name: unit
    for unit in (
        UnitSpec(STEPS_PER_MIN, "steps/min", "{steps}/min"),
        UnitSpec(CM, "cm", "cm"),
        UnitSpec(PERCENT_LEG, "% of leg", "%"),
        UnitSpec(DEGREES, "°", "deg"),
        UnitSpec(MILLISECONDS, "ms", "ms"),
        UnitSpec(KMH, "km/h", "km/h"),
        UnitSpec(PERCENT, "%", "%"),
        UnitSpec(PERCENT_CONTACT, "% of contact", "%"),
        UnitSpec("% shoulder width", "% of shoulders", "%"),  # of older records
    )
}
"""Every unit by its name."""
SIDE: Final = frozenset({View.SIDE})
ACROSS: Final = frozenset({View.BEHIND, View.FRONT})
BEHIND: Final = frozenset({View.BEHIND})
FRONT: Final = frozenset({View.FRONT})
ANY: Final = frozenset(View)
_LENGTH = (CM, PERCENT_LEG)
_STRIDE_S: Final = 5.0
"""The mean stride is learnt from so long a stretch."""
_BELT_S: Final = 8.5
"""Twelve strides."""
_TABLE: Final[tuple[MeasureSpec, ...]] = (
    MeasureSpec(
        name=CADENCE,
        title="Cadence",
        units=(STEPS_PER_MIN,),
        by_side=False,
        views=ANY,
        definition="60 divided by the mean step time of the last 8 steps; steps, not strides.",
        sign="more steps in a minute",
        source="identity of step time and step rate; Heiderscheit et al. 2011 for its use",
        averaged="last 8 steps",
        plausible=(110.0, 240.0),
        decimals=0,
        needs_contact=False,
    ),
    MeasureSpec(
        name="strike_ahead",
        title="Foot ahead of hips at contact",
        short_title="Foot ahead at contact",
        runner_title="Foot ahead at landing",
        units=_LENGTH,
        by_side=True,
        views=SIDE,
        definition="Forward distance from the middle of the hip joints to the landing ankle "
        "at initial contact.",
        sign="ankle ahead of the hips",
        source="Lieberman et al. 2015 (landing position relative to the hip)",
        averaged="the step and the mean stride; judged over the target's window",
        window_s=_STRIDE_S,
        own_step=0.4,
        plausible=(-10.0, 60.0),
    ),
    MeasureSpec(
        name="shank_angle_at_contact",
        title="Shank angle at contact",
        runner_title="Shin at landing",
        units=(DEGREES,),
        by_side=True,
        views=SIDE,
        definition="Shank (knee to ankle) from vertical at initial contact.",
        sign="ankle ahead of knee",
        source="Souza 2016",
        averaged="the step and the mean stride of the last seconds",
        window_s=_STRIDE_S,
        own_step=0.4,
        plausible=(-30.0, 40.0),
    ),
    MeasureSpec(
        name="foot_angle_at_contact",
        title="Foot angle at contact",
        runner_title="Toes up at landing",
        units=(DEGREES,),
        by_side=True,
        views=SIDE,
        definition="Foot against the belt at initial contact, less the angle in standing.",
        sign="toes up",
        source="Altman and Davis 2012",
        averaged="the step and the mean stride of the last seconds",
        window_s=_STRIDE_S,
        own_step=0.4,
        plausible=(-40.0, 50.0),
        not_offered="Small feet in the picture: accuracy not shown yet.",
    ),
    MeasureSpec(
        name="knee_flexion_at_contact",
        title="Knee flexion at contact",
        runner_title="Knee bend at landing",
        units=(DEGREES,),
        by_side=True,
        views=SIDE,
        definition="Knee flexion at initial contact; 0 is straight.",
        sign="more bent",
        source="Souza 2016",
        averaged="the step and the mean stride of the last seconds",
        window_s=_STRIDE_S,
        own_step=0.3,
        plausible=(-10.0, 70.0),
    ),
    MeasureSpec(
        name="knee_flexion_peak",
        title="Peak knee flexion in stance",
        short_title="Peak knee flexion",
        runner_title="Knee bend",
        units=(DEGREES,),
        by_side=False,
        views=SIDE,
        definition=(
            "Most knee flexion between contact and toe-off, mean of both legs; 0 is straight. One "
            "camera cannot tell the near leg's from the far leg's: it errs by 7 degrees the other "
            "way on each."
        ),
        sign="more bent",
        source="Souza 2016",
        averaged="mean stride of the last seconds",
        window_s=_STRIDE_S,
        plausible=(0.0, 90.0),
    ),
    MeasureSpec(
        name="ankle_dorsiflexion_peak",
        title="Peak dorsiflexion in stance",
        short_title="Peak dorsiflexion",
        runner_title="Ankle bend",
        units=(DEGREES,),
        by_side=True,
        views=SIDE,
        definition="Most ankle dorsiflexion in stance; 0 is the standing angle.",
        sign="more bent",
        source="Souza 2016",
        averaged="mean stride of the last seconds",
        window_s=_STRIDE_S,
        plausible=(-20.0, 60.0),
    ),
    MeasureSpec(
        name="heel_rise",
        title="Heel-off in stance",
        short_title="Heel-off",
        runner_title="Heel rise",
        units=(PERCENT_CONTACT,),
        by_side=True,
        views=SIDE,
        definition="When in stance the heel leaves the belt.",
        sign="later",
        source="common practice, no source",
        averaged="single steps",
        plausible=(0.0, 100.0),
        not_offered="Small feet in the picture: accuracy not shown yet.",
    ),
    MeasureSpec(
        name="hip_extension_peak",
        title="Peak hip extension",
        runner_title="Leg behind you",
        units=(DEGREES,),
        by_side=True,
        views=SIDE,
        definition="Thigh behind vertical, most around toe-off.",
        sign="thigh further behind",
        source="Souza 2016",
        averaged="mean stride of the last seconds",
        window_s=_STRIDE_S,
        plausible=(-20.0, 60.0),
    ),
    MeasureSpec(
        name="trunk_lean",
        title="Forward trunk lean",
        short_title="Trunk lean",
        runner_title="Lean",
        units=(DEGREES,),
        by_side=False,
        views=SIDE,
        definition="Mid-hips to mid-shoulders from vertical, mean over a step.",
        sign="forward",
        source="Teng and Powers 2014",
        averaged="mean stride of the last seconds",
        window_s=_STRIDE_S,
        plausible=(-20.0, 45.0),
        needs_contact=False,
    ),
    MeasureSpec(
        name="contact_time",
        title="Contact time",
        units=(MILLISECONDS,),
        by_side=True,
        views=SIDE,
        definition="Initial contact to toe-off of the same foot.",
        sign="longer",
        source="published definitions; ranges in Karamanidis and Arampatzis 2005",
        averaged="the step and the mean stride of the last seconds",
        window_s=_STRIDE_S,
        own_step=0.35,
        plausible=(120.0, 450.0),
        decimals=0,
    ),
    MeasureSpec(
        name="flight_time",
        title="Flight time",
        units=(MILLISECONDS,),
        by_side=True,
        views=SIDE,
        definition="Toe-off of one foot to initial contact of the other; named by the side "
        "that left the belt.",
        sign="longer",
        source="published definitions; ranges in Karamanidis and Arampatzis 2005",
        averaged="the step and the mean stride of the last seconds",
        window_s=_STRIDE_S,
        own_step=0.2,
        plausible=(-50.0, 250.0),
        decimals=0,
    ),
    MeasureSpec(
        name="duty_factor",
        title="Duty factor",
        runner_title="Time on the belt",
        units=(PERCENT,),
        by_side=True,
        views=SIDE,
        definition="Contact time divided by stride time.",
        sign="longer on the belt",
        source="identity; under 50 % is running",
        averaged="the step and the mean stride of the last seconds",
        window_s=_STRIDE_S,
        own_step=0.35,
        plausible=(15.0, 70.0),
    ),
    MeasureSpec(
        name="step_length",
        title="Step length",
        units=(CM,),
        by_side=True,
        views=ANY,
        definition="Belt speed times the step time that ends with this side's contact.",
        sign="longer",
        source="identity: speed = step length x cadence",
        averaged="the step and the mean stride of the last seconds",
        window_s=_STRIDE_S,
        own_step=0.7,
        plausible=(30.0, 250.0),
        decimals=0,
    ),
    MeasureSpec(
        name="belt_speed",
        title="Belt speed, from the picture",
        short_title="Belt speed",
        units=(KMH,),
        by_side=False,
        views=SIDE,
        definition="Speed of the standing feet in the picture over the scale from body height; "
        "given when no belt speed was typed in.",
        sign="faster",
        source="identity: a standing foot moves with the belt",
        averaged="mean stride of the last seconds",
        window_s=_BELT_S,
        forget_s=math.inf,
        plausible=(3.0, 30.0),
    ),
    MeasureSpec(
        name="step_asymmetry",
        title="Step-time asymmetry",
        runner_title="Right against left",
        units=(PERCENT,),
        by_side=False,
        views=SIDE,
        definition="(R - L) / half the sum x 100, of step time over the last 20 strides.",
        sign="right step takes longer",
        source="Robinson, Herzog and Nigg 1987",
        averaged="last 20 strides",
        plausible=(-60.0, 60.0),
    ),
    MeasureSpec(
        name="vertical_excursion",
        title="Vertical excursion",
        runner_title="Up and down",
        units=_LENGTH,
        by_side=False,
        views=ANY,
        definition="Mid-hips, highest less lowest within a step. "
        "Read with shoulders and head, from left and right steps together.",
        sign="more",
        source="Heiderscheit et al. 2011",
        averaged="mean stride of the last seconds",
        window_s=_STRIDE_S,
        plausible=(1.0, 25.0),
        needs_contact=False,
    ),
    MeasureSpec(
        name="pelvic_shift",
        title="Pelvic shift over the stance leg",
        short_title="Pelvic shift",
        runner_title="Hips sideways",
        units=_LENGTH,
        by_side=True,
        views=BEHIND,
        definition="Sideways travel of mid-hips toward the standing leg, from contact to its "
        "peak; named by the standing side. Not from in front, where the hands swing before the "
        "hips.",
        sign="toward the standing leg",
        source="common practice, no source",
        averaged="the step and the mean stride; judged over the target's window",
        window_s=_STRIDE_S,
        own_step=0.35,
        plausible=(-4.0, 15.0),
    ),
    MeasureSpec(
        name="pelvic_drop",
        title="Pelvic drop on the swing side",
        short_title="Pelvic drop",
        runner_title="Hips down on one side",
        units=(DEGREES,),
        by_side=True,
        views=ACROSS,
        definition="Hip line down on the swing side, most in stance, less the standing angle.",
        sign="swing side lower",
        source="Bramah et al. 2018",
        averaged="single steps",
        plausible=(-10.0, 25.0),
        not_offered="The hip landmarks do not follow the pelvis closely enough.",
    ),
    MeasureSpec(
        name="trunk_side_lean",
        title="Lateral trunk lean",
        runner_title="Lean to the side",
        units=(DEGREES,),
        by_side=True,
        views=ACROSS,
        definition="Mid-hips to mid-shoulders from vertical at mid-stance.",
        sign="toward the standing leg",
        source="Bramah et al. 2018",
        averaged="mean stride of the last seconds",
        window_s=_STRIDE_S,
        plausible=(-20.0, 25.0),
        needs_contact=False,
    ),
    MeasureSpec(
        name="knee_midline",
        title="Knee inside the hip-ankle line",
        short_title="Knee inward",
        units=(PERCENT_LEG,),
        by_side=True,
        views=ACROSS,
        definition="Knee inside the line from hip to ankle, most in stance.",
        sign="inward",
        source="common practice, no source",
        averaged="single steps",
        plausible=(-15.0, 20.0),
        not_offered="Accuracy not shown yet.",
    ),
    MeasureSpec(
        name="step_width",
        title="Step width",
        units=(PERCENT_LEG, CM),
        by_side=False,
        views=ACROSS,
        definition="Ankle to ankle across, mid-stance to mid-stance.",
        sign="wider; negative is crossed over",
        source="Brindle et al. 2014",
        averaged="mean stride of the last seconds",
        window_s=_STRIDE_S,
        plausible=(-20.0, 40.0),
    ),
    MeasureSpec(
        name="arm_direction",
        title="Arm swing direction",
        runner_title="Arm swing",
        units=(DEGREES,),
        by_side=True,
        views=ACROSS,
        definition="Main axis of the wrist's path seen from above against the middle of the "
        "shoulders; 0 is fore and aft, 90 is across.",
        sign="inward as the hand goes forward",
        source="common practice, no source",
        averaged="mean stride of the last seconds",
        window_s=_STRIDE_S,
        plausible=(-95.0, 95.0),
        decimals=0,
        not_offered="No one camera shows it surely; see hand past the midline, from in front.",
    ),
    MeasureSpec(
        name="arm_crossing",
        title="Hand past the midline",
        runner_title="Hand past the middle",
        units=_LENGTH,
        by_side=True,
        views=FRONT,
        definition="Wrist past the middle of the shoulders, most in a stride; negative: it stays "
        "on its own side.",
        sign="past the midline",
        source="common practice, no source",
        averaged="mean stride of the last seconds",
        window_s=_STRIDE_S,
        plausible=(-50.0, 40.0),
    ),
)
CATALOGUE: Final[dict[str, MeasureSpec]] = {spec.name: spec for spec in _TABLE}

WITHDRAWN: Final = frozenset({"arm_direction"})
"""Given once and not any more: older files and records may name them."""


def offered(view: View) -> tuple[MeasureSpec, ...]:
    """The measures given live from ``view``, in catalogue order."""
    return tuple(spec for spec in CATALOGUE.values() if view in spec.views and not spec.not_offered)


def why_not(name: str, view: View) -> str:
    """Plain reason why ``name`` is not given from ``view``; empty when it is given."""
    spec = CATALOGUE[name]
    if view not in spec.views:
        return _("not from this view")
    return _(spec.not_offered) if spec.not_offered else ""
