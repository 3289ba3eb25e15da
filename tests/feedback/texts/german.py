"""A process that speaks German for the length of a test."""

from __future__ import annotations

import gettext
from collections.abc import Iterator
from contextlib import contextmanager

from feedback.texts import languages
from shared.language import ENGLISH, use


@contextmanager
def german() -> Iterator[None]:
    """Within, all texts are asked for in German; afterwards in English again."""
    languages.speak("de")
    try:
        yield
    finally:
        use(ENGLISH, gettext.NullTranslations())
