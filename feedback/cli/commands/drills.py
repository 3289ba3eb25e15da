"""``beltside drills``: the drills and plans that come with the program, and the user's own."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from pathlib import Path

from feedback.athlete_files.drills import read_drill, read_plan
from feedback.cli.common.tell import band_words
from feedback.storage.folders import DataFolder, bundled_folder, files, own_folder
from feedback.terminal.guard import OK
from feedback.terminal.tables import PlainConsole
from feedback.texts.measures import full_title, unit_text
from feedback.texts.numbers import localised
from feedback.texts.training import sessions_of
from feedback.training.drill import PLAIN_CADENCE_SPM, lay_out, planned_ns
from feedback.training.plan import shares
from shared.language import _, within
from shared.problems import UserError
from shared.targets import Aim

MINUTE_NS = 60_000_000_000
ANY_SPEED_KMH = 10.0


def run(_options: argparse.Namespace) -> int:
    """Print every drill and plan; broken ones of the user's own with the reason."""
    console = PlainConsole(soft_wrap=True)
    _list(console, _("Drills"), DataFolder.DRILLS, _drill_lines)
    _list(console, _("Plans"), DataFolder.PLANS, _plan_lines)
    console.print(_("\nUse them: beltside prescribe --athlete NAME --drill DRILL --plan PLAN"))
    return OK


def _list(
    console: PlainConsole, title: str, shelf: DataFolder, lines: Callable[[Path], list[str]]
) -> None:
    console.print(_("{title} of a fictional clinic, to try and copy:").format(title=title))
    for path in files(bundled_folder(shelf)):
        _show(console, path, lines)
    own = files(own_folder(shelf))
    if own:
        console.print(
            _("\nYour own {lower}, in {own_folder}:").format(
                lower=within(title), own_folder=own_folder(shelf)
            )
        )
    for path in own:
        _show(console, path, lines)
    console.print("")


def _show(console: PlainConsole, path: Path, lines: Callable[[Path], list[str]]) -> None:
    try:
        found = lines(path)
    except UserError as error:
        found = [_("not usable. {title}").format(title=error.problem.title)]
    console.print(f"  {path.stem}: {found[0]}")
    for line in found[1:]:
        console.print(f"      {line}")


def _drill_lines(path: Path) -> list[str]:
    drill = read_drill(path)
    length_ns = planned_ns(lay_out(drill, ANY_SPEED_KMH), PLAIN_CADENCE_SPM)
    first = _("{title} (camera {view}, {length_ns:.0f} min on its own)").format(
        title=drill.title, view=drill.view, length_ns=length_ns / MINUTE_NS
    )
    return [first, *map(_aim_words, drill.aims)]


def _aim_words(aim: Aim) -> str:
    if aim.change_percent is not None:
        change = _("{change} % of baseline").format(change=localised(f"{aim.change_percent:+g}"))
    elif aim.change is not None:
        change = _("{change} {unit} from baseline").format(
            change=localised(f"{aim.change:+g}"), unit=unit_text(aim.unit)
        )
    else:
        change = f"{band_words(aim.low, aim.high)} {unit_text(aim.unit)}"
    return f"{aim.name}: {full_title(aim.measure, aim.side)}: {change}"


def _plan_lines(path: Path) -> list[str]:
    plan = read_plan(path)
    cued = ", ".join(f"{100 * share:.0f}" for share in shares(plan))
    minutes = sum(session.run_min for session in plan.sessions)
    return [
        _("{title} ({sessions_of}, {minutes:g} min in total)").format(
            title=plan.title, sessions_of=sessions_of(plan), minutes=minutes
        ),
        _("with cues, % of each practice session: {cued}").format(cued=cued),
    ]
