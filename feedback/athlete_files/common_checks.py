"""What is checked alike of a profile's target and a drill's aim."""

from __future__ import annotations

from collections.abc import Callable

from feedback.storage.toml_fields import did_you_mean
from shared.catalogue import CATALOGUE, offered, why_not
from shared.flow import View
from shared.language import _
from shared.measure_spec import MeasureSpec
from shared.problems import UserError
from shared.targets import Aim, CueStyle, Target

Wrong = Callable[[str, object, str, str], UserError]
"""Makes ``field_wrong`` of a field, its value, why it is wrong, and what is allowed."""


def check_measure(one: Target | Aim, view: View, wrong: Wrong) -> MeasureSpec:
    """See that the view gives the measure, in this unit and by side, and give its row."""
    names = [spec.name for spec in offered(view)]
    listed = f"{', '.join(names)} (view {view})"
    spec = CATALOGUE.get(one.measure)
    if spec is None:
        why = _("there is no such measure") + did_you_mean(one.measure, names)
        raise wrong("measure", one.measure, why, listed)
    if reason := why_not(one.measure, view):
        why = _('it is not given with view = "{view}": {value}').format(
            view=view, value=reason.rstrip(".")
        )
        raise wrong("measure", one.measure, why, listed)
    if one.unit not in spec.units:
        units = ", ".join(f'"{unit}"' for unit in spec.units)
        raise wrong("unit", one.unit, _("{name} has no such unit").format(name=spec.name), units)
    if one.side is not None and not spec.by_side:
        why = _("{name} does not tell left from right").format(name=spec.name)
        raise wrong("side", one.side, why, _("leave this field out"))
    return spec


def check_edges(one: Target | Aim, wrong: Wrong) -> None:
    """See that the low edge, where there are two, is under the high one."""
    if one.low is not None and one.high is not None and one.low >= one.high:
        raise wrong(
            "low",
            one.low,
            _("it is not under high ({high:g})").format(high=one.high),
            f"under {one.high:g}",
        )


def check_sounds(one: Target | Aim, wrong: Wrong) -> None:
    """See that no two sounds say the same."""
    if {CueStyle.PITCH, CueStyle.OUT_OF_BAND} <= set(one.cues):
        why = _("two sounds would say the same")
        raise wrong("cues", list(one.cues), why, 'either "out_of_band" or "pitch"')
