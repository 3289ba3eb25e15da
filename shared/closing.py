"""What is closed at the end of a ``with`` block (pure)."""

from __future__ import annotations

from types import TracebackType
from typing import Self


class Closing:
    """For a class whose ``close`` lets go of what it holds: usable in a ``with`` block."""

    def close(self) -> None:
        """Let go of it."""
        raise NotImplementedError

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()
