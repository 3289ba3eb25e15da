"""Who is shown in the list of people, in which order, and what is found by a search (pure).

Profiles come from files, the last session of each from the store; whoever has no profile here any
more and is in the store is shown too, since their records can be looked at.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from shared.language import _


@dataclass(frozen=True, slots=True)
class PersonRow:
    """One line of the list."""

    code_name: str
    person_id: str
    profile: Path | None = None
    next_words: str = ""
    why: str = ""
    """Why the plan does not go on, or what is wrong with the profile."""
    sessions: int = 0
    last_utc: str = ""
    broken: bool = False
    example: bool = False
    """Made up, and comes with the program."""

    @property
    def last_words(self) -> str:
        """The day of the last session, such as 2026-11-30; empty without one."""
        return self.last_utc[:10]


@dataclass(frozen=True, slots=True)
class LastSession:
    """What the store knows of one person."""

    code_name: str
    sessions: int
    last_utc: str


def last_sessions(data: Any) -> dict[str, LastSession]:
    """By id, from what ``beltside records --json`` prints; empty where that is something else."""
    found: dict[str, LastSession] = {}
    people = data.get("people") if isinstance(data, dict) else None
    for one in people if isinstance(people, list) else ():
        try:
            found[str(one["id"])] = LastSession(
                str(one["code_name"]), int(one["sessions"]), str(one["last_utc"])
            )
        except (KeyError, TypeError, ValueError):
            continue
    return found


def with_sessions(
    rows: Sequence[PersonRow], known: Mapping[str, LastSession]
) -> tuple[PersonRow, ...]:
    """The rows with their last sessions, and rows for those who are in the store alone."""
    made = [
        replace(row, sessions=one.sessions, last_utc=one.last_utc)
        if (one := known.get(row.person_id)) is not None
        else row
        for row in rows
    ]
    here = {row.person_id for row in rows}
    made += [
        PersonRow(
            one.code_name,
            key,
            next_words=_("No profile here"),
            sessions=one.sessions,
            last_utc=one.last_utc,
        )
        for key, one in known.items()
        if key not in here
    ]
    return tuple(made)


def in_order(rows: Iterable[PersonRow]) -> tuple[PersonRow, ...]:
    """By name; what is made up comes last."""
    return tuple(sorted(rows, key=lambda row: (row.example, _folded(row.code_name))))


def found(rows: Iterable[PersonRow], search: str) -> tuple[PersonRow, ...]:
    """Those whose name or next step holds every word of the search, whatever its capitals."""
    words = _folded(search).split()
    return tuple(
        row
        for row in rows
        if all(word in _folded(f"{row.code_name} {row.next_words}") for word in words)
    )


def _folded(text: str) -> str:
    return unicodedata.normalize("NFKD", text.casefold())
