"""When a screen whose station is gone closes by itself (pure)."""

from __future__ import annotations

from typing import Final

from feedback.link.client_state import LinkState
from shared.units import NS_PER_S

STAYS_NS: Final = 15 * NS_PER_S
"""Long enough to be read in a run, that the station is gone and what to do."""


class Orphaned:
    """Told the link's state again and again."""

    def __init__(self, stays_ns: int = STAYS_NS) -> None:
        self._stays_ns = stays_ns
        self._since_ns: int | None = None

    def is_over(self, state: LinkState, now_ns: int) -> bool:
        """Whether the station has been gone for so long that the screen is to close.

        A link that was lost stays so: a station that starts anew opens a screen of its own.
        """
        if state is not LinkState.LOST:
            self._since_ns = None
            return False
        if self._since_ns is None:
            self._since_ns = now_ns
        return now_ns - self._since_ns >= self._stays_ns
