"""What one session comes to, as values: kept in the store, shown in reports, exported (pure)."""

from __future__ import annotations

from enum import StrEnum

import msgspec

from feedback.journal.entries import TargetSummary
from feedback.training.belt_speeds import like_speeds
from feedback.training.counting import SessionPart
from shared.change import Error, half_width, kept_error, together
from shared.flow import Side, View
from shared.identity import AthleteId
from shared.messages import StopReason
from shared.own_values import Baseline
from shared.plain_text import keep_plain
from shared.problems import Problem
from shared.targets import BlockKind, Goal, Question, SessionKind, Target


class Origin(StrEnum):
    """Where a session was held."""

    STATION = "station"
    """Here or at another station: there is a journal."""
    HOME = "home"
    """At home: a result file was sent."""


class MeanValue(msgspec.Struct, frozen=True, kw_only=True):
    """Mean of one measure and side over one part of a session."""

    measure: str
    side: Side | None
    unit: str
    part: SessionPart
    mean: float
    sd: float | None
    """Of the single values."""
    values: int
    sem: float | None
    """Standard error of the mean (:mod:`shared.change`); None where too few values stand
    apart, and in an older version's home result."""
    stated: float | None
    """Half width of the 90 % interval that the live values state, on average."""
    freedom: float | None = None
    """Degrees of freedom of ``sem``; None in what older versions stored."""

    @property
    def error(self) -> Error | None:
        """How surely the mean is known; None where that cannot be told."""
        return kept_error(self.sem, self.freedom)

    @property
    def half_width(self) -> float | None:
        """Half width of the 90 % interval of the mean, from the scatter of the steps."""
        return half_width(self.error)


class Answer(msgspec.Struct, frozen=True, kw_only=True):
    """One rating, 0 to 10."""

    at_s: float
    what: Question
    value: int
    asked: bool
    source: str

    def __post_init__(self) -> None:
        keep_plain(self, "source")


class TargetChange(msgspec.Struct, frozen=True, kw_only=True):
    """A target was changed."""

    at_s: float
    target: Target
    source: str
    old: Target | None = None
    """The target before, where the record holds it."""

    def __post_init__(self) -> None:
        keep_plain(self, "source")


class NoteSummary(msgspec.Struct, frozen=True, kw_only=True):
    """A clinician's note in mid-session."""

    at_s: float
    text: str
    source: str

    def __post_init__(self) -> None:
        keep_plain(self, "text", "source")


class BlockSummary(msgspec.Struct, frozen=True, kw_only=True):
    """One block as it was run; seconds count from the start of the run, pauses included."""

    begin_s: float
    end_s: float
    kind: BlockKind
    belt_speed_kmh: float | None
    cued: str
    """Name of the measure that was cued; empty for none."""


class Notice(msgspec.Struct, frozen=True, kw_only=True):
    """A problem that came up."""

    at_s: float
    code: str
    title: str

    def __post_init__(self) -> None:
        keep_plain(self, "title")


class SpeedMeans(msgspec.Struct, frozen=True, kw_only=True):
    """What was measured at another belt speed than most of the session."""

    belt_speed_kmh: float
    means: tuple[MeanValue, ...]


class BeltStretch(msgspec.Struct, frozen=True, kw_only=True):
    """A stretch of the run at one belt speed, by the treadmill's own word."""

    begin_s: float
    end_s: float
    speed_kmh: float
    incline_percent: tuple[float, float] | None = None
    """Least and most; None where the treadmill does not say."""
    heart_bpm: float | None = None
    """Mean over the stretch; None without a strap."""


class SensorTrace(msgspec.Struct, frozen=True, kw_only=True):
    """What one sensor said over the run; where it was not heard is no line."""

    name: str
    """``belt_speed`` in km/h or ``heart_rate`` in 1/min."""
    parts: tuple[tuple[tuple[float, float], ...], ...]
    """Unbroken stretches of (seconds since the run began, value)."""


