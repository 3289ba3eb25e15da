"""The measure in focus as the panel shows it, large (pure)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from feedback.screens.clinician.measure_rows import MeasureRow, band_text
from feedback.texts import runner as wording
from feedback.texts.clinician import say
from feedback.texts.measures import short_title, unit_text
from shared.catalogue import CATALOGUE
from shared.flow import BandState, Side
from shared.messages import Snapshot

_OUT: Final = frozenset({BandState.BELOW, BandState.ABOVE})


@dataclass(frozen=True, slots=True)
class FocusShown:
    """The measure in focus: the one that is cued, else the first that has a target."""

    title: str = ""
    note: str = ""
    """Whether it is cued now."""
    value: str = ""
    unit: str = ""
    state: str = ""
    well: bool = True
    band: str = ""
    own: str = ""
    """The runner's baseline and the change from it."""


NO_FOCUS: Final = FocusShown()


def show_focus(snapshot: Snapshot, rows: Sequence[MeasureRow]) -> FocusShown:
    """The cued measure; without one the first with a target, and that nothing is cued."""
    focus = snapshot.focus or next(iter(snapshot.targets), None)
    if focus is None:
        return FocusShown(title=say("targets_none"))
    decimals = CATALOGUE[focus.measure].decimals
    known = focus.state is not BandState.UNKNOWN
    unit = unit_text(focus.unit)
    row = next((row for row in rows if row.name == focus.measure and not row.why_not), None)
    return FocusShown(
        title=short_title(focus.measure, focus.side),
        note=say("focus_cued" if snapshot.focus else "focus_not_cued"),
        value=wording.number(focus.value if known else None, decimals),
        unit=unit,
        state=say(f"card_{focus.state}"),
        well=focus.state not in _OUT,
        band=say("target_band", band=band_text(focus.low, focus.high, decimals), unit=unit),
        own="" if row is None else _own_line(row, focus.side),
    )


def _own_line(row: MeasureRow, side: Side | None) -> str:
    """The baseline, and the change from it where there is one."""
    if not row.own_left and not row.own_right:
        return ""
    both = row.by_side and side is None
    own = row.own_right if side is Side.RIGHT else row.own_left
    changes = row.changes
    if both:
        places = {"left": row.own_left, "right": row.own_right}
        if len(changes) < 2:
            return say("focus_own_sides", **places)
        return say("focus_own_change_sides", **places, less=changes[0], more=changes[1])
    if not changes:
        return say("focus_own", own=own)
    change = changes[-1] if side is Side.RIGHT else changes[0]
    return say("focus_own_change", own=own, change=change)
