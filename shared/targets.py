"""What is set for one athlete: targets, drills, plans and limits, as read from profiles."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated

import msgspec
from msgspec import Meta

from shared.flow import Side, View
from shared.identity import AthleteId


class CueStyle(StrEnum):
    """Ways to cue a target; several may be chosen."""

    BEAT = "beat"
    """A beat at the target cadence."""
    OUT_OF_BAND = "out_of_band"
    """A sound when the value has left the band."""
    PITCH = "pitch"
    """The same, with an interval that widens with the distance from the band."""
    SPOKEN = "spoken"
    """The line that fits, spoken when the value has just left the band."""
    BACK_IN_BAND = "back_in_band"
    """A short tone when it is back."""
    WORDS = "words"
    """A short line on the screen."""


class Target(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One measure held to a band; ``low`` or ``high`` may be left out, not both."""

    measure: str
    unit: str
    side: Side | None = None
    """None: both sides count (or the measure has none)."""
    low: float | None = None
    high: float | None = None
    beat_spm: Annotated[float, Meta(ge=120, le=220)] | None = None
    """Tempo of the beat in steps/min; cadence targets only."""
    average_steps: Annotated[int, Meta(ge=1, le=40)] = 8
    hysteresis: Annotated[float, Meta(ge=0)] = 0.0
    """How far back inside the band a value must come before it counts as back; in ``unit``."""
    cue_gap_steps: Annotated[int, Meta(ge=4, le=40)] = 8
    """Fewest steps between two cues."""
    cues: tuple[CueStyle, ...] = (CueStyle.OUT_OF_BAND, CueStyle.BACK_IN_BAND, CueStyle.WORDS)


