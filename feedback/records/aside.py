"""Sessions past their time are set aside for a week before they are erased by themselves.

All files of a session then lie in a folder of their own, out of reports and lists, and can be
brought back whole. What a person erases is gone at once and does not come here.
"""

from __future__ import annotations

import contextlib
import shutil
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Annotated, Final

import msgspec
from msgspec import Meta

from feedback.storage.folders import make_private, save_json
from feedback.storage.settings import data_folder
from shared.identity import Named, id_of
from shared.language import _
from shared.problems import Problem, UserError, describe, file_error
from shared.reading import read_json

FOLDER: Final = "set_aside"
NOTE: Final = "aside.json"
GRACE: Final = timedelta(days=7)


class AsideNote(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What lies beside the files of one session."""

    format: Annotated[int, Meta(ge=1, le=1)] = 1
    uid: str
    code_name: str
    athlete_id: str = ""
    """Empty in what older versions set aside."""
    started_utc: str
    since_utc: str
    """When it was set aside, by this computer's clock."""
    files: dict[str, str]
    """Where each file came from, by its name here: a path below the data folder."""


@dataclass(frozen=True)
class Aside:
    """One session that was set aside."""

    folder: Path
    note: AsideNote

    @property
    def since(self) -> datetime:
        """When it was set aside."""
        return _utc(self.note.since_utc)

    @property
    def started(self) -> datetime:
        """When the session began."""
        return _utc(self.note.started_utc)

    @property
    def files(self) -> tuple[Path, ...]:
        """All that lies here of it; the note last, since it says whose they are."""
        found = sorted(path for path in self.folder.iterdir() if path.name != NOTE)
        return (*found, self.folder / NOTE)


def set_aside(
    stem: str, paths: Sequence[Path], *, whose: Named, uid: str, started_utc: str, now: datetime
) -> Aside:
    """Move the files of one session out of the way; the last of ``paths`` goes last.

    May be broken off and begun again. Raises UserError ``save_failed``.
    """
    top = data_folder()
    folder = top / FOLDER / stem
    make_private(folder.parent)
    make_private(folder)
    note = AsideNote(
        uid=uid,
        code_name=whose.code_name,
        athlete_id=id_of(whose),
        started_utc=started_utc,
        since_utc=now.astimezone(UTC).isoformat(timespec="seconds"),
        files={path.name: path.relative_to(top).as_posix() for path in paths},
    )
    with contextlib.suppress(UserError):  # begun before: what lies here already came from there
        earlier = read_json(folder / NOTE, AsideNote, _("a note on what was set aside"))
        note = msgspec.structs.replace(note, files={**earlier.files, **note.files})
    save_json(folder / NOTE, note)
    for path in paths:
        _move(path, folder / path.name)
    return Aside(folder, note)


def all_aside() -> tuple[tuple[Aside, ...], tuple[Problem, ...]]:
    """All that is set aside, the oldest session first, and what stands in the way of the rest."""
    found: list[tuple[tuple[datetime, datetime], Aside]] = []
    problems: list[Problem] = []
    top = data_folder() / FOLDER
    for folder in sorted(top.iterdir()) if top.is_dir() else ():
        try:
            note = read_json(folder / NOTE, AsideNote, _("a note on what was set aside"))
            moments = Aside(folder, note).started, Aside(folder, note).since
        except UserError as error:
            problems.append(error.problem)
        except ValueError:
            why = _("its time cannot be read")
            problems.append(describe("file_unreadable", path=str(folder), why=why))
        else:
            found.append((moments, Aside(folder, note)))
    in_order = sorted(found, key=lambda one: one[0])
    return tuple(one for _, one in in_order), tuple(problems)


def aside_of(athlete_id: str) -> tuple[Aside, ...]:
    """What is set aside of one athlete."""
    return tuple(one for one in all_aside()[0] if id_of(one.note) == athlete_id)


def bring_back(one: Aside) -> int:
    """Put all files where they were; returns how many. Raises UserError ``save_failed``."""
    top = data_folder()
    count = 0
    for name, place in one.note.files.items():
        here, there = one.folder / name, (top / place).resolve()
        if not here.exists():
            continue
        if there.exists() or not there.is_relative_to(top.resolve()):
            why = _("something else lies there now")
            raise UserError("save_failed", path=str(there), why=why)
        make_private(there.parent)
        _move(here, there)
        count += 1
    forget(one)
    return count


def forget(one: Aside) -> int:
    """Delete all that still lies here; returns how many files of the session these were."""
    files = one.files
    for path in files:
        try:
            path.unlink(missing_ok=True)
        except OSError as error:
            raise file_error("save_failed", path, error) from error
    with contextlib.suppress(OSError):
        one.folder.rmdir()
        one.folder.parent.rmdir()
    return len(files) - 1


def _move(path: Path, target: Path) -> None:
    try:
        shutil.move(path, target)
    except FileNotFoundError:
        return  # moved before it was broken off, or gone meanwhile
    except OSError as error:
        raise file_error("save_failed", path, error) from error


def _utc(text: str) -> datetime:
    moment = datetime.fromisoformat(text)
    return moment if moment.tzinfo is not None else moment.replace(tzinfo=UTC)
