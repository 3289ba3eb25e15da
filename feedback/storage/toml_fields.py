"""Turns a table read from a TOML file into a typed value, and every mistake into plain words."""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Iterable, Iterator
from enum import Enum
from pathlib import Path
from types import UnionType
from typing import Annotated, Any, Final, NamedTuple, TypeVar, Union, get_args, get_origin

import msgspec
from msgspec import inspect

from shared.language import _, mark
from shared.plain_text import fault_in
from shared.problems import UserError
from shared.targets import Athlete, Drill, Plan, Prescription

T = TypeVar("T", bound=msgspec.Struct)

_PART: Final = re.compile(r"[^.\[\]]+")
_KINDS: Final[dict[type[msgspec.Struct], tuple[str, str]]] = {
    Athlete: (
        mark("an athlete's profile"),
        mark("'beltside athletes' lists the profiles there are."),
    ),
    Drill: (mark("a drill"), mark("'beltside drills' lists the drills there are.")),
    Plan: (mark("a plan"), mark("'beltside drills' lists the plans there are.")),
    Prescription: (
        mark("a prescription"),
        mark("Use the one that the clinic wrote with 'beltside prescribe'."),
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
    for field, value in _leaves(table):
        if isinstance(value, float) and not math.isfinite(value):
            raise field_error(path, field, value, _("it is not a number"), allowed(kind, field))
    for field, value in _leaves(table):
        free = field.rpartition(".")[2] in _FREE
        if isinstance(value, str) and value and not free and (why := fault_in(value)):
            raise field_error(path, field, value, why, _("letters, digits, signs and spaces"))
    try:
        return msgspec.convert(table, kind)
    except msgspec.ValidationError as error:
        raise _in_words(path, table, kind, _first_fault(table, kind, "")) from error


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
    return _('; did you mean "{near}"?').format(near=near[0]) if near else ""


def allowed(kind: type[msgspec.Struct], field: str) -> str:
    """What the field at ``field`` (such as ``targets[0].low``) may hold, in words."""
    found = _type_at(kind, _PART.findall(field))
    return _("see the list of fields in profiles/README.md") if found is None else _in_plain(found)


class _Fault(NamedTuple):
    """The first thing in a table that is not as its type has it."""

    field: str
    """Where, such as ``targets[0].low``."""
    value: object
    why: str
    allowed: str
    unknown: bool = False
    """There is no such field."""


def _in_words(path: Path, table: object, kind: type[msgspec.Struct], fault: _Fault) -> UserError:
    if fault.unknown and (other := _other_kind(table, kind)) is not None:
        what, (wanted, do) = _(_KINDS[other][0]), map(_, _KINDS[kind])
        return UserError("file_of_another_kind", path=str(path), what=what, wanted=wanted, do=do)
    return field_error(path, fault.field, fault.value, fault.why, fault.allowed)


def _first_fault(value: object, kind: Any, place: str) -> _Fault:
    """Why ``value`` is not of the type ``kind``; ask only when it is not.

    It goes by the values, each held to its own type in the library's own order: what the library's
    error says is for people to read, and a name out of the file may look like any part of it.
    """
    bare = _bare(kind)
    if isinstance(value, dict) and isinstance(bare, type) and issubclass(bare, msgspec.Struct):
        fields = {field.encode_name: field for field in msgspec.structs.fields(bare)}
        for name, one in value.items():
            at = _joined(place, name)
            if name not in fields:
                why = _("there is no such field") + did_you_mean(name, fields)
                return _Fault(at, one, why, ", ".join(fields), unknown=True)
            if not _fits(one, fields[name].type):
                return _first_fault(one, fields[name].type, at)
        for name, field in fields.items():
            if field.required and name not in value:
                at = _joined(place, name)
                return _Fault(at, "missing", _("it is required"), _allowed(field.type))
    elif isinstance(value, list) and get_origin(bare) is tuple:
        item = get_args(bare)[0]
        for number, one in enumerate(value):
            if not _fits(one, item):
                return _first_fault(one, item, f"{place}[{number}]")
    return _Fault(place, value, _("it is not allowed"), _allowed(kind))


def _allowed(kind: Any) -> str:
    return _in_plain(_without_none(inspect.type_info(kind)))


def _fits(value: object, kind: Any) -> bool:
    try:
        msgspec.convert(value, kind)
    except msgspec.ValidationError:
        return False
    return True


def _bare(kind: Any) -> Any:
    """A type without its limits, and without None: TOML has no way to write it."""
    if get_origin(kind) is Annotated:
        return _bare(get_args(kind)[0])
    if get_origin(kind) in (Union, UnionType):
        return _bare(next(one for one in get_args(kind) if one is not type(None)))
    return kind


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
        if not kind.max_length:
            return _("text in quotes")
        said = _("text in quotes of {least} to {most} characters")
        return said.format(least=kind.min_length or 0, most=kind.max_length)
    if isinstance(kind, inspect.IntType | inspect.FloatType):
        noun = _("a whole number") if isinstance(kind, inspect.IntType) else _("a number")
        if kind.ge is not None and kind.le is not None:
            return _("{noun} from {ge} to {le}").format(noun=noun, ge=kind.ge, le=kind.le)
        return (
            _("{noun}, {ge} or more").format(noun=noun, ge=kind.ge) if kind.ge is not None else noun
        )
    if isinstance(kind, inspect.EnumType):
        return ", ".join(f'"{choice.value}"' for choice in _choices(kind.cls))
    if isinstance(kind, inspect.VarTupleType):
        if isinstance(kind.item_type, inspect.StructType):
            return _("one or more tables, each under its own heading such as [[targets]]")
        return _("a list in square brackets of {in_plain}").format(
            in_plain=_in_plain(kind.item_type)
        )
    return _("a table")


def _choices(kind: type[Enum]) -> Iterator[Enum]:
    return iter(kind)


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


def _leaves(value: object, place: str = "") -> Iterator[tuple[str, object]]:
    """Everything in a TOML value that is neither table nor list, with its place."""
    if isinstance(value, dict):
        for name, one in value.items():
            yield from _leaves(one, _joined(place, str(name)))
    elif isinstance(value, list):
        for number, one in enumerate(value):
            yield from _leaves(one, f"{place}[{number}]")
    else:
        yield place, value
