"""Reads who has a profile here, and what is next for each."""

from __future__ import annotations

from pathlib import Path

from feedback.athlete_files.athletes import bundled_athletes, own_athletes, read_profile
from feedback.athlete_files.known_athletes import seen_profiles
from feedback.athlete_files.next_step import Kept, next_step, read_kept
from feedback.screens.start.people import PersonRow
from feedback.texts.training import reasons_in_words
from shared.identity import id_of
from shared.language import _
from shared.problems import UserError
from shared.targets import Athlete


def read_rows(now_unix_s: int) -> tuple[PersonRow, ...]:
    """Everybody with a profile: own files, those used from elsewhere, and the made-up ones."""
    kept = read_kept()
    rows = [_own(path, kept, now_unix_s) for path in _paths()]
    rows += [
        _row(one.path, one.athlete, kept, now_unix_s, example=True) for one in bundled_athletes()
    ]
    return tuple(rows)


def _paths() -> list[Path]:
    own = [path.resolve() for path in own_athletes()]
    seen = [Path(one.path) for one in seen_profiles()]
    return list(dict.fromkeys([*own, *(path.resolve() for path in seen if path.is_file())]))


def _own(path: Path, kept: Kept, now_unix_s: int) -> PersonRow:
    try:
        return _row(path, read_profile(path).athlete, kept, now_unix_s)
    except UserError as error:
        why = f"{error.problem.title} {error.problem.action}"
        return PersonRow(
            path.stem, "", path, next_words=_("Profile to be corrected"), why=why, broken=True
        )


def _row(
    path: Path, athlete: Athlete, kept: Kept, now_unix_s: int, *, example: bool = False
) -> PersonRow:
    step = next_step(athlete, kept, now_unix_s)
    return PersonRow(
        athlete.code_name,
        id_of(athlete),
        path,
        next_words=step.words(),
        why=reasons_in_words(step.reasons) if step.reasons else "",
        example=example,
    )
