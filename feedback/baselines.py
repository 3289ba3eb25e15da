"""Keeps baselines in the user's own data, and finds the newest one that fits."""

from __future__ import annotations

import re
from datetime import datetime
from pathlib import Path
from typing import Final

from feedback.baseline import Baseline
from feedback.shelf import Shelf, make_private, own_folder, read_json, save_json
from shared.problems import UserError
from shared.records import View
from shared.targets import Athlete, Prescription

SPEED_WITHIN_KMH: Final = 0.15
"""Belts show tenths; a target holds for the speed at which the baseline was taken."""


def plain(code_name: str) -> str:
    """A code name as it stands in file names."""
    return re.sub(r"[^a-z0-9]+", "-", code_name.lower()).strip("-") or "runner"


def save_baseline(baseline: Baseline) -> Path:
    """Save it, readable by its owner only. Raises UserError ``save_failed``."""
    stamp = re.sub(r"[^0-9T]", "", baseline.taken_utc[:19])
    speed = f"{baseline.belt_speed_kmh:g}".replace(".", "p")
    name = f"{plain(baseline.code_name)}-{baseline.view}-{speed}kmh-{stamp}.json"
    folder = own_folder(Shelf.BASELINES)
    make_private(folder)
    save_json(folder / name, baseline)
    return folder / name


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
    return baseline_for(athlete.code_name, view, athlete.belt_speed_kmh, taken_utc)


def baseline_for(
    code_name: str, view: View, belt_speed_kmh: float, taken_utc: str = "", before_utc: str = ""
) -> Baseline | None:
    """The baseline that was taken then; where that is empty the newest one before a moment.

    None where it is not on this computer, or cannot be read.
    """
    try:
        fitting = _fitting(code_name, view, belt_speed_kmh)
    except UserError:
        return None
    if taken_utc:
        fitting = [one for one in fitting if one.taken_utc == taken_utc]
    elif before_utc:
        before = datetime.fromisoformat(before_utc)
        fitting = [one for one in fitting if datetime.fromisoformat(one.taken_utc) <= before]
    return max(fitting, key=lambda baseline: baseline.taken_utc, default=None)


def newest_baseline(code_name: str, view: View, belt_speed_kmh: float) -> Baseline:
    """The newest baseline of that runner, view and speed. Raises UserError ``baseline_missing``."""
    fitting = _fitting(code_name, view, belt_speed_kmh)
    if not fitting:
        speed = f"{belt_speed_kmh:g}"
        raise UserError("baseline_missing", name=code_name, view=view.value, speed=speed)
    return max(fitting, key=lambda baseline: baseline.taken_utc)


def _fitting(code_name: str, view: View, belt_speed_kmh: float) -> list[Baseline]:
    folder = own_folder(Shelf.BASELINES)
    found = sorted(folder.glob(f"{plain(code_name)}-{view}-*.json")) if folder.is_dir() else []
    return [
        baseline
        for baseline in map(read_baseline, found)
        if baseline.code_name == code_name
        and abs(baseline.belt_speed_kmh - belt_speed_kmh) <= SPEED_WITHIN_KMH
    ]
