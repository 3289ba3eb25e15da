"""The program's own help pages, one Markdown file a topic, and how they are found and read.

English pages lie in this folder, those of another language in a folder that has its code as name.
"""

from __future__ import annotations

import importlib.resources
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from shared.language import ENGLISH, language

# In the order in which they are listed; a page that is not named here would never be found.
TOPICS: Final = (
    "start-window",
    "first-session",
    "camera",
    "no-values",
    "panel",
    "targets",
    "home",
    "measures",
    "records",
    "privacy",
    "network",
    "sensors",
    "programs",
    "sounds",
    "video",
    "settings",
    "command-line",
)


@dataclass(frozen=True, slots=True)
class HelpPage:
    """One topic: its title and its whole text as Markdown, title included."""

    topic: str
    title: str
    text: str


def folder(code: str = ENGLISH) -> Path:
    """Where the pages of a language lie."""
    # The package is installed as plain files (wheel or checkout), never inside an archive.
    top = Path(str(importlib.resources.files("feedback.help")))
    return top if code == ENGLISH else top / code


def page(topic: str) -> HelpPage:
    """The page of one of :data:`TOPICS` in the language in use, else in English.

    Raises KeyError for any other name.
    """
    if topic not in TOPICS:
        raise KeyError(topic)
    path = folder(language()) / f"{topic}.md"
    if not path.is_file():
        path = folder() / path.name
    text = path.read_text(encoding="utf-8")
    return HelpPage(topic, text.split("\n", 1)[0].removeprefix("# "), text)


def matching(search: str) -> tuple[str, ...]:
    """The topics whose page has every word of ``search``; with them in the title first."""
    words = search.casefold().split()
    found = []
    for topic in TOPICS:
        one = page(topic)
        if all(word in one.text.casefold() for word in words):
            titled = bool(words) and all(word in one.title.casefold() for word in words)
            found.append((not titled, topic))
    return tuple(topic for _, topic in sorted(found, key=lambda pair: pair[0]))
