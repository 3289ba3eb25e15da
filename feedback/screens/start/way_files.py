"""Reads where one runner is: profile, baseline, prescription, plan's log, camera and its place."""

from __future__ import annotations

import contextlib
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

from feedback.athlete_files.athletes import read_profile
from feedback.athlete_files.baselines import newest_baseline
from feedback.athlete_files.drills import read_drill, read_plan
from feedback.athlete_files.next_step import next_step, read_kept
from feedback.athlete_files.plan_log import read_log
from feedback.athlete_files.prescriptions import read_prescription
from feedback.screens.start.way import Way, way_of
from feedback.storage.camera_names import camera_names
from feedback.storage.cameras import CameraChoice, found_again, remembered_camera
from feedback.storage.folders import DataFolder, bundled_folder, files, own_folder
from feedback.storage.place_files import place_path
from shared.flow import View
from shared.identity import id_of
from shared.own_values import Baseline
from shared.problems import UserError
from shared.targets import Athlete, Drill, Plan, Prescription

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class WayFound:
    """All that the page of the way shows."""

    athlete: Athlete
    way: Way
    view: View
    camera: CameraChoice | None
    prescription: Prescription | None
    baseline: Baseline | None
    """The newest one for the profile's view and belt speed."""


def read_way(profile: Path, now_unix_s: int) -> WayFound:
    """Where the runner of that profile is. Raises UserError for a profile that cannot be used."""
    athlete = read_profile(profile).athlete
    step = next_step(athlete, read_kept(), now_unix_s)
    prescription: Prescription | None = None
    sessions = 0
    if step.prescription is not None:
        prescription = read_prescription(step.prescription)
        sessions = len(read_log(prescription).done)
    view = athlete.view if prescription is None else prescription.view
    camera = remembered_camera(id_of(athlete), view)
    camera = None if camera is None else found_again(camera, camera_names())
    checked = camera is not None and place_path(camera.described, view).exists()
    baseline: Baseline | None = None
    if athlete.belt_speed_kmh is not None:
        with contextlib.suppress(UserError):
            baseline = newest_baseline(athlete, athlete.view, athlete.belt_speed_kmh)
    way = way_of(step, camera_known=camera is not None, camera_checked=checked, sessions=sessions)
    return WayFound(athlete, way, view, camera, prescription, baseline)


def read_drills() -> tuple[tuple[Path, Drill], ...]:
    """The user's own drills and the bundled ones; those that cannot be read are left out."""
    return _all(DataFolder.DRILLS, read_drill)


def read_plans() -> tuple[tuple[Path, Plan], ...]:
    """The same of plans."""
    return _all(DataFolder.PLANS, read_plan)


def _all(shelf: DataFolder, read: Callable[[Path], T]) -> tuple[tuple[Path, T], ...]:
    found: list[tuple[Path, T]] = []
    for path in (*files(own_folder(shelf)), *files(bundled_folder(shelf))):
        with contextlib.suppress(UserError):
            found.append((path, read(path)))
    return tuple(found)
