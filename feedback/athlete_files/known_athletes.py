"""Which athletes are known here by their profiles, wherever those lie."""

from __future__ import annotations

import contextlib
from pathlib import Path
from typing import Any, Final

import msgspec

from feedback.athlete_files.athletes import bundled_folder, own_athletes, own_folder
from feedback.storage.folders import save_json
from feedback.storage.settings import data_folder
from shared.identity import AthleteId
from shared.language import _
from shared.problems import UserError
from shared.reading import read_json, read_toml

FILE: Final = "profiles.json"


class ProfilePath(msgspec.Struct, frozen=True, kw_only=True):
    """Whose profile lies at a path outside the own folder."""

    athlete_id: AthleteId
    path: str


class SeenProfiles(msgspec.Struct, frozen=True, kw_only=True):
    """The whole file: profiles that were given by their path."""

    format: int = 1
    profiles: tuple[ProfilePath, ...] = ()


class Bearer(msgspec.Struct, frozen=True, kw_only=True):
    """Who bears a name, by a profile that lies somewhere."""

    path: Path
    code_name: str
    athlete_id: AthleteId
    """Empty where none is written in it yet."""


def bearers() -> tuple[Bearer, ...]:
    """Everybody with a profile here that can be read; the file of each only once."""
    places = [*own_athletes(), *sorted(bundled_folder().glob("*.toml"))]
    places += [Path(one.path) for one in seen_profiles()]
    found = {path.resolve(): one for path in places if (one := bearer(path)) is not None}
    return tuple(found.values())


def bearer(path: Path) -> Bearer | None:
    """Who it says that it is of; None where it does not say so."""
    with contextlib.suppress(UserError, msgspec.ValidationError):
        table = read_toml(path) if path.is_file() else {}
        if isinstance(table.get("code_name"), str) and _is_profile(table):
            return _bearer(path, table)
    return None


def _is_profile(table: dict[str, Any]) -> bool:
    """Rather than a prescription, which says its runner's name and height too."""
    return "height_cm" in table and "goals" not in table


def _bearer(path: Path, table: dict[str, Any]) -> Bearer:
    said = {"code_name": table["code_name"], "athlete_id": table.get("athlete_id", "")}
    return msgspec.convert({"path": path, **said}, Bearer)


def seen_profiles() -> tuple[ProfilePath, ...]:
    """Profiles outside the own folder that were used here."""
    path = data_folder() / FILE
    try:
        return read_json(path, SeenProfiles, _("the list of profiles")).profiles
    except UserError:
        return ()  # it only helps to find them: what counts stands in the profiles


def saw(path: Path, athlete_id: str) -> None:
    """Put a profile on the list that lies outside the own folder. Raises ``save_failed``."""
    path = path.resolve()
    if path.parent in (own_folder().resolve(), bundled_folder().resolve()):
        return
    new = ProfilePath(athlete_id=athlete_id, path=str(path))
    kept = seen_profiles()
    if new not in kept:
        _keep((*(one for one in kept if one.path != new.path), new))


def forget_seen(athlete_id: str) -> None:
    """Take an athlete's profiles off that list; the files stay. Raises UserError."""
    kept = seen_profiles()
    left = tuple(one for one in kept if one.athlete_id != athlete_id)
    if left != kept:
        _keep(left)


def _keep(profiles: tuple[ProfilePath, ...]) -> None:
    save_json(data_folder() / FILE, SeenProfiles(profiles=profiles))
