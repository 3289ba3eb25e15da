"""From a runner's own baseline to targets with bands and a ramp, within the limits (pure).

The band is never narrower than two of the measure's own step SDs, nor, with two edges, than the
interval in which a value is sure. Its half width is the larger of one SD and the aim's tolerance
(bandwidth feedback with a band of about one SD to each side: Sherwood 1988, Lee and Carnahan 1990;
from memory). While the target is still on its way the tolerance grows with it, so that a runner who
changes nothing stays outside where the SD allows it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Final

from feedback.texts.measures import full_title
from shared.catalogue import CADENCE, CATALOGUE, why_not
from shared.language import _, mark, within
from shared.own_values import Baseline, OwnMeasure
from shared.problems import UserError
from shared.targets import (
    Aim,
    Athlete,
    CueStyle,
    Drill,
    Goal,
    Hold,
    Limits,
    Prescription,
    Target,
)

CADENCE_RAMP_PERCENT: Final = 2.5
CADENCE_RAMP_MOST_PERCENT: Final = 3.0
"""A tempo may move by 2 to 3 % without being noticed as a jump (Van Dyck et al. 2015)."""
HYSTERESIS_SHARE: Final = 0.25
"""Of the band's half width (common practice, no source)."""
BEAT_SPM: Final = (120.0, 220.0)


def goals_for(
    baseline: Baseline,
    drill: Drill,
    limits: Limits,
    changes_percent: Mapping[str, float] | None = None,
) -> tuple[Goal, ...]:
    """Every aim of the drill, worked out from the baseline.

    ``changes_percent`` replaces the change of aims by name. Raises UserError ``goal_refused``,
    which says why an aim cannot be set for this runner.
    """
    changed = changes_percent or {}
    return tuple(
        _Working(baseline, aim, limits, changed.get(aim.name)).goal() for aim in drill.aims
    )


def check_goal(goal: Goal, limits: Limits) -> None:
    """See that a goal read from a file keeps the limits. Raises UserError ``goal_refused``."""
    if not goal.targets or (goal.aimed and len(goal.aimed) != len(goal.targets)):
        raise _refused(goal.name, _("its targets and final values do not match"))
    if any(target.measure != goal.targets[0].measure for target in goal.targets):
        raise _refused(goal.name, _("its targets are of different measures"))
    for number, target in enumerate(goal.targets):
        if _narrow(target, goal.own_sd, goal.aimed[number] if goal.aimed else None):
            raise _refused(goal.name, _("its band is narrower than two step SDs"))
        if target.measure == CADENCE and target.beat_spm is not None:
            _check_cadence(goal, target.beat_spm, limits)
    if goal.targets[0].measure != CADENCE:
        return
    before = goal.own
    for aimed in goal.aimed:
        _check_cadence(goal, aimed, limits)
        if abs(aimed - before) > before * CADENCE_RAMP_MOST_PERCENT / 100 * (1 + 1e-9):
            most = f"{CADENCE_RAMP_MOST_PERCENT:g} %"
            raise _refused(
                goal.name, _("a step of the cadence is larger than {most}").format(most=most)
            )
        before = aimed


def as_athlete(prescription: Prescription) -> Athlete:
    """The runner of a prescription, with the final targets, as a session takes one."""
    own = next((g.own for g in prescription.goals if g.targets[-1].measure == CADENCE), None)
    return Athlete(
        code_name=prescription.code_name,
        athlete_id=prescription.athlete_id,
        height_cm=prescription.height_cm,
        targets=tuple(goal.targets[-1] for goal in prescription.goals),
        view=prescription.view,
        belt_speed_kmh=prescription.belt_speed_kmh,
        baseline_cadence_spm=own,
        limits=prescription.limits,
    )


def speeds_of(prescription: Prescription) -> tuple[float, ...]:
    """Every speed in km/h that a prescription asks the belt to be set to, the lowest first."""
    blocks = {block.belt_speed_kmh for block in prescription.drill.blocks}
    return tuple(sorted({prescription.belt_speed_kmh, *(speed for speed in blocks if speed)}))


def _narrow(target: Target, sd: float, aimed: float | None) -> bool:
    """Whether the band is under two SDs wide; a band with one edge counts for half."""
    low, high = target.low, target.high
    if low is not None and high is not None:
        return high - low < 2 * sd * (1 - 1e-9)
    edge = high if low is None else low
    return aimed is not None and edge is not None and abs(edge - aimed) < sd * (1 - 1e-9)


