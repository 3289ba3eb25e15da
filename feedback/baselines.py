"""Keeps baselines in the user's own data, and finds the newest one that fits."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Final

from feedback.baseline import Baseline
from feedback.shelf import Shelf, make_private, own_folder, save_json
from shared.problems import Problem, UserError
from shared.reading import read_json
from shared.records import View
from shared.targets import Athlete

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


def known_baseline(athlete: Athlete, view: View) -> Baseline | None:
    """The newest baseline that fits the athlete as set; None where none can be had."""
    if athlete.belt_speed_kmh is None:
        return None
    try:
        return newest_baseline(athlete.code_name, view, athlete.belt_speed_kmh)
    except UserError:
        return None  # it is only shown beside the live values; nothing hangs on it


def newest_baseline(
    code_name: str,
    view: View,
    belt_speed_kmh: float,
    on_broken: Callable[[Problem], None] = lambda _: None,
) -> Baseline:
    """The newest baseline of that runner, view and speed. Raises UserError ``baseline_missing``.

    ``on_broken`` is told of files that may be one, and cannot be read.
    """
    folder = own_folder(Shelf.BASELINES)
    found = sorted(folder.glob(f"{plain(code_name)}-{view}-*.json")) if folder.is_dir() else []
    fitting = []
    for path in found:
        try:
            baseline = read_baseline(path)
        except UserError as error:
            on_broken(error.problem)
            continue
        near = abs(baseline.belt_speed_kmh - belt_speed_kmh) <= SPEED_WITHIN_KMH
        if baseline.code_name == code_name and near:
            fitting.append(baseline)
    if not fitting:
        speed = f"{belt_speed_kmh:g}"
        raise UserError("baseline_missing", name=code_name, view=view.value, speed=speed)
    return max(fitting, key=lambda baseline: baseline.taken_utc)
