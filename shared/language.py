"""The language that people are addressed in: each text is looked up by its English wording.

One language a process: a screen in German and one in English are two processes. Which language
that is, and where its texts come from, is settled in ``feedback.texts.languages`` before the first
text is asked for; until then, and for any text that has no translation, English is given.

What is sent or recorded is made by :func:`told`: it remembers what it was made of (:class:`Text`),
goes as its English wording with the values of its places (:class:`Said`), and is worded in the
language of whoever reads it.
"""

from __future__ import annotations

import contextlib
import gettext
import re
import string
from collections.abc import Mapping, Sequence
from typing import Any, Final, TypeVar

import msgspec

from shared.plain_text import plain_line

T = TypeVar("T", bound=msgspec.Struct)
ENGLISH: Final = "en"
_MOST_LETTERS: Final = 4000
"""Of a text from elsewhere, with its values."""
_SIMPLE: Final = re.compile(r"\+?(\.\d)?[dfgs]?")
"""How a number may be written: a wider form from elsewhere could ask for any length."""


class _InUse:
    """What this process speaks."""

    code: str = ENGLISH
    catalogue: gettext.NullTranslations = gettext.NullTranslations()


class Said(msgspec.Struct, frozen=True, omit_defaults=True):
    """A text for a reader of any language."""

    text: str
    """English, with its places."""
    values: tuple[tuple[str, str | int | float | Said], ...] = ()
    many: str = ""
    """The English wording for more than one, where the count decides."""
    count: int = 0
    key: str = ""
    """Which of the translations, where one English wording has several."""


class Text(str):
    """A text in the language in use, which knows what it was made of.

    Only what takes it apart (:func:`split`) may be encoded; a Text itself cannot be.
    """

    __slots__ = ("said",)
    said: Said

    @classmethod
    def of(cls, worded: str, said: Said) -> Text:
        """``worded``, made of ``said``."""
        text = cls(worded)
        text.said = said
        return text


def use(code: str, catalogue: gettext.NullTranslations) -> None:
    """Speak ``code`` (such as ``de``) from now on, with the texts of ``catalogue``."""
    _InUse.code, _InUse.catalogue = code, catalogue


def language() -> str:
    """The code of the language in use, such as ``en``."""
    return _InUse.code


def _(text: str) -> str:
    """``text`` in the language in use. Places such as ``{name}`` are filled in afterwards."""
    return _InUse.catalogue.gettext(text)


def in_table(key: str, text: str) -> str:
    """``text`` of a table in the language in use.

    One English word may stand for two things (left: a side, left: what remains). Then the catalogue
    has a translation of its own for ``key``, such as ``runner.minutes_left``.
    """
    return _unfilled(Said(text, key=key), _InUse.catalogue)


def _n(one: str, many: str, count: int) -> str:
    """``one`` or ``many``, by what the language says for ``count``."""
    return _InUse.catalogue.ngettext(one, many, count)


def within(text: str) -> str:
    """``text``, in the language in use, as it stands within a sentence.

    In English its first letter becomes small; German nouns keep their large one.
    """
    return text[:1].lower() + text[1:] if _InUse.code == ENGLISH else text


def mark(text: str) -> str:
    """``text`` unchanged, for tables: marks it to be translated where it is read with :func:`_`."""
    return text


def told(text: str, **values: object) -> Text:
    """``text`` with its places filled in, for what is sent or recorded. KeyError: no such place."""
    return made(Said(text), values)


def made(said: Said, values: Mapping[str, object]) -> Text:
    """The text of ``said`` in the language in use with ``values``. KeyError: a place lacks one."""
    kept = tuple((name, _kept(value)) for name, value in values.items())
    filled = _unfilled(said, _InUse.catalogue).format(**values)
    return Text.of(filled, msgspec.structs.replace(said, values=kept))


def worded(said: Said, otherwise: str) -> str:
    """The text in the language in use; ``otherwise`` where that cannot be.

    It may come from anywhere: nothing in it is trusted.
    """
    try:
        return plain_line(_filled(said, _InUse.catalogue), _MOST_LETTERS)
    except (ValueError, TypeError):
        return otherwise


def split(value: msgspec.Struct, *fields: str) -> None:
    """For ``__post_init__``: keep what texts are made of beside them, in the field ``said``.

    A struct that was made here has the texts, one that was read has what they were made of: from
    then on it has both, worded in the language in use.
    """
    found = list(value.said)  # type: ignore[attr-defined]
    found += [None] * (len(fields) - len(found))
    for at, field in enumerate(fields):
        text = getattr(value, field)
        if isinstance(text, Text):
            found[at] = text.said
            msgspec.structs.force_setattr(value, field, str(text))
        elif (said := found[at]) is not None:
            msgspec.structs.force_setattr(value, field, worded(said, text))
    while found and found[-1] is None:
        found.pop()
    msgspec.structs.force_setattr(value, "said", tuple(found))


def english(value: T, *fields: str) -> T:
    """A struct whose texts were split, with those texts in English: for what is kept in files."""
    if _InUse.code == ENGLISH:
        return value
    copy = msgspec.structs.replace(value)
    for field, said in zip(fields, value.said, strict=False):  # type: ignore[attr-defined]
        if said is not None:
            with contextlib.suppress(ValueError, TypeError):
                text = _filled(said, gettext.NullTranslations())
                msgspec.structs.force_setattr(copy, field, text)
    return copy


def _unfilled(said: Said, catalogue: gettext.NullTranslations) -> str:
    if said.many:
        return catalogue.ngettext(said.text, said.many, said.count)
    if said.key and (found := catalogue.pgettext(said.key, said.text)) != said.text:
        return found
    return catalogue.gettext(said.text) if said.text else ""


def _filled(said: Said, catalogue: gettext.NullTranslations, depth: int = 0) -> str:
    if depth > 3:
        raise ValueError("texts within texts within texts")
    values = {
        name: _filled(value, catalogue, depth + 1) if isinstance(value, Said) else value
        for name, value in said.values
    }
    text = _unfilled(said, catalogue)
    filled = _Places().vformat(text, (), values) if values else text
    if len(filled) > _MOST_LETTERS:
        raise ValueError("a text is too long")
    return filled


class _Places(string.Formatter):
    """Fills in places by their bare names, and lets none reach into a value."""

    def get_field(
        self, field_name: str, args: Sequence[Any], kwargs: Mapping[str, Any]
    ) -> tuple[Any, str]:
        """The value of that name."""
        del args  # there are none
        if field_name not in kwargs:
            raise ValueError(f"no value for the place {field_name!r}")
        return kwargs[field_name], field_name

    def format_field(self, value: Any, format_spec: str) -> str:
        """The value as it is to be written."""
        if not _SIMPLE.fullmatch(format_spec):
            raise ValueError("no such form of a number")
        return str(super().format_field(value, format_spec))


def _kept(value: object) -> str | int | float | Said:
    if isinstance(value, Text):
        return value.said
    if isinstance(value, bool) or not isinstance(value, int | float):
        return str(value)
    return value