def _check_cadence(goal: Goal, aimed: float, limits: Limits) -> None:
    if aimed > goal.own * (1 + limits.cadence_most_percent / 100) * (1 + 1e-9):
        most = f"{limits.cadence_most_percent:g} %"
        raise _refused(
            goal.name,
            _("the cadence may lie at most {most} over the runner's own").format(most=most),
        )


def _refused(
    name: str, why: str, action: str = mark("Choose another change, or another drill.")
) -> UserError:
    return UserError("goal_refused", aim=name, why=why, do=_(action))


class _Working:
    """One aim on its way to a goal."""

    def __init__(
        self, baseline: Baseline, aim: Aim, limits: Limits, change_percent: float | None
    ) -> None:
        self._aim = aim
        self._limits = limits
        self._view = baseline.view
        self._change_percent = aim.change_percent if change_percent is None else change_percent
        self._own = self._find(baseline)

    def goal(self) -> Goal:
        aim = self._aim
        if aim.low is not None or aim.high is not None:
            return self._as_goal((), (self._fixed_band(),))
        change = self._change()
        self._check_change(change)
        steps = self._ramp_steps(change)
        shares = [(number + 1) / steps for number in range(steps)]
        aimed = tuple(self._rounded(self._own.mean + change * share, change) for share in shares)
        targets = tuple(
            self._band(value, share) for value, share in zip(aimed, shares, strict=True)
        )
        goal = self._as_goal(aimed, targets)
        self._check_outside(targets[-1])
        check_goal(goal, self._limits)
        return goal

    def _find(self, baseline: Baseline) -> OwnMeasure:
        aim = self._aim
        if reason := why_not(aim.measure, baseline.view):
            raise self._no(
                _("{title} cannot be measured here: {value}").format(
                    title=_title(aim), value=reason.rstrip(".")
                )
            )
        own = baseline.find(aim.measure, aim.side, aim.unit)
        if own is None:
            side = "" if aim.side is None else _(" of the {side} side").format(side=_(aim.side))
            raise _refused(
                aim.name,
                _("the baseline has no {title}{side} in {unit} of good enough quality").format(
                    title=_title(aim), side=side, unit=aim.unit
                ),
                _("Take the baseline again, with more light and the whole body in view."),
            )
        return own

    def _change(self) -> float:
        """Against the baseline, in the aim's unit."""
        if self._change_percent is None:
            if self._aim.change is None:
                raise self._no(_("it gives neither a change nor a band"))
            return self._aim.change
        if self._own.mean <= 0:
            raise self._no(
                _(
                    "the runner's own value is {mean:.1f} {unit}, so a percentage has no "
                    "meaning; set the change in the unit itself"
                ).format(mean=self._own.mean, unit=self._aim.unit)
            )
        return self._own.mean * self._change_percent / 100

    def _check_change(self, change: float) -> None:
        own, unit = self._own, self._aim.unit
        if self._aim.measure == CADENCE and change > own.mean * (
            self._limits.cadence_most_percent / 100
        ) * (1 + 1e-9):
            most = self._limits.cadence_most_percent
            raise self._no(
                _("the cadence may rise by at most {most:g} % at a time").format(most=most)
            )
        if abs(change) < own.least_change:
            raise self._no(
                _(
                    "a change of {change:.1f} {unit} is too small to measure: noise is up to "
                    "{least_change:.1f} {unit}"
                ).format(change=abs(change), unit=unit, least_change=own.least_change)
            )

    def _ramp_steps(self, change: float) -> int:
        cadence = self._aim.measure == CADENCE
        step = self._aim.ramp_step_percent or (CADENCE_RAMP_PERCENT if cadence else None)
        if step is None or self._own.mean <= 0:
            return 1
        if cadence:
            step = min(step, CADENCE_RAMP_MOST_PERCENT)
        percent = 100 * abs(change) / self._own.mean
        return max(1, math.ceil(percent / step - 1e-9))

    def _rounded(self, value: float, change: float) -> float:
        """To a tenth, toward the runner's own value, so that rounding never asks for more."""
        rounded = math.floor(value * 10 + 1e-9) if change > 0 else math.ceil(value * 10 - 1e-9)
        return rounded / 10

    def _half_width(self, aimed: float, share: float) -> float:
        return max(self._own.sd, abs(aimed) * self._aim.tolerance_percent / 100 * share)

    def _band(self, aimed: float, share: float) -> Target:
        half = self._half_width(aimed, share)
        # Rounded outward: a band may not lose width.
        low = math.floor((aimed - half) * 10) / 10 if self._aim.hold is not Hold.UNDER else None
        high = math.ceil((aimed + half) * 10) / 10 if self._aim.hold is not Hold.OVER else None
        return self._target(low, high, half, aimed)

    def _fixed_band(self) -> Target:
        low, high = self._aim.low, self._aim.high
        width = math.inf if low is None or high is None else high - low
        if width < 2 * self._own.sd:
            raise self._no(
                _(
                    "its band is {width:.1f} {unit} wide; this runner's steps vary so much "
                    "that it must be at least {value:.1f}"
                ).format(width=width, unit=self._aim.unit, value=2 * self._own.sd)
            )
        half = self._own.sd if math.isinf(width) else width / 2
        return self._target(low, high, half, None)

    def _check_sure(self, low: float | None, high: float | None) -> None:
        """Between two edges that lie nearer than a value is sure, inside says nothing.

        A band with one edge is held against the runner's own value, in which what the measure is
        off by is the same.
        """
        sure = self._own.uncertainty
        if low is None or high is None or high - low >= 2 * sure * (1 - 1e-9):
            return
        raise self._no(
            _(
                "its band is {high:.1f} {unit} wide, and a value of {title} is only accurate "
                "to ± {sure:.1f} {unit}, so the band must be at least {value:.1f} wide, or "
                "have one edge"
            ).format(
                high=high - low,
                unit=self._aim.unit,
                title=_title(self._aim),
                sure=sure,
                value=2 * sure,
            )
        )

    def _target(
        self, low: float | None, high: float | None, half: float, aimed: float | None
    ) -> Target:
        aim = self._aim
        self._check_plausible(low, high)
        self._check_sure(low, high)
        beat = aimed if CueStyle.BEAT in aim.cues and aim.measure == CADENCE else None
        if beat is not None and not BEAT_SPM[0] <= beat <= BEAT_SPM[1]:
            raise self._no(
                _("a beat of {beat:g} steps/min is outside {beat_spm:g} to {beat_spm_2:g}").format(
                    beat=beat, beat_spm=BEAT_SPM[0], beat_spm_2=BEAT_SPM[1]
                )
            )
        return Target(
            measure=aim.measure,
            unit=aim.unit,
            side=aim.side,
            low=low,
            high=high,
            beat_spm=beat,
            average_steps=aim.average_steps,
            hysteresis=round(half * HYSTERESIS_SHARE, 2),
            cue_gap_steps=aim.cue_gap_steps,
            cues=aim.cues,
        )

    def _check_plausible(self, low: float | None, high: float | None) -> None:
        spec = CATALOGUE[self._aim.measure]
        if self._aim.unit != spec.units[0]:
            return
        least, most = spec.plausible
        for edge in (low, high):
            if edge is not None and not least <= edge <= most:
                raise self._no(
                    _(
                        "an edge of {edge:g} {unit} is outside what a runner can have "
                        "({least:g} to {most:g})"
                    ).format(edge=edge, unit=self._aim.unit, least=least, most=most)
                )

    def _check_outside(self, target: Target) -> None:
        """With the runner's own value inside the band nothing would ever be cued."""
        mean = self._own.mean
        below = target.low is not None and mean < target.low
        above = target.high is not None and mean > target.high
        if not below and not above:
            raise self._no(
                _(
                    "the runner's steps vary by {sd:.1f} {unit} (SD), so a band wide enough "
                    "for them includes the runner's own value too"
                ).format(sd=self._own.sd, unit=self._aim.unit)
            )

    def _as_goal(self, aimed: tuple[float, ...], targets: tuple[Target, ...]) -> Goal:
        return Goal(
            name=self._aim.name,
            own=self._own.mean,
            own_sd=self._own.sd,
            least_change=self._own.least_change,
            aimed=aimed,
            targets=targets,
        )

    def _no(self, why: str) -> UserError:
        return _refused(self._aim.name, why)


def _title(aim: Aim) -> str:
    return within(full_title(aim.measure))
