"""Plans one target's cues by the table of cues: which is due, and with which sound and line."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from feedback.cueing.cue_table import CUES, CueRow, Moment
from feedback.cueing.tones import PITCH_LEVELS
from shared.catalogue import CADENCE
from shared.flow import BandState, Cue, CueKind, Judgement, Side
from shared.targets import CueStyle, Target

OUT: Final = frozenset({BandState.BELOW, BandState.ABOVE})
FAIR_SHARE: Final = 0.03
"""Half a band with one edge, as a share of that edge, where the hysteresis does not tell it."""


def beats(target: Target) -> bool:
    """True when a beat is to be kept for this target."""
    return target.beat_spm is not None and CueStyle.BEAT in target.cues


def cue_key(measure: str, state: BandState, *, beat: bool = False) -> str:
    """Key of the cue line for ``measure`` out of its band; empty where there is nothing to say.

    ``beat``: a beat at the target cadence is sounding, so the line may point at it.
    """
    if beat and measure == CADENCE and state in OUT:
        return CUES[CueKind.BEAT].line
    key = f"cue_{measure}_{state}"
    return key if key in CUES[CueKind.OUT_OF_BAND].lines else ""


def sound_of(row: CueRow, state: BandState, side: Side | None) -> str:
    """Key of the row's tone: with direction and side, where it has tones that tell them."""
    direction = {BandState.BELOW: "_low", BandState.ABOVE: "_high"}.get(state, "")
    where = "" if side is None else f"_{side}"
    keys = (f"{row.sound}{one}{place}" for one in (direction, "") for place in (where, ""))
    return next((key for key in keys if key in row.tones), "")


def spoken(words: str, side: Side | None) -> str:
    """Key of a line of words as speech; the side is heard as the stereo side."""
    return f"say_{words}" if side is None else f"say_{words}_{side}"


def speech_of(targets: Iterable[Target], reminders: bool = False) -> frozenset[str]:
    """Keys of all spoken lines that these targets can call for; ``reminders``: theirs too."""
    found = set()
    for target in targets:
        lines = set()
        for state in OUT:
            if CueStyle.SPOKEN in target.cues:
                lines |= {cue_key(target.measure, state, beat=beat) for beat in (False, True)}
            if reminders:
                lines.add(cue_key(target.measure, state))
        if CueStyle.SPOKEN in target.cues:
            lines |= {row.line for row in CUES.values() if row.spoken}
        found |= {spoken(line, target.side) for line in lines if line}
    return frozenset(found)


def pitch_level(judgement: Judgement, target: Target) -> int:
    """How far out of the band, from 1 to PITCH_LEVELS, in halves of half the band."""
    low, high = target.low, target.high
    if low is not None and high is not None:
        half = (high - low) / 2
    else:
        edge = abs((high if low is None else low) or 0.0)
        half = max(4 * target.hysteresis, FAIR_SHARE * edge)
    if half <= 0:
        return 1
    return min(PITCH_LEVELS, 1 + int(abs(judgement.error) / (half / 2)))


def out_sound(judgement: Judgement, target: Target, words: str, first: bool) -> str:
    """Key of the sound of an out-of-band cue; empty for none. ``first``: it was inside before."""
    has_tone = CueStyle.PITCH in target.cues or CueStyle.OUT_OF_BAND in target.cues
    if CueStyle.SPOKEN in target.cues and words and (first or not has_tone):
        return spoken(words, judgement.side)
    if CueStyle.PITCH in target.cues:
        direction = "low" if judgement.state is BandState.BELOW else "high"
        level = pitch_level(judgement, target)
        key = f"pitch_{direction}_{level}"
        return key if judgement.side is None else f"{key}_{judgement.side}"
    if CueStyle.OUT_OF_BAND in target.cues:
        return sound_of(CUES[CueKind.OUT_OF_BAND], judgement.state, judgement.side)
    return ""


def _other_sound(row: CueRow, judgement: Judgement, target: Target) -> str:
    """Key of the sound of a cue that says nothing about a value out of its band."""
    if row.spoken and row.line and CueStyle.SPOKEN in target.cues:
        return spoken(row.line, judgement.side)
    if row.style is not None and row.style not in target.cues:
        return ""
    return sound_of(row, judgement.state, judgement.side)


