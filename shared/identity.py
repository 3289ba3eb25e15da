"""Who an athlete is: an id that no other one has, and how it stands in the names of files (pure).

Names are only shown. Two people may have names that look alike, fold alike or are the very same.
"""

from __future__ import annotations

import re
import uuid
from collections.abc import Iterable
from typing import Annotated, Final, Protocol

from msgspec import Meta

_UUID: Final = "[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}"
PATTERN: Final = rf"^({_UUID})?\Z"
"""A UUID (RFC 9562) in small letters, or nothing."""
AthleteId = Annotated[str, Meta(pattern=PATTERN)]
"""Empty in what was written before there were ids."""
NAMESPACE: Final = uuid.UUID("d5e9f78d-b64d-46b4-a7a8-176d7f90e387")
SHORT: Final = 8
"""So many digits of an id are shown and typed to choose between athletes."""
_IN_NAME: Final = re.compile(_UUID)
_LONGEST_PREFIX: Final = 80
"""Letters; a code name has 40 at most, and small letters may need more."""


class Named(Protocol):
    """What says whose it is."""

    @property
    def athlete_id(self) -> str:
        """Empty where it was written before there were ids."""

    @property
    def code_name(self) -> str:
        """As it was then."""


def derived_id(code_name: str) -> str:
    """The id that stands for a code name alone: UUID version 5 (RFC 9562) of it in UTF-8.

    Of the very same name only: another way to write it, even one that looks the same, has another.
    """
    return str(uuid.uuid5(NAMESPACE, code_name))


def id_of(one: Named) -> str:
    """Whose it is; where that is not written down, the id that stands for the code name."""
    return one.athlete_id or derived_id(one.code_name)


def plain(code_name: str) -> str:
    """What can be read of a code name in a file's name; several names may have the same."""
    return re.sub("[^a-z0-9]+", "-", code_name.lower())[:_LONGEST_PREFIX].strip("-") or "runner"


def in_file_name(one: Named) -> str:
    """How an athlete stands in the name of a file: what can be read, and the id, which decides."""
    return f"{plain(one.code_name)}-{id_of(one)}"


def id_in(file_name: str) -> str:
    """The id in the name of a file; empty for a name from before there were ids."""
    found: list[str] = _IN_NAME.findall(file_name)
    return found[-1] if found else ""


def ids_meant(asked: str, known: Iterable[str]) -> tuple[str, ...]:
    """The ids that begin with what was typed, of which eight digits are enough; none for a name."""
    digits = asked.strip().lower()
    if len(digits) < SHORT or not re.fullmatch("[0-9a-f-]+", digits):
        return ()
    return tuple(one for one in known if one.startswith(digits))
