"""The table of cues: a row holds a kind's name, lines, tones, priority and when it is due (pure).

All else reads from here: the planner when a cue is due, the mixer how it sounds and which of two
wins, the screens, the terminal and the report what it says. To add a cue: its kind in
``shared.flow.CueKind``, its row here, and for a line that is spoken too
``python -m tests.feedback.sound.render_speech``.

Lines are 20 characters at most, to be read at a glance. They point at what the runner can see, hear
or feel around the body (the beat, the belt, the screen), not at body parts: an outside focus of
attention helps learning (Wulf 2013, review; from memory). They are our own wording; which fault
asks for which line is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Final

from feedback.cueing.tones import (
    ALERT_PEAK,
    CUE_PEAK,
    SLIGHTLY,
    Tone,
    alternating,
    beat,
    graded_tones,
    out_cue,
)
from shared.flow import BandState, CueKind, Side
from shared.targets import CueStyle


@dataclass(frozen=True, slots=True)
class Moment:
    """How it stands with one target when its value was judged; the value is known."""

    out: bool
    """The value is outside its band."""
    told_out: bool
    """The last cue of this target said so."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CueRow:
    """One kind of cue. Two rows share no key of a line and none of a tone."""

    kind: CueKind
    title: str
    """What people call it, within a sentence."""
    rank: int
    """Priority: it cuts off another of its own rank or lower, never a higher one."""
    sound: str = ""
    """Key of its tone, or the start of it: direction and side may follow. Empty: it has none."""
    tones: Mapping[str, Tone] = field(default_factory=dict)
    """All that start so; how long each lasts is its own (``length_s``)."""
    graded: Mapping[str, Tone] = field(default_factory=dict)
    """Tones that tell how far out the value is, for targets that ask for :attr:`CueStyle.PITCH`."""
    lines: Mapping[str, str] = field(default_factory=dict)
    """What the screen shows, by key. Where there is more than one, who gives the cue chooses."""
    spoken: bool = False
    """Its line is said in the tone's place where the target asks for :attr:`CueStyle.SPOKEN`."""
    style: CueStyle | None = None
    """What a target must ask for to have it sound; None: it always may."""
    due: Callable[[Moment], bool] | None = None
    """Whether it is to be given after a value was judged; None: it does not hang on that."""

    @property
    def line(self) -> str:
        """Key of the only line; empty for none, or where there are several to choose from."""
        return next(iter(self.lines)) if len(self.lines) == 1 else ""


_BY_MEASURE: Final[dict[str, tuple[str, str]]] = {
    # measure: (line when the value is below its band, line when it is above)
    "cadence": ("Quick, light steps", "Ease to the beat"),
    "strike_ahead": ("Let the belt come", "Land under you"),
    "shank_angle_at_contact": ("Let the belt come", "Land under you"),
    "foot_angle_at_contact": ("Roll over the belt", "Land softly"),
    "knee_flexion_at_contact": ("Land softly", "Land tall"),
    "knee_flexion_peak": ("Sink into the belt", "Stay tall"),
    "ankle_dorsiflexion_peak": ("Roll over the belt", "Spring off the belt"),
    "heel_rise": ("Longer on the belt", "Spring off the belt"),
    "hip_extension_peak": ("Push the belt back", "Push off sooner"),
    "trunk_lean": ("Lean to the screen", "Grow tall"),
    "contact_time": ("Softer on the belt", "Quick off the belt"),
    "flight_time": ("Spring off the belt", "Skim the belt"),
    "duty_factor": ("Softer on the belt", "Quick off the belt"),
    "step_length": ("Longer steps", "Shorter steps"),
    "belt_speed": ("Run loose and easy", "Run loose and easy"),
    "step_asymmetry": ("Make the beat even", "Make the beat even"),
    "vertical_excursion": ("Spring off the belt", "Skim the belt"),
    "pelvic_shift": ("Run loose and easy", "Stay tall and level"),
    "pelvic_drop": ("Run loose and easy", "Stay tall and level"),
    "trunk_side_lean": ("Stay tall and level", "Stay tall and level"),
    "knee_midline": ("Run a narrow lane", "Run along two rails"),
    "step_width": ("Run along two rails", "Run a narrow lane"),
    "arm_direction": ("Swing loose", "Swing to the screen"),
    "arm_crossing": ("Swing loose", "Swing to the screen"),
}

