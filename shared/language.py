"""The language that people are addressed in: each text is looked up by its English wording.

One language a process: a screen in German and one in English are two processes. Which language
that is, and where its texts come from, is settled in ``feedback.texts.languages`` before the first
text is asked for; until then, and for any text that has no translation, English is given.
"""

from __future__ import annotations

import gettext
from typing import Final

ENGLISH: Final = "en"


class _InUse:
    """What this process speaks."""

    code: str = ENGLISH
    catalogue: gettext.NullTranslations = gettext.NullTranslations()


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
    found = _InUse.catalogue.pgettext(key, text)
    return found if found != text else _(text)


def _n(one: str, many: str, count: int) -> str:
    """``one`` or ``many``, by what the language says for ``count``."""
    return _InUse.catalogue.ngettext(one, many, count)


def mark(text: str) -> str:
    """``text`` unchanged, for tables: marks it to be translated where it is read with :func:`_`."""
    return text
