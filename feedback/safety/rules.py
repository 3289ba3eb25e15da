"""The rules that keep a session safe: its states, who may ask for what, and what holds back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from shared.catalogue import CADENCE, CATALOGUE, PERCENT_LEG
from shared.language import _
from shared.messages import SessionState
from shared.targets import Limits, Target

LEAST_CUE_GAP_NS: Final = 1_000_000_000
"""No two cues are closer, whatever asks for them: four steps at 220 steps/min last 1.09 s, and a
cue comes every 4 to 8 steps at most (our choice)."""
ALERT_LEAST_VOLUME: Final = 0.175
"""Warning, stop and fault are never turned down under this: 6 dB under the usual volume. A cue may
be made as soft as the runner likes; what says that something is wrong may not (our choice)."""
LEG_CM: Final = 90.0
"""A leg's length where the runner's own is not at hand: 0.53 of 1.70 m (Drillis and Contini)."""


class Event(StrEnum):
    """What can move a session from one state to another."""

    CONFIRM = "confirm"
    """The cautions were read and seen to."""
    BEGIN = "begin"
    PAUSE = "pause"
    GO_ON = "go_on"
    STOP = "stop"


class By(StrEnum):
    """Who asks."""

    STATION = "station"
    """The program itself, or somebody at its keyboard."""
    SCREEN = "screen"
    """The runner, on the screen at the station or by a raised hand."""
    CONSOLE = "console"
    """Somebody elsewhere, who does not see the belt and what is behind it."""


_STEPS: Final[dict[tuple[SessionState, Event], SessionState]] = {
    (SessionState.CAUTIONS, Event.CONFIRM): SessionState.READY,
    (SessionState.READY, Event.BEGIN): SessionState.RUNNING,
    (SessionState.RUNNING, Event.PAUSE): SessionState.PAUSED,
    (SessionState.PAUSED, Event.GO_ON): SessionState.RUNNING,
    **{
        (state, Event.STOP): SessionState.STOPPED
        for state in SessionState
        if state is not SessionState.STOPPED
    },
}
_AT_THE_STATION_ONLY: Final = frozenset({Event.CONFIRM, Event.BEGIN, Event.GO_ON})


def follow(state: SessionState, event: Event, by: By) -> SessionState:
    """The state after ``event``; the same one when the event does not belong there.

    Stop leads to STOPPED from everywhere, and nothing leads out of it. What sets a session
    going is taken from the station alone.
    """
    if event in _AT_THE_STATION_ONLY and by is By.CONSOLE:
        return state
    return _STEPS.get((state, event), state)


# pain


class PainLevel(StrEnum):
    """What a rating of pain calls for."""

    FINE = "fine"
    CAUTION = "caution"
    """Ease off."""
    OVER = "over"
    """The session ends."""


def pain_level(rating: int, limits: Limits) -> PainLevel:
    """How a rating, 0 to 10, stands to the athlete's limits."""
    if rating > limits.pain_stop_over:
        return PainLevel.OVER
    return PainLevel.CAUTION if rating >= limits.pain_caution_from else PainLevel.FINE


# how loud


def least_alert_volume(most: float) -> float:
    """Under which warning, stop and fault are never turned down.

    ``most`` is the athlete's own limit (``volume_most``), which holds for them too.
    """
    return min(ALERT_LEAST_VOLUME, most)


# what only holds back


@dataclass(frozen=True, slots=True)
class TooMuch:
    """A target that goes beyond a limit; ``field`` is the field of the target that does."""

    field: str
    value: float
    why: str
    allowed: str


def allowed_aims(
    target: Target, limits: Limits, own_spm: float | None, recent: Sequence[Target] = ()
) -> tuple[float, float]:
    """The least and the most that ``target`` may be made to ask for now, in its unit.

    A change may lead no further than one step from the target as it is, nor from any of the
    ``recent`` ones, so that several changes in a row are no way round the limit.
    """
    aims = [aim_of(one) for one in (target, *recent)]
    step = _largest_step(target, limits, own_spm)
    least, most = max(aims) - step, min(aims) + step
    if target.measure == CADENCE and own_spm is not None:
        most = min(most, own_spm * (1.0 + limits.cadence_most_percent / 100.0))
    return least, most


def within_a_step(
    target: Target, others: Sequence[Target], limits: Limits, own_spm: float | None
) -> bool:
    """Whether ``target`` lies no further than one step from each of the ``others``."""
    step = max(_largest_step(one, limits, own_spm) for one in (target, *others))
    return all(abs(aim_of(target) - aim_of(one)) <= step + 1e-6 for one in others)


def aim_of(target: Target) -> float:
    """What the target asks of the runner: the beat, the band's middle, or its only edge."""
    return _aim(target)[1]


def too_much(
    target: Target, limits: Limits, own_spm: float | None, before: Target | None = None
) -> TooMuch | None:
    """What of ``target`` goes beyond the limits; None when all of it is within them.

    ``own_spm`` is the athlete's own cadence, None while not known. ``before`` is the target
    that ``target`` is to replace, None when it is set for the first time.
    """
    if target.measure == CADENCE and own_spm is not None:
        # +5 to +10 % of the own rate is what is usual (Heiderscheit 2011, Willy 2016); new
        # technique moves load to calf and Achilles tendon (Chan 2018).
        most = own_spm * (1.0 + limits.cadence_most_percent / 100.0)
        field, aim = _aim(target)
        if aim > most:
            limit = f"+{limits.cadence_most_percent:g} %"
            why = _("it is over {limit} of the runner's own cadence ({own_spm:g})").format(
                limit=limit, own_spm=own_spm
            )
            return TooMuch(
                field, aim, why, _("up to {most:.0f} {unit}").format(most=most, unit=target.unit)
            )
    if before is None or before.measure != target.measure or before.unit != target.unit:
        return None
    (field, aim), (_field, was) = _aim(target), _aim(before)
    step = _largest_step(target, limits, own_spm)
    if abs(aim - was) <= step:
        return None
    why = _("it was {was:g}, and that is too far for one step").format(was=was)
    return TooMuch(field, aim, why, f"{was - step:.1f} to {was + step:.1f} {target.unit}")


def _aim(target: Target) -> tuple[str, float]:
    """What the target asks of the runner, and the field that says so."""
    if target.beat_spm is not None:
        return "beat_spm", target.beat_spm
    if target.low is not None and target.high is not None:
        return "low", (target.low + target.high) / 2.0
    if target.low is not None:
        return "low", target.low
    return "high", target.high if target.high is not None else 0.0


def _largest_step(target: Target, limits: Limits, own_spm: float | None) -> float:
    share = limits.target_step_percent / 100.0
    if target.measure == CADENCE:
        return share * (aim_of(target) if own_spm is None else own_spm)
    spec = CATALOGUE[target.measure]
    least, most = spec.plausible
    if target.unit == spec.units[0]:
        return share * (most - least)
    # The range is given in cm: % of a leg of common length (our choice; only a limit hangs on it).
    to_unit = 100.0 / LEG_CM if target.unit == PERCENT_LEG else LEG_CM / 100.0
    return share * (most - least) * to_unit


class CueGate:
    """Keeps any two cues apart, whichever targets they are for."""

    def __init__(self) -> None:
        self._last_ns: int | None = None

    def is_open(self, now_ns: int) -> bool:
        """Whether a cue may be given now."""
        return self._last_ns is None or now_ns - self._last_ns >= LEAST_CUE_GAP_NS

    def passed(self, now_ns: int) -> None:
        """A cue was given."""
        self._last_ns = now_ns
