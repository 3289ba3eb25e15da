"""Which fields a profile's form has: read from the profile's own type and its limits (pure)."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Any, Final

import msgspec
from msgspec import inspect

from feedback.storage.toml_fields import allowed
from shared.targets import Athlete, Limits, Target

LONG: Final = frozenset({"notes"})
HIDDEN: Final = frozenset({"athlete_id"})
"""Never changed by hand here."""


class FieldKind(StrEnum):
    """How a field is filled in."""

    TEXT = "text"
    LONG_TEXT = "long_text"
    WHOLE = "whole"
    NUMBER = "number"
    CHOICE = "choice"
    CHOICES = "choices"


@dataclass(frozen=True, slots=True)
class FieldSpec:
    """One field of a form."""

    name: str
    key: str
    """By which its title and help are found: ``height_cm``, ``limits.longest_min``."""
    kind: FieldKind
    allowed: str
    """What it may hold, in words."""
    choices: tuple[str, ...] = ()
    default: Any = None
    """What holds where it is left out; None: nothing."""
    required: bool = False


def fields_of(kind: type[msgspec.Struct], prefix: str = "") -> tuple[FieldSpec, ...]:
    """The fields of a profile, of its limits or of one target that are single values."""
    found = inspect.type_info(kind)
    if not isinstance(found, inspect.StructType):
        return ()
    specs = []
    for field in found.fields:
        how = _kind_of(field.name, field.type)
        if how is None or field.name in HIDDEN:
            continue
        default = None if field.required or field.default is msgspec.NODEFAULT else field.default
        specs.append(
            FieldSpec(
                field.name,
                f"{prefix}{field.name}",
                how,
                allowed(kind, field.name),
                _choices_of(field.type),
                default,
                field.required,
            )
        )
    return tuple(specs)


def number_typed(text: str, *, whole: bool) -> float | int | None:
    """The number that was typed; None where it is none."""
    try:
        value = float(text.strip().replace(",", "."))
    except ValueError:
        return None
    if not whole:
        return value
    return int(value) if value.is_integer() else None


def number_shown(value: object) -> str:
    """A number as it is typed."""
    return f"{value:g}" if isinstance(value, int | float) else str(value)


def _kind_of(name: str, kind: inspect.Type) -> FieldKind | None:
    kind = _plain(kind)
    if isinstance(kind, inspect.StrType):
        return FieldKind.LONG_TEXT if name in LONG else FieldKind.TEXT
    if isinstance(kind, inspect.IntType):
        return FieldKind.WHOLE
    if isinstance(kind, inspect.FloatType):
        return FieldKind.NUMBER
    if isinstance(kind, inspect.EnumType):
        return FieldKind.CHOICE
    if isinstance(kind, inspect.VarTupleType) and isinstance(kind.item_type, inspect.EnumType):
        return FieldKind.CHOICES
    return None


def _choices_of(kind: inspect.Type) -> tuple[str, ...]:
    kind = _plain(kind)
    if isinstance(kind, inspect.VarTupleType):
        kind = kind.item_type
    if isinstance(kind, inspect.EnumType):
        return tuple(str(one.value) for one in kind.cls)
    return ()


def _plain(kind: inspect.Type) -> inspect.Type:
    """An optional field's own type."""
    if not isinstance(kind, inspect.UnionType):
        return kind
    return next(one for one in kind.types if not isinstance(one, inspect.NoneType))


RUNNER: Final = fields_of(Athlete)
LIMITS: Final = fields_of(Limits, "limits.")
TARGET: Final = fields_of(Target, "targets.")
