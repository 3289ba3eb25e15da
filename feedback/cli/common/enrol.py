"""Gives every athlete an id of its own, written into the profile beside what stands there."""

from __future__ import annotations

import contextlib
import re
import tomllib
import uuid
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import msgspec

from feedback.athlete_files.athletes import Profile, bundled_folder, find_athlete, read_profile
from feedback.athlete_files.known_athletes import Bearer, bearer, bearers, saw, seen_profiles
from feedback.records.owners import keeps_anything_of
from feedback.storage.locking import turn
from feedback.storage.settings import data_folder
from shared.files import save_atomically
from shared.identity import derived_id, id_of
from shared.language import _
from shared.problems import Problem, UserError, describe, reason_of

FIELD = "athlete_id"
_LINE = rb'^[ \t]*athlete_id[ \t]*=[ \t]*["\'](?P<id>%s)["\']'
_BEGIN = re.compile(rb"(?:\xef\xbb\xbf)?(?:[ \t]*(?:#[^\r\n]*)?\r?\n)*")
"""Byte order mark, comments and empty lines at the beginning of a file."""


@dataclass(frozen=True, slots=True)
class Enrolled:
    """A profile whose athlete has an id, and what is to be said of how it came by it."""

    profile: Profile
    notes: tuple[Problem, ...] = ()


def enrolled(asked: str | Path) -> Enrolled:
    """The profile of that name or path; an id that is missing is written into it first.

    Raises UserError: as :func:`feedback.athlete_files.athletes.find_athlete`, and
    ``athlete_id_twice`` where the file of somebody else bears the same id.
    """
    found = find_athlete(asked)
    if found.path.parent == bundled_folder():
        return Enrolled(found)
    with turn(data_folder()):
        # Once more: another program may have written it while this one waited.
        return _enrolled(read_profile(found.path))


def _enrolled(profile: Profile) -> Enrolled:
    name, path, old = profile.athlete.code_name, profile.path, profile.athlete.athlete_id
    others = _others(path)
    same = [one for one in others if old and one.athlete_id == old and one.code_name != name]
    if old and not same:
        saw(path, old)
        return Enrolled(profile)
    bundled = bundled_folder().resolve()
    if any(one.path.resolve().parent != bundled for one in same):
        listed = ", ".join(f"{one.path} ({one.code_name})" for one in same)
        raise UserError("athlete_id_twice", path=str(path), other=listed, field=FIELD)
    namesakes = tuple(one for one in others if one.code_name == name)
    new, notes = _new_id(name, namesakes, path)
    why = _write(path, old, new)
    if why and not same:
        return _derived(profile, namesakes, why)
    if why:  # not told apart from the one it was copied from, it must not be used
        raise UserError("save_failed", path=str(path), why=why)
    done = read_profile(path)
    saw(path, new)
    given = "athlete_id_copied" if same else "athlete_id_given"
    return Enrolled(done, (describe(given, path=str(path), name=name, id=new), *notes))


def _derived(profile: Profile, namesakes: tuple[Bearer, ...], why: str) -> Enrolled:
    """With the id that stands for the name: the same at every station that reads this profile."""
    name, path = profile.athlete.code_name, profile.path
    derived = derived_id(name)
    same = [str(one.path) for one in namesakes if id_of(one) == derived]
    if same:
        raise UserError(
            "athlete_id_missing",
            path=str(path),
            field=FIELD,
            why=why,
            other=", ".join(same),
            new=f'"{uuid.uuid4()}"',
        )
    athlete = msgspec.structs.replace(profile.athlete, athlete_id=derived)
    told = describe("athlete_id_derived", path=str(path), name=name, why=why, id=derived)
    with contextlib.suppress(UserError):  # it is only remembered, to tell namesakes apart
        saw(path, derived)
    return Enrolled(Profile(profile.name, path, profile.text, athlete), (told,))


def _others(path: Path) -> tuple[Bearer, ...]:
    """Everybody else with a profile here, and beside this one: that is where copies lie."""
    known = {one.path.resolve(): one for one in bearers()}
    for beside in path.resolve().parent.glob("*.toml"):
        if beside not in known and (one := bearer(beside)) is not None:
            known[beside] = one
    known.pop(path.resolve(), None)
    return tuple(known.values())


def _new_id(
    name: str, namesakes: tuple[Bearer, ...], path: Path
) -> tuple[str, tuple[Problem, ...]]:
    """A new id; where records from before there were ids are this athlete's alone, theirs."""
    old = derived_id(name)
    kept_before = keeps_anything_of(old)
    taken = any(id_of(one) == old for one in namesakes) or any(
        one.athlete_id == old and one.path != str(path.resolve()) for one in seen_profiles()
    )
    if kept_before and not namesakes and not taken:
        return old, ()
    new = str(uuid.uuid4())
    if not namesakes:
        return new, ()
    listed = ", ".join(str(one.path) for one in namesakes)
    code = "athlete_name_mixed" if kept_before else "athlete_name_twice"
    return new, (describe(code, name=name, path=str(path), other=listed, old=old, field=FIELD),)


def _write(path: Path, old: str, new: str) -> str:
    """Write the id into a profile; all else stays as it is. Why it cannot be done, else empty."""
    path = path.resolve()  # of a link, what it leads to
    try:
        before, mode = path.read_bytes(), path.stat().st_mode & 0o777
    except OSError as error:
        return reason_of(error)
    if not mode & 0o222:
        return _("it is write-protected")
    table = _table(before) or {}
    after = _put_in(before, new) if FIELD not in table else _put_instead(before, old, new)
    if _table(after) != {**table, FIELD: new}:
        return _("the place for {field} was not found in it").format(field=FIELD)
    try:
        save_atomically(path, after, mode=mode)
    except UserError as error:
        return error.problem.title.rstrip(".")
    return ""


def _put_in(before: bytes, new: str) -> bytes:
    """A line more, after the comments at the beginning and before all fields and tables."""
    begin = _BEGIN.match(before)
    at = 0 if begin is None else begin.end()
    end = b"\r\n" if b"\r\n" in before else b"\n"
    said = b"# By this the program knows the athlete; a copy for somebody else must not hold it."
    written = said + end + FIELD.encode() + b' = "' + new.encode() + b'"' + end
    return before[:at] + written + before[at:]


def _put_instead(before: bytes, old: str, new: str) -> bytes:
    line = re.search(_LINE % re.escape(old.encode()), before, re.MULTILINE)
    if line is None:
        return before
    return before[: line.start("id")] + new.encode() + before[line.end("id") :]


def _table(content: bytes) -> dict[str, Any] | None:
    try:
        return tomllib.loads(content.decode("utf-8-sig"))
    except ValueError:
        return None
