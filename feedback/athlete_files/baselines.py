"""Keeps baselines in the user's own data, and finds the newest one that fits."""

from __future__ import annotations

import re
import secrets
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Final

from feedback.storage.folders import DataFolder, make_private, own_folder, save_json
from shared.flow import View
from shared.identity import Named, id_in, id_of, in_file_name, plain
from shared.language import told
from shared.own_values import Baseline
from shared.problems import Problem, UserError
from shared.reading import read_json
from shared.targets import Athlete, Prescription

SPEED_WITHIN_KMH: Final = 0.15
"""Belts show tenths; a target holds for the speed at which the baseline was taken."""


def save_baseline(baseline: Baseline, folder: Path | None = None) -> Path:
    """Save it, readable by its owner only. Raises UserError ``save_failed``."""
    stamp = re.sub(r"[^0-9T]", "", baseline.taken_utc[:19])
    speed = f"{baseline.belt_speed_kmh:g}".replace(".", "p")
    # The digits at the end: two may be taken in the same second.
    ending = f"{baseline.view}-{speed}kmh-{stamp}-{secrets.token_hex(4)}.json"
    if folder is None:
        folder = own_folder(DataFolder.BASELINES)
    path = folder / f"{in_file_name(baseline)}-{ending}"
    make_private(folder)
    save_json(path, baseline)
    return path


def read_baseline(path: Path) -> Baseline:
    """Read one baseline. Raises UserError ``file_missing`` or ``file_unreadable``."""
    return read_json(path, Baseline, "a baseline")


def known_baseline(
    athlete: Athlete, view: View, prescription: Prescription | None = None
) -> Baseline | None:
    """The newest baseline that fits the athlete as set, or the one behind the prescription.

    None where it cannot be had: it is only compared with, and nothing else hangs on it.
    """
    if athlete.belt_speed_kmh is None:
        return None
    taken_utc = "" if prescription is None else prescription.baseline_utc
    return baseline_for(athlete, view, athlete.belt_speed_kmh, taken_utc)


def baseline_for(
    whose: Named, view: View, belt_speed_kmh: float, taken_utc: str = "", before_utc: str = ""
) -> Baseline | None:
    """The baseline that was taken then; where that is empty the newest one before a moment.

    None where it is not on this computer, or cannot be read.
    """
    fitting, _ = _fitting(whose, view, belt_speed_kmh)
    if taken_utc:
        fitting = [one for one in fitting if one.taken_utc == taken_utc]
    elif before_utc:
        before = datetime.fromisoformat(before_utc)
        fitting = [one for one in fitting if datetime.fromisoformat(one.taken_utc) <= before]
    return max(fitting, key=lambda baseline: baseline.taken_utc, default=None)


def newest_baseline(
    athlete: Athlete,
    view: View,
    belt_speed_kmh: float,
    asked: str = "",
    on_broken: Callable[[Problem], None] = lambda _: None,
) -> Baseline:
    """The newest baseline of that runner, view and speed.

    ``asked``: how the athlete was asked for, where the command line is to be told. ``on_broken``
    is told of files that may be one, and cannot be read. Raises UserError ``baseline_missing``,
    or ``file_unreadable`` where one that may be the runner's is broken and no other fits.
    """
    fitting, broken = _fitting(athlete, view, belt_speed_kmh)
    for error in broken if fitting else broken[1:]:
        on_broken(error.problem)
    if not fitting and broken:
        raise broken[0]
    if not fitting:
        other = "" if view is athlete.view else f" --view {view}"
        other += other_speed(athlete, belt_speed_kmh)
        raise UserError(
            "baseline_missing",
            name=athlete.code_name,
            view=view.value,
            speed=f"{belt_speed_kmh:g}",
            # The command stands last and unquoted: a name may need quotes of its own.
            do=told(
                "Take one first: beltside baseline --athlete {value}{other} --camera 0",
                value=asked or "NAME",
                other=other,
            ),
        )
    return max(fitting, key=lambda baseline: baseline.taken_utc)


def other_speed(athlete: Athlete, belt_speed_kmh: float) -> str:
    """What is to be typed for another belt speed than the profile's; empty for that."""
    return "" if belt_speed_kmh == athlete.belt_speed_kmh else f" --belt-kmh {belt_speed_kmh:g}"


def _fitting(
    whose: Named, view: View, belt_speed_kmh: float
) -> tuple[list[Baseline], list[UserError]]:
    """All of that runner, view and speed; and what is the matter with those that may be."""
    folder = own_folder(DataFolder.BASELINES)
    found, broken = [], []
    for path in sorted(folder.glob("*.json")) if folder.is_dir() else []:
        in_name = id_in(path.name)
        if in_name and in_name != id_of(whose):
            continue
        try:
            baseline = read_baseline(path)
        except UserError as error:
            if in_name or path.name.startswith(f"{plain(whose.code_name)}-"):
                broken.append(error)
            continue
        if id_of(baseline) == id_of(whose):
            found.append(baseline)
    fitting = [
        one
        for one in found
        if one.view is view and abs(one.belt_speed_kmh - belt_speed_kmh) <= SPEED_WITHIN_KMH
    ]
    return fitting, broken