def reminder_cue(
    target: Target, state: BandState, step_number: int, captured_ns: int, now_ns: int
) -> Cue:
    """What a session with a reminder is begun with: the line for a value out on that side."""
    words = cue_key(target.measure, state)
    return Cue(
        kind=CueKind.REMINDER,
        measure=target.measure,
        side=target.side,
        sound=spoken(words, target.side) if words else "",
        words=words,
        step_number=step_number,
        captured_ns=captured_ns,
        decided_ns=now_ns,
    )


def words_of(kind: CueKind, state: BandState, target: Target, beat_heard: bool) -> str:
    """Key of the line to show, such as ``cue_cadence_below``; empty for none.

    ``beat_heard``: there is a sound output, so the line may point at the beat.
    """
    if CueStyle.WORDS not in target.cues:
        return ""
    if kind is CueKind.OUT_OF_BAND:
        return cue_key(target.measure, state, beat=beats(target) and beat_heard)
    return CUES[kind].line


def due_row(moment: Moment) -> CueRow | None:
    """The cue that is to be given now; of several that with the highest rank."""
    due = [row for row in CUES.values() if row.due is not None and row.due(moment)]
    return max(due, key=lambda row: row.rank, default=None)


class CuePlanner:
    """Decides when one target is cued. Silence means right.

    Out of the band: at once, then again after at least ``cue_gap_steps`` for as long as it
    lasts. Back in the band: once, and only in answer to an out-of-band cue. No two cues are
    closer than ``cue_gap_steps``: a return within the gap is told when the gap is over, if it
    still holds then (bandwidth feedback: Sherwood 1988, Lee and Carnahan 1990).
    """

    def __init__(self, target: Target) -> None:
        self._target = target
        self._cued_out = False
        self._last_cue_step: int | None = None
        self._shown: tuple[BandState, str] = (BandState.UNKNOWN, "")

    def aim_at(self, target: Target) -> None:
        """Plan for another band of the same measure; the gap still counts."""
        self._target = target

    def keep_away(self, step_number: int) -> None:
        """A cue was given for any target: the gap counts from there."""
        self._last_cue_step = step_number

    def reset(self) -> None:
        """Forget that the runner was told to change; the gap still counts."""
        self._cued_out = False
        self._shown = (BandState.UNKNOWN, "")

    def line_shown(self, state: BandState) -> str:
        """Key of the last cue's line, for as long as the value lies where it lay then."""
        return self._shown[1] if self._shown[0] is state else ""

    def on_judgement(
        self, judgement: Judgement, now_ns: int, beat_heard: bool = True
    ) -> Cue | None:
        """The cue that this verdict calls for now, if any. Call it only when cues are allowed."""
        if judgement.state is BandState.UNKNOWN:
            self.reset()
            return None
        out = judgement.state in OUT
        row = due_row(Moment(out=out, told_out=self._cued_out))
        if row is None or not self._gap_is_over(judgement.step_number):
            return None
        first, self._cued_out = not self._cued_out, out
        words = words_of(row.kind, judgement.state, self._target, beat_heard)
        if row.kind is CueKind.OUT_OF_BAND:
            line = cue_key(
                judgement.measure, judgement.state, beat=beats(self._target) and beat_heard
            )
            sound = out_sound(judgement, self._target, line, first)
        else:
            sound = _other_sound(row, judgement, self._target)
        if not sound and not words:
            return None
        self._last_cue_step = judgement.step_number
        self._shown = (judgement.state, words)
        return Cue(
            kind=row.kind,
            measure=judgement.measure,
            side=judgement.side,
            sound=sound,
            words=words,
            step_number=judgement.step_number,
            captured_ns=judgement.captured_ns,
            decided_ns=now_ns,
        )

    def _gap_is_over(self, step_number: int) -> bool:
        if self._last_cue_step is None:
            return True
        if step_number < self._last_cue_step:
            # Counting began anew: wait a whole gap from here rather than for the old number.
            self._last_cue_step = step_number
        return step_number - self._last_cue_step >= self._target.cue_gap_steps
