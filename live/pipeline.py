"""Poses in, gait events and measures out: the whole of the live core behind one call."""

from __future__ import annotations

import dataclasses
from collections import defaultdict
from typing import Final

import msgspec
import numpy as np

from live.measures.belt_speed import BeltPace, Spot, find_spot
from live.measures.events import EventPhases, EventTracker, FootEvent, event_phases
from live.measures.readings import Scene
from live.measures.scale import TYPICAL_HEIGHT_M, Scale, find_scale, stature_px
from live.measures.standing import QuietStanding, StandingWatch
from live.measures.step_values import Setup, StepMeasurer, Value
from live.scene import quality
from live.scene.unmeasured import UnmeasuredWatch
from live.scene.view import ViewWatch
from live.stride import leg_sides as sides
from live.stride.mean_stride import MeanStride
from live.stride.model import StrideModel
from live.stride.sample import make_sample
from shared import catalogue
from shared.flow import EventKind, FloatArray, Measure, Pose, Side, Update, View
from shared.landmarks import Landmark
from shared.problems import Problem
from shared.units import NS_PER_S
from shared.usable import usable

__all__ = ["Pipeline", "Setup"]


class _Sum:
    """All values of one measure and side so far, without keeping them: sessions last for hours."""

    def __init__(self) -> None:
        self._totals = np.zeros(3)
        self._count = 0
        self._last: Measure | None = None

    def add(self, measure: Measure) -> None:
        """Take one more value in."""
        self._totals += (measure.value, measure.uncertainty, measure.quality)
        self._count += 1
        self._last = measure

    def mean(self) -> Measure:
        """The mean of all, with the newest one's place in time."""
        last = self._last
        assert last is not None  # noqa: S101 - sums begin with a value
        value, uncertainty, quality = map(float, self._totals / self._count)
        return msgspec.structs.replace(
            last,
            value=value,
            uncertainty=uncertainty,
            quality=quality,
            steps=self._count,
            percent_leg=None,
        )


SLOWEST_BELT_MPS: Final = 0.8
"""Slower than anybody's walk: the belt is only beginning to move, or stopping."""
SAME_BELT_MPS: Final = 0.03
"""About 0.1 km/h, the step of a treadmill's own display (common practice, no source)."""
LEGS_MADE_OUT: Final = 0.5
"""With less quality, and no sides either, no leg is made out: the steps are the body's alone."""