class Limits(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What ends a session or holds it back; the clinician's own rules come first.

    Pain and cadence can only be set stricter than the values given here.
    """

    pain_stop_over: Annotated[int, Meta(ge=0, le=5)] = 5
    """A pain answer over this ends the session (pain-monitoring model: over 5 of 10 is too
    much; Silbernagel et al. 2007, secondary summary)."""
    pain_caution_from: Annotated[int, Meta(ge=1, le=10)] = 3
    """From here on the runner is told to ease off, and the target takes no further step (common
    in retraining studies; from memory)."""
    effort_caution_from: Annotated[int, Meta(ge=1, le=10)] = 7
    """From here on the plan proposes no progress (Borg CR10; from memory)."""
    cadence_most_percent: Annotated[float, Meta(ge=1, le=10)] = 10.0
    """Most that a cadence target may lie over the baseline (Heiderscheit et al. 2011: +5, +10)."""
    target_step_percent: Annotated[float, Meta(ge=1, le=5)] = 5.0
    """Most that a target is moved at one time: of the athlete's own cadence, or of the range that
    the catalogue gives for another measure (our choice)."""
    heart_rate_warn_bpm: Annotated[int, Meta(ge=60, le=230)] | None = None
    """From here on the runner is told to ease off, where a strap is worn; None: never. The
    clinician sets it: no formula of age is used here."""
    heart_rate_end_bpm: Annotated[int, Meta(ge=60, le=230)] | None = None
    """A heart rate held over this ends the session; None: never."""
    longest_min: Annotated[float, Meta(ge=1, le=120)] = 60.0
    """A session ends after so many minutes, whatever the drill says."""
    volume_most: Annotated[float, Meta(ge=0, le=1)] = 1.0
    """Loudest volume, of the program's own ceiling."""


class Athlete(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One runner by code name, with the targets set for this runner."""

    code_name: Annotated[str, Meta(min_length=1, max_length=40)]
    """Only shown."""
    athlete_id: AthleteId = ""
    """By which all that is kept of this athlete is found; empty in what older versions wrote."""
    height_cm: Annotated[float, Meta(ge=120, le=220)]
    targets: tuple[Target, ...] = ()
    """Empty before a baseline is taken: then a drill and its targets are worked out from it."""
    view: View
    belt_speed_kmh: Annotated[float, Meta(ge=3, le=25)] | None = None
    """What the belt is set to; the program never sets it."""
    baseline_cadence_spm: Annotated[float, Meta(ge=110, le=240)] | None = None
    """The athlete's own cadence at this belt speed, before any training."""
    limits: Limits = Limits()
    notes: str = ""

    @property
    def belt_speed_mps(self) -> float | None:
        """Belt speed in m/s."""
        return None if self.belt_speed_kmh is None else self.belt_speed_kmh / 3.6


class Hold(StrEnum):
    """On which sides of the aimed value the band has an edge."""

    NEAR = "near"
    UNDER = "under"
    OVER = "over"


class Aim(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What a drill changes, told against the runner's own baseline, or as a fixed band.

    Exactly one of ``change_percent``, ``change`` or a band (``low``, ``high`` or both) is given.
    """

    name: Annotated[str, Meta(min_length=1, max_length=30)]
    measure: str
    unit: str
    side: Side | None = None
    change_percent: Annotated[float, Meta(ge=-60, le=60)] | None = None
    """Of the baseline's mean."""
    change: float | None = None
    """In ``unit``, against the baseline's mean."""
    low: float | None = None
    high: float | None = None
    hold: Hold = Hold.NEAR
    """For a change: which edges the band gets."""
    tolerance_percent: Annotated[float, Meta(ge=0.5, le=10)] = 3.0
    """Half width of the band in % of the aimed value; widened to the measure's own step SD."""
    ramp_step_percent: Annotated[float, Meta(ge=0.5, le=20)] | None = None
    """Largest step of the target, in % of baseline; None: 2.5 for cadence, else all at once."""
    average_steps: Annotated[int, Meta(ge=1, le=40)] = 8
    cue_gap_steps: Annotated[int, Meta(ge=4, le=40)] = 8
    cues: tuple[CueStyle, ...] = (CueStyle.OUT_OF_BAND, CueStyle.BACK_IN_BAND, CueStyle.WORDS)


class Question(StrEnum):
    """What is asked, each from 0 to 10."""

    PAIN = "pain"
    """0 none, 10 the worst that can be thought of."""
    EFFORT = "effort"
    """Borg's CR10: 0 nothing at all, 10 extremely strong."""
    AWKWARDNESS = "awkwardness"
    """0 like my own way of running, 10 as strange as can be."""


class BlockKind(StrEnum):
    """The kinds of block that a drill is made of."""

    WARM_UP = "warm_up"
    CUED = "cued"
    UNCUED = "uncued"
    REST = "rest"
    COOL_DOWN = "cool_down"


class Block(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One stretch of a drill; it lasts for ``minutes`` or for ``steps``, one of the two."""

    kind: BlockKind
    minutes: Annotated[float, Meta(ge=0.1, le=60)] | None = None
    steps: Annotated[int, Meta(ge=10, le=10000)] | None = None
    belt_speed_kmh: Annotated[float, Meta(ge=1, le=25)] | None = None
    """What to set the belt to; None: the athlete's speed. The program never sets it."""
    focus: str = ""
    """Name of the aim that is cued; empty where the aims take turns by themselves."""
    ask: tuple[Question, ...] = ()
    """Asked when the block ends."""


class Drill(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Aims and the blocks in which they are practised."""

    title: Annotated[str, Meta(min_length=1, max_length=60)]
    view: View
    aims: tuple[Aim, ...]
    """One or two; with two, one at a time is cued, in turns."""
    blocks: tuple[Block, ...]
    ramp_every_min: Annotated[float, Meta(ge=0.5, le=30)] = 2.0
    """Cued minutes before the target takes its next step."""
    turn_min: Annotated[float, Meta(ge=1, le=30)] = 5.0
    """Longest turn of one of two aims."""
    pain_every_min: Annotated[float, Meta(ge=1, le=30)] = 5.0
    """How often pain is asked while running."""
    ask_at_end: tuple[Question, ...] = tuple(Question)
    notes: str = ""


class SessionKind(StrEnum):
    """What a session of a plan is for."""

    PRACTICE = "practice"
    RETENTION = "retention"
    """Without any cue: what was kept."""
    REMINDER = "reminder"
    """One reminder at the start, then without any cue: what can be called up."""


class PlanSession(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One session of a plan."""

    parts_min: tuple[Annotated[float, Meta(ge=0, le=60)], ...]
    """Minutes with cues, without cues, with cues and so on, in turn; begins with cues."""
    kind: SessionKind = SessionKind.PRACTICE
    hours_after: Annotated[float, Meta(ge=0, le=10000)] = 24.0
    """Fewest hours since the session before."""

    @property
    def run_min(self) -> float:
        """Minutes of the whole main part."""
        return sum(self.parts_min)

    @property
    def cued_min(self) -> float:
        """Minutes of it with cues."""
        return sum(self.parts_min[::2])


class Plan(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Sessions in order, with the cues withdrawn from one to the next."""

    title: Annotated[str, Meta(min_length=1, max_length=60)]
    sessions: tuple[PlanSession, ...]
    notes: str = ""


class Goal(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One aim of a prescription, worked out for one runner."""

    name: str
    """The aim's name."""
    own: float
    """The baseline's mean, in the unit of the targets."""
    own_sd: float
    """Spread of single steps (SD) at baseline."""
    least_change: float
    """Smallest change of a mean that can be told from noise."""
    aimed: tuple[float, ...]
    """The value aimed at, by step of the ramp; empty for a fixed band."""
    targets: Annotated[tuple[Target, ...], Meta(min_length=1)]
    """One for each step of the ramp, the last for good; a fixed band has one."""


class Prescription(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """All that one runner needs to run a drill or a plan, in one file."""

    format: Annotated[int, Meta(ge=1, le=1)] = 1
    code_name: Annotated[str, Meta(min_length=1, max_length=40)]
    athlete_id: AthleteId = ""
    """The runner's; empty in files of older versions."""
    height_cm: Annotated[float, Meta(ge=120, le=220)]
    view: View
    belt_speed_kmh: Annotated[float, Meta(ge=3, le=25)]
    written_utc: str
    baseline_utc: str
    """When the baseline behind the goals was taken."""
    limits: Limits = Limits()
    goals: tuple[Goal, ...]
    drill: Drill
    plan: Plan | None = None
    check: Annotated[str, Meta(pattern="^([0-9a-f]{64})?$")] = ""
    """Sum over all fields but this one and the next two: tells a file that was changed."""
    signed_by: Annotated[str, Meta(pattern="^([0-9a-f]{64})?$")] = ""
    """Public key of the station that wrote it (Ed25519); empty in files of older versions."""
    signature: Annotated[str, Meta(pattern="^([0-9a-f]{128})?$")] = ""
    """Over all other fields, by the owner of that key."""


class Voucher(StrEnum):
    """Who stands behind a prescription, at the computer where it is run."""

    OWN = "own"
    """This computer has signed it itself."""
    KNOWN = "known"
    """A clinic whose key is known here has signed it."""
    FIRST = "first"
    """Signed with the first key that was met here, which was taken for the clinic's."""
    UNSIGNED = "unsigned"
    """Nobody: it is not signed, and was accepted all the same."""
