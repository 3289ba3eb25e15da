"""Finds and reads athletes' profiles, and checks every field against the catalogue."""

from __future__ import annotations

import importlib.resources
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import msgspec
import platformdirs

from feedback.athlete_files.common_checks import check_edges, check_measure, check_sounds
from feedback.safety.rules import too_much
from feedback.storage.toml_fields import did_you_mean, field_error, read_fields
from shared.catalogue import CADENCE, CATALOGUE, WITHDRAWN
from shared.flow import View
from shared.language import _
from shared.measure_spec import MeasureSpec
from shared.plain_text import fault_in
from shared.problems import UserError
from shared.reading import read_toml_and_text
from shared.targets import Athlete, CueStyle, Target

SUFFIX: Final = ".toml"


@dataclass(frozen=True, slots=True)
class Profile:
    """One athlete's file."""

    name: str
    """Name of the file without its ending: what is typed on the command line."""
    path: Path
    text: str
    """The file as it was read, for the session's record."""
    athlete: Athlete
    left_out: tuple[str, ...] = ()
    """Why targets of the file are not among the athlete's, a sentence or more each."""


def bundled_folder() -> Path:
    """The folder of the athletes that come with the program."""
    # The packages are installed as plain files (wheel or checkout), never inside an archive.
    return Path(str(importlib.resources.files("profiles"))) / "athletes"


def own_folder() -> Path:
    """The folder where users keep their own athletes; it may not exist."""
    return Path(platformdirs.user_data_dir("beltside", appauthor=False)) / "athletes"


def read_profile(path: Path) -> Profile:
    """Read and check one athlete's file.

    Raises UserError: ``file_missing``, ``file_unreadable``, ``toml_broken`` or ``field_wrong``,
    which names the file, the field, its value and what is allowed.
    """
    table, text = read_toml_and_text(path)
    athlete, left_out = _without_withdrawn(read_fields(path, table, Athlete))
    check_athlete(athlete, path)
    return Profile(name=path.stem, path=path, text=text, athlete=athlete, left_out=left_out)


def bundled_athletes() -> tuple[Profile, ...]:
    """The athletes that come with the program, by name."""
    return tuple(read_profile(path) for path in _files(bundled_folder()))


def own_athletes() -> tuple[Path, ...]:
    """The files in the user's own folder, by name; unread, for they may be broken."""
    return _files(own_folder())


def find_athlete(name_or_path: str | Path) -> Profile:
    """The profile of that name (bundled first, then the user's own), or at that path.

    Raises UserError ``athlete_missing`` for an unknown name, else as :func:`read_profile`.
    """
    asked = Path(name_or_path)
    if asked.suffix == SUFFIX or len(asked.parts) != 1:
        return read_profile(asked.expanduser())
    known = {path.stem: path for path in (*own_athletes(), *_files(bundled_folder()))}
    found = known.get(str(name_or_path)) or known.get(str(name_or_path).lower())
    if found is None:
        near = did_you_mean(str(name_or_path), known) or "."
        raise UserError(
            "athlete_missing", name=name_or_path, near=near, known=", ".join(sorted(known))
        )
    return read_profile(found)


def check_athlete(
    athlete: Athlete, path: Path, view: View | None = None, *, to_be_cued: bool = False
) -> None:
    """Check what the types cannot say, for the athlete's own view or for another one.

    ``to_be_cued``: a session is held with the profile's own targets, so that there must be some.
    Raises UserError ``field_wrong``.
    """
    if why := fault_in(athlete.code_name):
        raise field_error(path, "code_name", athlete.code_name, why, _("letters and digits"))
    if to_be_cued and not athlete.targets:
        raise field_error(
            path,
            "targets",
            "missing",
            _("nothing would be cued"),
            _("at least one [[targets]] table"),
        )
    seen: set[tuple[str, str | None]] = set()
    for number, target in enumerate(athlete.targets):
        check = _TargetCheck(path, f"targets[{number}]", target)
        check.run(view or athlete.view)
        beyond = too_much(target, athlete.limits, athlete.baseline_cadence_spm)
        if beyond is not None:
            raise check.error(beyond.field, beyond.value, beyond.why, beyond.allowed)
        key = (target.measure, target.side)
        if key in seen:
            raise check.error("measure", target.measure, "it is set twice", "each only once")
        seen.add(key)


