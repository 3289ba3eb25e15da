"""Where a station may be called (pure)."""

from __future__ import annotations

from typing import Final, NamedTuple

DEFAULT_PORT: Final = 47820
"""Not assigned to anything by IANA, from memory; any other does as well."""


class Place(NamedTuple):
    """A computer and its port."""

    host: str
    port: int

    def __str__(self) -> str:
        """As it is typed."""
        return f"[{self.host}]:{self.port}" if ":" in self.host else f"{self.host}:{self.port}"
