"""Changes single fields of a profile and leaves all else of the file as somebody wrote it."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

import tomlkit
from tomlkit.exceptions import TOMLKitError

from feedback.athlete_files.athletes import check_athlete, own_folder
from feedback.storage.folders import make_private
from feedback.storage.toml_fields import read_fields
from shared.files import save_atomically
from shared.flow import View
from shared.identity import plain
from shared.problems import UserError, file_error, reason_of
from shared.targets import Athlete

Where = tuple[str | int, ...]
"""A field's place: ``("limits", "pain_stop_over")``, ``("targets", 0, "low")``."""
_ENCODINGS: Final = "utf-8-sig"


def read_text(path: Path) -> str:
    """A profile as it stands there now. Raises UserError ``file_missing``, ``file_unreadable``."""
    try:
        return path.read_bytes().decode(_ENCODINGS)  # each line keeps its own end
    except FileNotFoundError as error:
        raise UserError("file_missing", path=str(path)) from error
    except (OSError, UnicodeDecodeError) as error:
        if isinstance(error, OSError):
            raise file_error("file_unreadable", path, error) from error
        raise UserError("file_unreadable", path=str(path), why="it is not text") from error


def changed(text: str, path: Path, changes: Mapping[Where, Any]) -> str:
    """The text of a profile as :func:`put_in` makes it, once it is seen to be usable.

    Raises UserError, also for whatever is wrong with the profile that would come of it.
    """
    after = put_in(text, path, changes)
    check_text(after, path)
    return after


def put_in(text: str, path: Path, changes: Mapping[Where, Any]) -> str:
    """The text of a profile with some fields changed; None as a value takes a field out.

    Comments, the order of the fields and those that this version does not know stay as they are.
    Raises UserError ``toml_broken``.
    """
    try:
        document = tomlkit.parse(text)
    except TOMLKitError as error:
        raise UserError("toml_broken", path=str(path), why=str(error)) from error
    for where, value in changes.items():
        _change(document, where, value)
    return tomlkit.dumps(document)


def fields_in(text: str, path: Path) -> dict[str, Any]:
    """What stands in a profile, as plain values. Raises UserError ``toml_broken``."""
    try:
        return dict(tomlkit.parse(text).unwrap())
    except TOMLKitError as error:
        raise UserError("toml_broken", path=str(path), why=str(error)) from error


def check_text(text: str, path: Path) -> Athlete:
    """The athlete that a profile's text makes. Raises UserError as for a profile that is read."""
    athlete = read_fields(path, fields_in(text, path), Athlete)
    check_athlete(athlete, path)
    return athlete


def save_text(path: Path, text: str, before: str | None) -> None:
    """Save a profile; ``before``: as it was read, None for one that is new.

    Raises UserError ``save_failed``, ``profile_changed`` where somebody else has changed the file
    meanwhile, ``profile_exists`` where a new one would take another's place.
    """
    if before is None and path.exists():
        raise UserError("profile_exists", path=str(path))
    if before is not None and read_text(path) != before:
        raise UserError("profile_changed", path=str(path))
    mode = 0o600
    try:
        if path.exists():
            mode = path.stat().st_mode & 0o777
    except OSError as error:
        raise UserError("save_failed", path=str(path), why=reason_of(error)) from error
    save_atomically(path, text.encode(), mode=mode)


def new_profile(code_name: str, height_cm: float, belt_speed_kmh: float) -> tuple[Path, str]:
    """Where a new runner's profile is kept, and its text; nothing is saved yet.

    Raises UserError ``field_wrong``.
    """
    document = tomlkit.document()
    document.add("code_name", tomlkit.item(code_name))
    document.add("height_cm", tomlkit.item(round(height_cm, 1)))
    document.add("view", tomlkit.item(View.SIDE.value))
    document.add("belt_speed_kmh", tomlkit.item(round(belt_speed_kmh, 2)))
    text = tomlkit.dumps(document)
    path = _free_path(code_name)
    check_text(text, path)
    return path, text


def save_new(code_name: str, height_cm: float, belt_speed_kmh: float) -> Path:
    """Save a new runner's profile in the own folder. Raises UserError."""
    path, text = new_profile(code_name, height_cm, belt_speed_kmh)
    make_private(path.parent)
    save_text(path, text, None)
    return path


def _free_path(code_name: str) -> Path:
    """A file name made of the code name that no other profile has."""
    stem, number = plain(code_name), 1
    while True:
        path = own_folder() / (f"{stem}.toml" if number == 1 else f"{stem}-{number}.toml")
        if not path.exists():
            return path
        number += 1


def _change(document: Any, where: Where, value: Any) -> None:
    *before, last = where
    table = document
    for part in before:
        if isinstance(part, str) and part not in table:
            if value is None:
                return
            table[part] = tomlkit.aot() if part == "targets" else tomlkit.table()
        table = table[part]
    if value is None:
        if isinstance(last, int) or last in table:
            del table[last]
    elif isinstance(last, int) and last == len(table):
        table.append(_item(value))
    elif isinstance(last, str) and last in table:
        old = table[last]
        new = _item(value)
        if hasattr(old, "trivia") and hasattr(new, "trivia"):
            new.trivia.comment_ws, new.trivia.comment = old.trivia.comment_ws, old.trivia.comment
        table[last] = new
    else:
        _add(table, last, value)


def _add(table: Any, name: str | int, value: Any) -> None:
    """A field that is new: before the tables, where TOML wants the fields of the file itself."""
    if isinstance(table, tomlkit.TOMLDocument) and not isinstance(value, dict | list):
        at = next(
            (
                number
                for number, (key, item) in enumerate(table.body)
                if key is not None and isinstance(item, tomlkit.items.Table | tomlkit.items.AoT)
            ),
            len(table.body),
        )
        after = [key.key for key, _ in table.body[:at] if key is not None]
        if after:
            table._insert_after(after[-1], str(name), _item(value))
            return
    table[name] = _item(value)


def _item(value: Any) -> Any:
    if isinstance(value, str) and "\n" in value:
        return tomlkit.string(value, multiline=True)
    if not isinstance(value, dict):
        return tomlkit.item(value)
    made = tomlkit.table()
    for name, one in value.items():
        made[name] = one
    return made
