"""Problems of kept records: code, what happened, what it means, what to do (pure)."""

from __future__ import annotations

from typing import Final

RECORDS: Final[tuple[tuple[str, str, str, str], ...]] = (
    (
        "session_damaged",
        "The session cannot be read from the store ({why}).",
        "Nothing was changed. All other sessions can be read.",
        "Read it again from its own record: beltside rebuild.",
    ),
)