class SensorSummary(msgspec.Struct, frozen=True, kw_only=True):
    """What treadmill and strap said; only where one was heard."""

    traces: tuple[SensorTrace, ...] = ()
    stretches: tuple[BeltStretch, ...] = ()
    heart_warn_bpm: int | None = None
    heart_end_bpm: int | None = None

    @property
    def incline_percent(self) -> tuple[float, float] | None:
        """Least and most over the run; None where no treadmill told it."""
        told = [one.incline_percent for one in self.stretches if one.incline_percent is not None]
        if not told:
            return None
        return min(low for low, _high in told), max(high for _low, high in told)


class ValueAtStep(msgspec.Struct, frozen=True, kw_only=True):
    """One measured value, for the trace by step."""

    at_s: float
    measure: str
    side: Side | None
    unit: str
    value: float
    step_number: int


class CountsAs:
    """What a session counts as: the same for all of it and for its line in a list."""

    __slots__ = ()
    steps: int
    baseline: bool
    trial: bool

    @property
    def counts_as(self) -> str:
        """A "session", or in place of one a "baseline", a "trial", or "nothing" without a step."""
        if not self.steps:
            return "nothing"
        return "baseline" if self.baseline else "trial" if self.trial else "session"

    @property
    def counts(self) -> bool:
        """Whether it is a session of training: somebody ran, and for more than a trial."""
        return self.counts_as == "session"