def _without_withdrawn(athlete: Athlete) -> tuple[Athlete, tuple[str, ...]]:
    """The athlete without targets on measures that were given once, and a line about each measure.

    Where no other target would remain the file is left as it is, to be refused.
    """
    kept = tuple(target for target in athlete.targets if target.measure not in WITHDRAWN)
    gone = dict.fromkeys(t.measure for t in athlete.targets if t.measure in WITHDRAWN)
    if not kept or not gone:
        return athlete, ()
    lines = tuple(
        _("Targets for {name} are skipped: it is no longer offered. {not_offered}").format(
            name=name, not_offered=CATALOGUE[name].not_offered
        )
        for name in gone
    )
    return msgspec.structs.replace(athlete, targets=kept), lines


def _files(folder: Path) -> tuple[Path, ...]:
    return tuple(sorted(folder.glob(f"*{SUFFIX}"))) if folder.is_dir() else ()


class _TargetCheck:
    """Checks one target against the catalogue; every method raises ``field_wrong``."""

    def __init__(self, path: Path, place: str, target: Target) -> None:
        self._path = path
        self._place = place
        self._target = target

    def error(self, field: str, value: object, why: str, allowed: str) -> UserError:
        return field_error(self._path, f"{self._place}.{field}", value, why, allowed)

    def run(self, view: View) -> None:
        spec = check_measure(self._target, view, self.error)
        self._check_band(spec)
        self._check_hysteresis()
        check_sounds(self._target, self.error)
        self._check_beat()

    def _check_band(self, spec: MeasureSpec) -> None:
        low, high = self._target.low, self._target.high
        if low is None and high is None:
            raise self.error("low", "missing", "a band needs an edge", "low, high or both")
        check_edges(self._target, self.error)
        if self._target.unit != spec.units[0]:
            return
        least, most = spec.plausible
        for field, value in (("low", low), ("high", high)):
            if value is not None and not least <= value <= most:
                why = _("no runner has such a value of {name} ({value})").format(
                    name=spec.name, value=spec.definition.rstrip(".")
                )
                allowed = f"{least:g} to {most:g} {spec.units[0]}"
                raise self.error(field, value, why, allowed)

    def _check_hysteresis(self) -> None:
        target = self._target
        if target.low is None or target.high is None:
            return
        half = (target.high - target.low) / 2
        if target.hysteresis >= half:
            why = _("the value could never count as back on target")
            allowed = _("0 or more, and under half the band ({half:g})").format(half=half)
            raise self.error("hysteresis", target.hysteresis, why, allowed)

    def _check_beat(self) -> None:
        target = self._target
        asked = CueStyle.BEAT in target.cues
        beat = target.beat_spm
        if beat is None:
            if asked:
                why = _('cues names "beat", which needs a tempo')
                raise self.error("beat_spm", "missing", why, "a number from 120 to 220")
            return
        if target.measure != CADENCE:
            why = _("{measure} has no beat").format(measure=target.measure)
            raise self.error("beat_spm", beat, why, f'only with measure = "{CADENCE}"')
        low, high = target.low, target.high
        if (low is not None and beat < low) or (high is not None and beat > high):
            edges = (("" if edge is None else f"{edge:g}") for edge in (low, high))
            why = _("it lies outside the target's own band")
            raise self.error("beat_spm", beat, why, " to ".join(edges).strip())
        if not asked:
            why = _('beat_spm is set, but "beat" is not among the cues')
            raise self.error("cues", list(target.cues), why, 'add "beat", or leave beat_spm out')
