"""Reads drills and plans from TOML files, and checks every field against the catalogue."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Final

from feedback.athlete_files.common_checks import check_edges, check_measure, check_sounds
from feedback.storage.toml_fields import did_you_mean, field_error, read_fields
from feedback.training.drill import MAIN
from feedback.training.goals import CADENCE_RAMP_MOST_PERCENT
from shared.catalogue import CADENCE
from shared.language import _
from shared.problems import UserError
from shared.reading import read_toml
from shared.targets import Aim, Block, BlockKind, CueStyle, Drill, Plan, SessionKind

MOST_AIMS: Final = 2
LONGEST_MIN: Final = 120.0


def read_drill(path: Path) -> Drill:
    """Read and check one drill.

    Raises UserError: ``file_missing``, ``file_unreadable``, ``toml_broken`` or ``field_wrong``,
    which names the file, the field, its value and what is allowed.
    """
    drill = read_fields(path, read_toml(path), Drill)
    check_drill(drill, path)
    return drill


def read_plan(path: Path) -> Plan:
    """Read and check one plan; raises as :func:`read_drill`."""
    plan = read_fields(path, read_toml(path), Plan)
    check_plan(plan, path)
    return plan


def check_drill(drill: Drill, path: Path, place: str = "") -> None:
    """Check what the types cannot say; ``place`` is where in the file the drill stands.

    Raises UserError ``field_wrong``.
    """
    _DrillCheck(drill, path, place).run()


def check_plan(plan: Plan, path: Path, place: str = "") -> None:
    """Check what the types cannot say. Raises UserError ``field_wrong``."""
    if not plan.sessions:
        why, allowed = _("there is nothing to do"), _("at least one [[sessions]] table")
        raise field_error(path, f"{place}sessions", "missing", why, allowed)
    for number, session in enumerate(plan.sessions):
        field = f"{place}sessions[{number}].parts_min"
        parts = list(session.parts_min)
        if not 0 < session.run_min <= LONGEST_MIN:
            why = _("the session lasts {run_min:g} minutes").format(run_min=session.run_min)
            raise field_error(
                path,
                field,
                parts,
                why,
                _("more than 0 and up to {longest_min:g}").format(longest_min=LONGEST_MIN),
            )
        if any(0 < minutes < 0.1 for minutes in parts) or 0 in parts[1:]:
            why = _("a part is too short")
            raise field_error(path, field, parts, why, _("0.1 or more; only the first may be 0"))
        if session.kind is not SessionKind.PRACTICE and session.cued_min > 0:
            why = _("a {kind} check has no cues").format(kind=session.kind)
            raise field_error(path, field, parts, why, _("0 and then the minutes, such as [0, 10]"))


class _DrillCheck:
    """Checks one drill; every method raises ``field_wrong``."""

    def __init__(self, drill: Drill, path: Path, place: str) -> None:
        self._drill = drill
        self._path = path
        self._place = place

    def _wrong(self, field: str, value: object, why: str, allowed: str) -> UserError:
        return field_error(self._path, f"{self._place}{field}", value, why, allowed)

    def run(self) -> None:
        drill = self._drill
        if not 1 <= len(drill.aims) <= MOST_AIMS:
            why = _("there are {count}, and one thing at a time is cued").format(
                count=len(drill.aims)
            )
            raise self._wrong("aims", "a list", why, _("one or two [[aims]] tables"))
        for number, aim in enumerate(drill.aims):
            self._check_aim(aim, f"aims[{number}].")
        names = [aim.name for aim in drill.aims]
        if len(set(names)) < len(names):
            raise self._wrong("aims[1].name", names[1], _("both have this name"), _("another name"))
        self._check_blocks(names)

    def _check_aim(self, aim: Aim, place: str) -> None:
        def wrong(field: str, value: object, why: str, allowed: str) -> UserError:
            return self._wrong(f"{place}{field}", value, why, allowed)

        check_measure(aim, self._drill.view, wrong)
        ways = [aim.change_percent is not None, aim.change is not None]
        ways.append(aim.low is not None or aim.high is not None)
        if sum(ways) != 1:
            why = _("it must be clear what the target is")
            allowed = _("one of change_percent, change, or a band (low, high or both)")
            raise self._wrong(f"{place}change_percent", _shown(aim.change_percent), why, allowed)
        if (aim.change_percent, aim.change) in ((0, None), (None, 0)):
            field = "change" if aim.change_percent is None else "change_percent"
            raise self._wrong(
                f"{place}{field}", 0, _("nothing would change"), _("above or under 0")
            )
        check_edges(aim, wrong)
        self._check_cadence(aim, place)
        self._check_cues(aim, place)
        check_sounds(aim, wrong)

    def _check_cadence(self, aim: Aim, place: str) -> None:
        if aim.measure != CADENCE:
            return
        if aim.change_percent is None:
            why = _("cadence is set relative to the runner's own, in percent")
            raise self._wrong(f"{place}change_percent", "missing", why, "from -10 to 10")
        if abs(aim.change_percent) > 10:
            why = _("cadence changes by no more than 10 % at a time")
            raise self._wrong(f"{place}change_percent", aim.change_percent, why, "from -10 to 10")
        step = aim.ramp_step_percent
        if step is not None and step > CADENCE_RAMP_MOST_PERCENT:
            allowed = f"0.5 to {CADENCE_RAMP_MOST_PERCENT:g}"
            raise self._wrong(
                f"{place}ramp_step_percent", step, _("the step would be felt as a jump"), allowed
            )

    def _check_cues(self, aim: Aim, place: str) -> None:
        field, cues = f"{place}cues", list(aim.cues)
        if not cues:
            raise self._wrong(field, cues, _("nothing would be cued"), _("at least one way to cue"))
        if CueStyle.BEAT in cues and aim.measure != CADENCE:
            why = _("{measure} has no beat").format(measure=aim.measure)
            raise self._wrong(field, cues, why, 'leave "beat" out')

    def _check_blocks(self, names: list[str]) -> None:
        blocks = self._drill.blocks
        if not any(block.kind in (BlockKind.CUED, BlockKind.UNCUED) for block in blocks):
            why = _("there is nothing to practise")
            raise self._wrong("blocks", "a list", why, _('at least one of kind "cued" or "uncued"'))
        main = [number for number, block in enumerate(blocks) if block.kind in MAIN]
        for number, block in enumerate(blocks):
            self._check_block(block, f"blocks[{number}].", names)
            if main[0] < number < main[-1] and block.kind not in MAIN:
                why = _("it is in the middle of the drill")
                allowed = _('"warm_up" only at the start and "cool_down" only at the end')
                raise self._wrong(f"blocks[{number}].kind", block.kind, why, allowed)

    def _check_block(self, block: Block, place: str, names: list[str]) -> None:
        if (block.minutes is None) == (block.steps is None):
            value = "missing" if block.minutes is None else block.minutes
            why = _("a block lasts for minutes or for steps")
            raise self._wrong(f"{place}minutes", value, why, _("minutes or steps, one of the two"))
        if block.focus and block.kind is not BlockKind.CUED:
            why = _("nothing is cued in a block of kind {kind}").format(kind=block.kind)
            raise self._wrong(f"{place}focus", block.focus, why, _("leave this field out"))
        if block.focus and block.focus not in names:
            why = _("there is no aim of that name") + did_you_mean(block.focus, names)
            raise self._wrong(f"{place}focus", block.focus, why, ", ".join(names))
        practised = block.kind in (BlockKind.CUED, BlockKind.UNCUED)
        if block.belt_speed_kmh is not None and practised:
            why = _("targets are valid only at the speed of the baseline")
            raise self._wrong(
                f"{place}belt_speed_kmh", block.belt_speed_kmh, why, _("leave this field out")
            )


def _shown(value: float | None) -> object:
    return "missing" if value is None or math.isnan(value) else value