class Digest(CountsAs, msgspec.Struct, frozen=True, kw_only=True):
    """The one summary of a session, which store, reports, progress and exports all read."""

    uid: str
    """The same for the same session whenever and wherever it is read."""
    code_name: str
    athlete_id: AthleteId = ""
    """Empty in what older versions stored."""
    origin: Origin = Origin.STATION
    prescription: str = ""
    """Check sum of the prescription that was followed; empty for none."""
    started_utc: str
    """ISO 8601, UTC, to the second: when the run began, or the record if it never did."""
    view: View
    belt_speed_kmh: float | None
    """Of the blocks that count."""
    kind: SessionKind | None
    number: int | None
    """Of the session in its plan."""
    planned: int | None
    """How many sessions the plan has, with those of practice and the checks."""
    place: str = ""
    """Which session of its plan it is, in words: "3 of 8"; empty without a plan."""
    demo: bool
    baseline: bool = False
    """The runner's own values were taken: nothing was aimed at or cued."""
    trial: bool = False
    """To try things out, from a file or with blocks cut short: it counts for nothing."""
    source: str
    version: str
    run_s: float
    """Time running, pauses left out."""
    steps: int
    stop_reason: StopReason | None
    """None: the record breaks off."""
    means: tuple[MeanValue, ...]
    targets: tuple[TargetSummary, ...]
    first_targets: tuple[Target, ...]
    """As the session began; of a home result as it ended, for it does not tell more."""
    goals: tuple[Goal, ...]
    own_cadence_spm: float | None
    answers: tuple[Answer, ...]
    changes: tuple[TargetChange, ...]
    blocks: tuple[BlockSummary, ...]
    notices: tuple[Notice, ...]
    cues: dict[str, int]
    remarks: tuple[NoteSummary, ...] = ()
    standing: bool | None = None
    """Whether the runner was seen standing still; None where it is not known."""
    decided_ms: float | None
    """Frame to decision, median over the cues."""
    sounded_ms: float | None
    """Frame to sound, median over the cues that were heard."""
    lost: bool
    """The record is not whole: it breaks off."""
    unsigned: bool = False
    """Held by a prescription that nobody had signed."""
    unmeasured: tuple[Problem, ...] = ()
    """Why no step counts in the whole session, the likeliest reason first; empty where one does,
    where nobody was there to be measured, and in what older versions stored."""

    ended_s: float | None = None
    """When it stopped; None for a record that breaks off, and in what older versions stored."""
    own: Baseline | None = None
    """The runner's own values, as they were known when the session was held."""
    baseline_utc: str = ""
    """When the baseline behind the prescription was taken; empty without one."""
    held_by: str = ""
    """The public key of the computer at home that has signed the result; empty without one."""
    baseline_kmh: float | None = None
    """The belt speed that the prescription was made for; None without one."""
    other_speeds: tuple[SpeedMeans, ...] = ()
    """What was measured at other speeds than ``belt_speed_kmh``, the most values first."""
    sensors: SensorSummary | None = None
    """What treadmill and strap said; None where none was heard."""

    def __post_init__(self) -> None:
        # Not the code name: it is what all of an athlete's files and lines are found by.
        keep_plain(self, "source", "version")

    @property
    def speeds_kmh(self) -> tuple[float, ...]:
        """Every belt speed with a mean, that of most values first; empty where none is known."""
        main = () if self.belt_speed_kmh is None else (self.belt_speed_kmh,)
        return (*main, *(one.belt_speed_kmh for one in self.other_speeds))

    def at_speed(self, belt_speed_kmh: float) -> Digest | None:
        """The session as far as it was run at a like speed; None where it was not."""
        like = [one for one in self.speeds_kmh if like_speeds(one, belt_speed_kmh)]
        if not like:
            return None
        if like[0] == self.belt_speed_kmh:
            return self
        (found, *_others) = (one for one in self.other_speeds if one.belt_speed_kmh == like[0])
        return msgspec.structs.replace(
            self, belt_speed_kmh=found.belt_speed_kmh, means=found.means, other_speeds=()
        )

    @property
    def pain_worst(self) -> int | None:
        """The worst pain that was rated; None where it was not."""
        return max(self._rated(Question.PAIN), default=None)

    @property
    def effort_last(self) -> int | None:
        """The effort as it was rated last; None where it was not."""
        return next(reversed(self._rated(Question.EFFORT)), None)

    @property
    def aims(self) -> tuple[Target, ...]:
        """The targets as they stood at the end: the first ones, with every change done."""
        return tuple(self.in_force(target)[-1][1] for target in self.first_targets)

    def in_force(self, target: Target) -> list[tuple[float, Target]]:
        """Every target of this measure and side with the second from which it held, in order."""
        held = [(0.0, one) for one in self.first_targets]
        held += [(max(0.0, change.at_s), change.target) for change in self.changes]
        own = (target.measure, target.side)
        return [(at_s, one) for at_s, one in held if (one.measure, one.side) == own]

    def goal_of(self, measure: str, side: Side | None, unit: str) -> Goal | None:
        """Where the prescription leads to; None where it has no such goal."""
        for goal in self.goals:
            last = goal.targets[-1]
            if (last.measure, last.side, last.unit) == (measure, side, unit):
                return goal
        return None

    def find(
        self, measure: str, side: Side | None, part: SessionPart, unit: str
    ) -> MeanValue | None:
        """One mean; None when there is none."""
        for mean in self.means:
            if (mean.measure, mean.side, mean.part, mean.unit) == (measure, side, part, unit):
                return mean
        return None

    def found(
        self, measure: str, side: Side | None, part: SessionPart, unit: str
    ) -> MeanValue | None:
        """The same, with both sides taken together where neither side is asked for."""
        mean = self.find(measure, side, part, unit)
        if mean is not None or side is not None:
            return mean
        left, right = (self.find(measure, side, part, unit) for side in Side)
        return None if left is None or right is None else both(left, right)

    def _rated(self, what: Question) -> list[int]:
        return [answer.value for answer in self.answers if answer.what is what]


def both(left: MeanValue, right: MeanValue) -> MeanValue:
    """Mean over both sides, each side counting as much."""
    error = None
    if left.error is not None and right.error is not None:
        error = together(left.error, right.error)
    return MeanValue(
        measure=left.measure,
        side=None,
        unit=left.unit,
        part=left.part,
        mean=(left.mean + right.mean) / 2,
        sd=None,
        values=left.values + right.values,
        sem=None if error is None else error.sem / 2,
        stated=None,
        freedom=None if error is None else error.freedom,
    )