_ROWS: Final = (
    CueRow(
        kind=CueKind.BEAT,
        title="beat",
        rank=1,
        sound="beat",
        tones={
            "beat_left": beat("Beat for a left step.", 880.0, -SLIGHTLY),
            "beat_right": beat("Beat for a right step.", 1047.0, SLIGHTLY),
        },
        lines={"cue_beat": "Meet the beat"},
    ),
    CueRow(
        kind=CueKind.OUT_OF_BAND,
        title="off target",
        rank=2,
        sound="out",
        tones={
            "out_low": out_cue("Too low: more of it.", None, rising=True),
            "out_low_left": out_cue("Left side too low: more.", Side.LEFT, rising=True),
            "out_low_right": out_cue("Right side too low: more.", Side.RIGHT, rising=True),
            "out_high": out_cue("Too high: less of it.", None, rising=False),
            "out_high_left": out_cue("Left side too high: less.", Side.LEFT, rising=False),
            "out_high_right": out_cue("Right side too high: less.", Side.RIGHT, rising=False),
        },
        graded=graded_tones(),
        lines={
            f"cue_{measure}_{state}": line
            for measure, lines in _BY_MEASURE.items()
            for state, line in zip((BandState.BELOW, BandState.ABOVE), lines, strict=True)
        },
        spoken=True,
        due=lambda moment: moment.out,
    ),
    CueRow(
        kind=CueKind.BACK_IN_BAND,
        title="back on target",
        rank=1,
        sound="back",
        tones={
            "back": Tone(
                meaning="Back inside the band.",
                pitch=((0.0, 1319.0), (0.24, 1319.0)),
                rise_s=0.008,
                fall_s=0.060,
                peak=CUE_PEAK * 0.7,
                decay_s=0.070,
            )
        },
        lines={"line_inside": "On target"},
        style=CueStyle.BACK_IN_BAND,
        due=lambda moment: moment.told_out and not moment.out,
    ),
    # Its line is that of the value out of its band, and only spoken.
    CueRow(kind=CueKind.REMINDER, title="reminder", rank=2, spoken=True),
    CueRow(
        kind=CueKind.WARNING,
        title="warning",
        rank=3,
        sound="warning",
        tones={
            "warning": Tone(
                meaning="Warning: look at the screen.",
                pitch=alternating(740.0, 988.0, turns=12, turn_s=0.05),
                rise_s=0.025,
                fall_s=0.050,
                peak=ALERT_PEAK,
                second_partial=0.25,
            )
        },
        lines={
            "warn_belt_edge": "Move forward",
            "warn_pain": "Pain noted: ease off",
            "warn_heart": "Heart rate high: ease off",
        },
    ),
    CueRow(
        kind=CueKind.STOP,
        title="stop sound",
        rank=4,
        sound="stop",
        tones={
            "stop": Tone(
                meaning="The session has been stopped.",
                pitch=((0.0, 784.0), (0.15, 784.0), (0.75, 262.0), (1.1, 262.0)),
                rise_s=0.030,
                fall_s=0.200,
                peak=ALERT_PEAK,
                second_partial=0.35,
            )
        },
    ),
    CueRow(
        kind=CueKind.FAULT,
        title="fault tone",
        rank=4,
        sound="fault",
        tones={
            "fault": Tone(
                meaning="The program has fallen silent because of a fault.",
                pitch=alternating(330.0, 392.0, turns=10, turn_s=0.14),
                rise_s=0.060,
                fall_s=0.150,
                peak=ALERT_PEAK,
                second_partial=0.5,
            )
        },
    ),
)
CUES: Final[dict[CueKind, CueRow]] = {row.kind: row for row in _ROWS}
