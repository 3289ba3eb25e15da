"""Where reports are written to, and whose those are that older versions wrote.

They kept the reports of every athlete whose name reads as "m-ller" in one folder of that name.
"""

from __future__ import annotations

import html
import re
from collections.abc import Collection, Iterator, Mapping
from pathlib import Path
from typing import Final

from feedback.journal.writer import SUFFIX
from feedback.records.home_results import SUFFIX as HOME_SUFFIX
from feedback.storage.settings import data_folder
from shared.identity import Named, id_in, id_of, in_file_name, plain
from shared.plain_text import plain_line

REPORTS: Final = "reports"
_TITLE: Final = re.compile("<title>(.*?)</title>", re.DOTALL)
_BEFORE_TITLE: Final = 2000
"""Letters; the title stands near the beginning."""


def reports_folder() -> Path:
    """Where reports are written to when no other place is given."""
    return data_folder() / REPORTS


def report_folder(athlete: Named) -> Path:
    """Where those of one athlete are written to; it stays the same when the name changes."""
    return next(iter(own_folders(id_of(athlete))), reports_folder() / in_file_name(athlete))


def own_folders(athlete_id: str) -> tuple[Path, ...]:
    """The folders that hold the reports of this athlete alone: one, or none."""
    return tuple(folder for folder in _folders() if id_in(folder.name) == athlete_id)


def old_folders(code_names: Collection[str]) -> tuple[Path, ...]:
    """Where older versions wrote the reports of these names, and of others that read the same."""
    read = {plain(name) for name in code_names}
    return tuple(folder for folder in _folders() if folder.name in read)


def stem_of(journal: str) -> str:
    """How the reports of a session are called, without their ending."""
    return Path(journal).name.removesuffix(HOME_SUFFIX).removesuffix(SUFFIX)


def old_reports(
    code_names: Collection[str], sessions: Mapping[str, str], known: Mapping[str, Collection[str]]
) -> Iterator[tuple[Path, str]]:
    """Reports of older versions that may be of these names, each with its athlete's id.

    ``sessions`` tells whose the sessions are, by :func:`stem_of`; ``known`` the names that each
    athlete bears. The id is empty where it cannot be told.
    """
    for folder in old_folders(code_names):
        for path in sorted(path for path in folder.iterdir() if path.is_file()):
            yield path, sessions.get(path.stem) or _by_title(path.with_suffix(".html"), known)


def _by_title(path: Path, known: Mapping[str, Collection[str]]) -> str:
    """By the heading of the page, which begins with the name; a PDF by the page beside it."""
    try:
        begin = path.read_text(encoding="utf-8", errors="replace")[:_BEFORE_TITLE]
    except OSError:
        return ""
    found = _TITLE.search(begin)
    title = html.unescape(found[1]) if found else ""
    fitting = [
        one
        for one, names in known.items()
        if any(title.startswith(f"{plain_line(name)}: ") for name in names)
    ]
    return fitting[0] if len(fitting) == 1 else ""


def _folders() -> Iterator[Path]:
    root = reports_folder()
    return iter(sorted(one for one in root.iterdir() if one.is_dir()) if root.is_dir() else ())
