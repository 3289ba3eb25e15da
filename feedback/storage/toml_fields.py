"""Turns a table read from a TOML file into a typed value, and every mistake into plain words."""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Iterable, Iterator
from enum import Enum
from pathlib import Path
from typing import Any, Final, TypeVar

import msgspec
from msgspec import inspect

from shared.plain_text import fault_in
from shared.problems import UserError
from shared.targets import Athlete, Drill, Plan, Prescription

T = TypeVar("T", bound=msgspec.Struct)

_PLACE: Final = re.compile(r" - at `\$\.?(?P<place>[^`]*)`$")
_UNKNOWN: Final = re.compile(r"Object contains unknown field `(?P<name>.*)`$", re.DOTALL)
_MISSING: Final = re.compile(r"Object missing required field `(?P<name>.*)`$", re.DOTALL)
_PART: Final = re.compile(r"[^.\[\]]+")
_KINDS: Final[dict[type[msgspec.Struct], tuple[str, str]]] = {
    Athlete: ("an athlete's profile", "'beltside athletes' lists the profiles there are."),
    Drill: ("a drill", "'beltside drills' lists the drills there are."),
    Plan: ("a plan", "'beltside drills' lists the plans there are."),
    Prescription: (
        "a prescription",
        "Use the one that the clinic wrote with 'beltside prescribe'.",
    ),
}
"""What each is called, and where another one is to be had."""
LONGEST_VALUE: Final = 60
_FREE: Final = frozenset({"notes"})
"""Fields for any text, which is made plain where it is shown; all others hold names."""


def read_fields(path: Path, table: dict[str, Any], kind: type[T]) -> T:
    """``table``, as read from ``path``, as a value of the struct ``kind``.

    Raises UserError ``field_wrong``, which names file, field, value, reason and what is allowed.
    """
    for field, value in _numbers(table, ""):
        if not math.isfinite(value):
            raise field_error(path, field, value, "it is not a number", allowed(kind, field))
    for field, text in _texts(table, ""):
        if why := fault_in(text):
            raise field_error(path, field, text, why, "letters, digits, signs and spaces")
    try:
        return msgspec.convert(table, kind)
    except msgspec.ValidationError as error:
        raise _in_words(path, table, kind, str(error)) from error


def field_error(path: Path, field: str, value: object, why: str, allowed_values: str) -> UserError:
    """A UserError about one field; ``field`` such as ``targets[0].low``."""
    shown = value if value == "missing" else _as_toml(value)
    return UserError(
        "field_wrong", path=str(path), field=field, value=shown, why=why, allowed=allowed_values
    )


def did_you_mean(name: str, known: Iterable[str]) -> str:
    """``; did you mean "x"?`` for the known name nearest to ``name``; empty for none near."""
    if len(name) > LONGEST_VALUE:  # the time to compare grows with the square of the length
        return ""
    near = difflib.get_close_matches(name, list(known), n=1, cutoff=0.5)
    return f'; did you mean "{near[0]}"?' if near else ""


def allowed(kind: type[msgspec.Struct], field: str) -> str:
    """What the field at ``field`` (such as ``targets[0].low``) may hold, in words."""
    found = _type_at(kind, _PART.findall(field))
    return "see the list of fields in profiles/README.md" if found is None else _in_plain(found)


def _in_words(path: Path, table: object, kind: type[msgspec.Struct], message: str) -> UserError:
    match = _PLACE.search(message)
    place = match["place"] if match else ""
    said = message[: match.start()] if match else message
    if unknown := _UNKNOWN.match(said):
        if (other := _other_kind(table, kind)) is not None:
            what, (wanted, do) = _KINDS[other][0], _KINDS[kind]
            return UserError(
                "file_of_another_kind", path=str(path), what=what, wanted=wanted, do=do
            )
        field, names = _joined(place, unknown["name"]), _names(kind, place)
        why = "there is no such field" + did_you_mean(unknown["name"], names)
        return field_error(path, field, _value_at(table, field), why, ", ".join(names))
    if missing := _MISSING.match(said):
        field = _joined(place, missing["name"])
        return field_error(path, field, "missing", "it is required", allowed(kind, field))
    may_be = allowed(kind, place)
    return field_error(path, place, _value_at(table, place), "it is not allowed", may_be)