class Pipeline:
    """The causal pipeline of one runner in one view.

    Feed it every pose in the order of capture; it keeps no clock and never looks ahead.
    """

    def __init__(self, setup: Setup) -> None:
        self._setup = setup
        self._start_ns: int | None = None
        self._last_ns = -1
        self._model = StrideModel()
        self._view = ViewWatch()
        self._standing = StandingWatch(setup.view)
        self._doubts = quality.DoubtWatch(setup.view)
        self._unmeasured = UnmeasuredWatch(setup.view)
        self._tracker = EventTracker()
        self._steps = StepMeasurer(setup)
        self._phases: EventPhases | None = None
        self._scale: Scale | None = None
        self._pace = BeltPace()
        self._phases_of_fit = -1
        self._sides_sure = False
        self._side_points = 0.0
        self._sides_of_fit = -1
        self._namings = 0
        self._vaults = False
        self._sums: dict[tuple[str, Side | None, str], _Sum] = defaultdict(_Sum)
        self._any_value = False

    def update(self, pose: Pose) -> Update:
        """Take in the next frame's landmarks.

        A pose that is not newer than the last one is ignored, with an empty update.
        """
        if pose.captured_ns <= self._last_ns:
            return Update(
                captured_ns=pose.captured_ns,
                index=pose.index,
                events=(),
                measures=(),
                doubts=(),
                quality=0.0,
                unmeasured=self._unmeasured.told,
            )
        if self._start_ns is None:
            self._start_ns = pose.captured_ns
        self._last_ns = pose.captured_ns
        sample = None
        if pose.people > 0:
            sample = make_sample(pose, (pose.captured_ns - self._start_ns) / NS_PER_S)
        events: list[FootEvent] = []
        measures: list[Measure] = []
        good = 0.0
        if sample is not None:
            if not self._model.locked:
                self._standing.add(pose, self._view.seen)
            was_locked = self._model.locked
            self._view.add(pose.xy_px)
            self._model.add(sample)
            lost = was_locked and not self._model.locked
            if lost:
                self._pace = BeltPace()
            if lost or self._namings != self._model.namings:
                self._namings = self._model.namings
                self._begin_anew()
            if self._model.locked:
                self._settle_sides(first=not was_locked)
                good = quality.from_misfit(self._model.misfit)
                events = self._events(good)
                measures = self._measures(events, pose.captured_ns, good)
        doubts = self._doubts.add(pose, self._view.seen, good, self._steps_per_min(), self._vaults)
        sure = self._view.surely_seen
        if ("wrong_view" in doubts and sure is not None) or "picture_turned" in doubts:
            events, measures = [], []  # another movement was read than the one that is seen
        elif self._scale is not None and self._scale.doubtful:
            doubts = (*doubts, "scale_doubt")
        half_step_ms = 0.0
        if not self._sides_sure and good < LEGS_MADE_OUT:
            # Steps are counted by the body's bob, and which part of it is a contact is a guess.
            measures = [one for one in measures if not catalogue.CATALOGUE[one.name].needs_contact]
            half_step_ms = 30_000.0 / (self._steps_per_min() or 60.0)
        contacts = sum(event.kind is EventKind.CONTACT for event in events)
        unmeasured = self._unmeasured.add(pose, contacts or len(measures), sure)
        self._any_value = self._any_value or bool(measures)
        for measure in filter(usable, measures):
            self._sums[(measure.name, measure.side, measure.unit)].add(measure)
        return Update(
            captured_ns=pose.captured_ns,
            index=pose.index,
            events=tuple(event.told(self._sides_sure, half_step_ms) for event in events),
            measures=tuple(measures),
            doubts=doubts,
            quality=good,
            unmeasured=unmeasured,
            sides_sure=self._sides_sure,
        )

    def _begin_anew(self) -> None:
        """What was told belongs to another run of steps, or to the other foot."""
        self._tracker.reset()
        self._steps.reset()
        self._sides_sure = self._vaults = False

    def _settle_sides(self, first: bool) -> None:
        """See which leg is the left one, as often as the mean stride is learnt anew.

        Before the first step is told (``first``) the likelier naming is taken; later on only a sure
        one is worth beginning anew for.
        """
        model, view = self._model, self._setup.view
        if self._sides_of_fit != model.fits:
            self._side_points = self._points()
            if self._side_points <= (0.0 if first else -sides.SURE):
                model.exchange_names()
                self._begin_anew()
                self._side_points = self._points()
            self._sides_of_fit = model.fits
        self._sides_sure = sides.sure(self._side_points, model.long_misfit, view, self._sides_sure)

    def _points(self) -> float:
        model = self._model
        assert model.mean is not None  # noqa: S101 - asked of a known stride alone
        return sides.points_for_names(
            model.mean, model.swapped_share, self._setup.view, self._view.forward, model.leg_px
        )

    def belt_runs(self, speed_mps: float) -> None:
        """The machine tells the belt's speed: it counts from here on in place of what was typed.

        A belt that stands or only begins to move says nothing about a runner's steps.
        """
        known = self._setup.belt_speed_mps
        if speed_mps < SLOWEST_BELT_MPS:
            return
        if known is not None and abs(speed_mps - known) < SAME_BELT_MPS:
            return
        self._setup = dataclasses.replace(self._setup, belt_speed_mps=speed_mps)
        self._steps.setup = self._setup
        self._pace = BeltPace()  # the strides so far were run at another speed

    @property
    def belt_seen_kmh(self) -> float | None:
        """The belt's speed by the standing feet and the body's height; None where not known."""
        seen = None if self._scale is None else self._scale.belt_speed_mps
        return None if seen is None else 3.6 * seen

    @property
    def why_unmeasured(self) -> tuple[Problem, ...]:
        """Why the whole run brought no value, the likeliest reason first; empty where one came."""
        return () if self._any_value else self._unmeasured.over_all()

    @property
    def view_seen(self) -> View | None:
        """From where the camera looks, as the picture shows it; None where that is not sure."""
        return self._view.surely_seen

    @property
    def view(self) -> View:
        """Where the camera stands."""
        return self._setup.view

    @property
    def standing(self) -> QuietStanding | None:
        """How the runner was seen to stand before the run; None where typical values stand in."""
        return self._standing.standing

    def named_ankles(self) -> tuple[FloatArray, FloatArray] | None:
        """Left and right ankle (2,) px of the newest frame, as named; None before the lock.

        For checks against truth.
        """
        if not self._model.locked or not self._model.samples:
            return None
        newest = self._model.samples[-1]
        return (
            newest.root + newest.rel[Landmark.LEFT_ANKLE],
            newest.root + newest.rel[Landmark.RIGHT_ANKLE],
        )

    def named(self, pose: Pose) -> Pose:
        """The newest pose with legs and arms named as the measures have them, for drawing."""
        samples = self._model.samples
        if not self._model.locked or not samples or samples[-1].captured_ns != pose.captured_ns:
            return pose
        return dataclasses.replace(pose, xy_px=samples[-1].root + samples[-1].rel)

    def summary(self) -> tuple[Measure, ...]:
        """Mean over the usable values of every measure and side so far.

        ``steps`` counts the values behind it.
        """
        means = [one.mean() for one in self._sums.values()]
        order = list(catalogue.CATALOGUE)
        return tuple(sorted(means, key=lambda m: (order.index(m.name), m.side or "")))

    def _steps_per_min(self) -> float | None:
        mean = self._model.mean
        return None if mean is None else 120.0 * mean.rate_hz

    @property
    def unsettled(self) -> bool:
        """Whether :meth:`settle` has something to do that takes its time."""
        return self._model.refit_due

    def settle(self) -> None:
        """Do what can wait until the last frame's cues are out; the next update does it too.

        It may be done in another thread, as long as nothing else is asked of this meanwhile.
        """
        self._model.settle()
        if self._model.mean is not None:
            self._renew(self._model.mean)

    def _events(self, good: float) -> list[FootEvent]:
        mean = self._model.mean
        if mean is None:
            return []
        return self._tracker.pass_by(self._model, self._renew(mean), good)

    def _renew(self, mean: MeanStride) -> EventPhases:
        """The events' places in the stride as it was last learnt."""
        if self._phases is None or self._phases_of_fit != self._model.fits:
            tall_px = stature_px(mean, self._model.leg_px, self._setup.view)
            px_per_m = tall_px / (self._setup.height_m or TYPICAL_HEIGHT_M)
            self._phases = event_phases(mean, self._setup.view, self._view.forward, px_per_m)
            self._scale = find_scale(
                mean,
                self._phases,
                self._model.leg_px,
                self._setup.height_m,
                self._setup.belt_speed_mps,
                self._setup.view,
                self._pace,
                1.0 if self.standing is None else self.standing.long_legs,
            )
            self._vaults = self._setup.view is View.SIDE and mean.vaults
            self._phases_of_fit = self._model.fits
        return self._phases

    def standing_shoe(self) -> Spot | None:
        """Where a shoe that stands on the belt was in the last picture; None without one.

        Asked after ``update``, of the frame that it took in and the one before.
        """
        samples = self._model.samples
        if self._setup.view is not View.SIDE or self._phases is None or len(samples) < 2:
            return None
        if self._model.mean is None or samples[-1].captured_ns != self._last_ns:
            return None
        return find_spot(
            self._model.mean,
            self._phases,
            self._view.forward,
            samples[-2],
            samples[-1],
            self._pace.apparent_px_s,
        )

    def shoe_went(self, spot: Spot, way_px: float) -> None:
        """Take in how far the shoe of ``standing_shoe`` has gone in the picture, + to the right.

        The picture itself says so (``live.pixels.shoe``); it makes the belt's speed more sure.
        """
        self._pace.went(spot, way_px)

    def last_two_ns(self) -> tuple[int, int] | None:
        """Stamps of the last two frames, from behind, where both show a runner.

        Asked after ``update``, of the frame that it took in and the one before.
        """
        samples = self._model.samples
        if self._setup.view is not View.BEHIND or len(samples) < 2:
            return None
        if samples[-1].captured_ns != self._last_ns:
            return None
        return samples[-2].captured_ns, samples[-1].captured_ns

    def hips_went(self, way_px: float) -> None:
        """Take in how far the hips have gone between ``last_two_ns``, + to the picture's right.

        The picture itself says so (``live.pixels.hips``); it makes the pelvis's shift more sure.
        """
        if self.last_two_ns() is not None:
            self._model.samples[-1].hips_way_px = way_px

    def scene(self) -> Scene | None:
        """What readings are taken from at this moment; None before the stride is known."""
        mean = self._model.mean
        if mean is None or self._phases is None or self._scale is None:
            return None
        return Scene(
            model=self._model,
            mean=mean,
            phases=self._phases,
            scale=self._scale,
            forward=self._view.forward,
            to_right=-1.0 if self._setup.view is View.FRONT else 1.0,
            sides_sure=self._sides_sure,
            standing=self.standing,
        )

    def _measures(self, events: list[FootEvent], captured_ns: int, good: float) -> list[Measure]:
        scene = self.scene() if events else None
        if scene is None:
            return []
        values = [value for event in events for value in self._steps.on_event(event, scene)]
        return [
            self._measure(value, captured_ns, good)
            for value in values
            if not catalogue.why_not(value.name, self._setup.view)
        ]

    def _measure(self, value: Value, captured_ns: int, good: float) -> Measure:
        low, high = catalogue.CATALOGUE[value.name].plausible
        # Cadence is right for walking too; every other measure is made for running.
        sane = low <= value.value <= high and (
            value.name == catalogue.CADENCE
            or quality.is_running(self._steps_per_min(), self._vaults)
        )
        return Measure(
            name=value.name,
            side=value.side,
            value=float(value.value),  # a numpy number would not pass the link or the journal
            unit=value.unit,
            uncertainty=value.uncertainty,
            quality=good if sane else 0.0,
            steps=value.steps,
            step_number=self._steps.step_number,
            at_ns=value.at_ns,
            captured_ns=captured_ns,
            percent_leg=None if value.percent_leg is None else float(value.percent_leg),
        )