def _other_kind(table: object, kind: type[msgspec.Struct]) -> type[msgspec.Struct] | None:
    """What a file is that has fields unknown to ``kind``, where it is one of ours all the same."""
    fields = set(table) if isinstance(table, dict) else set()
    for one in _KINDS if kind in _KINDS else ():
        names = {field.encode_name for field in msgspec.structs.fields(one)}
        if one is not kind and len(fields & names) >= 2 and fields <= names:
            return one
    return None


def _joined(place: str, name: str) -> str:
    return f"{place}.{name}" if place else name


def _names(kind: type[msgspec.Struct], place: str) -> list[str]:
    found = _type_at(kind, _PART.findall(place))
    if not isinstance(found, inspect.StructType):
        return []
    return [field.encode_name for field in found.fields]


def _type_at(kind: type[msgspec.Struct], parts: list[str]) -> inspect.Type | None:
    found: inspect.Type = inspect.type_info(kind)
    for part in parts:
        if isinstance(found, inspect.VarTupleType) and part.isdigit():
            found = found.item_type
            continue
        if not isinstance(found, inspect.StructType):
            return None
        field = next((field for field in found.fields if field.encode_name == part), None)
        if field is None:
            return None
        found = _without_none(field.type)
    return found


def _without_none(kind: inspect.Type) -> inspect.Type:
    """An optional field's own type: TOML has no way to write None."""
    if not isinstance(kind, inspect.UnionType):
        return kind
    return next(one for one in kind.types if not isinstance(one, inspect.NoneType))


def _in_plain(kind: inspect.Type) -> str:
    if isinstance(kind, inspect.StrType):
        longest = f" of {kind.min_length or 0} to {kind.max_length} characters"
        return f"text in quotes{longest if kind.max_length else ''}"
    if isinstance(kind, inspect.IntType | inspect.FloatType):
        noun = "a whole number" if isinstance(kind, inspect.IntType) else "a number"
        if kind.ge is not None and kind.le is not None:
            return f"{noun} from {kind.ge} to {kind.le}"
        return f"{noun}, {kind.ge} or more" if kind.ge is not None else noun
    if isinstance(kind, inspect.EnumType):
        return ", ".join(f'"{choice.value}"' for choice in _choices(kind.cls))
    if isinstance(kind, inspect.VarTupleType):
        if isinstance(kind.item_type, inspect.StructType):
            return "one or more tables, each under its own heading such as [[targets]]"
        return f"a list in square brackets of {_in_plain(kind.item_type)}"
    return "a table"


def _choices(kind: type[Enum]) -> Iterator[Enum]:
    return iter(kind)


def _value_at(table: object, field: str) -> object:
    for part in _PART.findall(field):
        if isinstance(table, dict):
            table = table.get(part)
        elif isinstance(table, list | tuple):
            # A key in quotes may look like the way to an entry that is not there.
            known = part.isdecimal() and int(part) < len(table)
            table = table[int(part)] if known else None
    return table


def _as_toml(value: object) -> str:
    """A value as one would write it in TOML, cut short when it is long."""
    if isinstance(value, str):
        text = f'"{value}"'
    elif isinstance(value, bool):
        text = "true" if value else "false"
    elif isinstance(value, list | tuple):
        text = f"[{', '.join(_as_toml(one) for one in value)}]"
    elif isinstance(value, dict):
        text = "a table"
    else:
        text = f"{value:g}" if isinstance(value, float) else str(value)
    return text if len(text) <= LONGEST_VALUE else f"{text[: LONGEST_VALUE - 1]}…"


def _texts(value: object, place: str) -> Iterator[tuple[str, str]]:
    """Every text in a TOML value but for free notes, with its place."""
    if isinstance(value, str):
        if value and place.rpartition(".")[2] not in _FREE:
            yield place, value
    elif isinstance(value, dict):
        for name, one in value.items():
            yield from _texts(one, _joined(place, str(name)))
    elif isinstance(value, list):
        for number, one in enumerate(value):
            yield from _texts(one, f"{place}[{number}]")


def _numbers(value: object, place: str) -> Iterator[tuple[str, float]]:
    """Every floating point number in a TOML value, with its place."""
    if isinstance(value, float):
        yield place, value
    elif isinstance(value, dict):
        for name, one in value.items():
            yield from _numbers(one, _joined(place, str(name)))
    elif isinstance(value, list):
        for number, one in enumerate(value):
            yield from _numbers(one, f"{place}[{number}]")
