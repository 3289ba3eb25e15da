"""Shows on a terminal what long work is at; Ctrl+C breaks it off."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator

from rich.console import Console


@contextlib.contextmanager
def busy(doing: str) -> Iterator[Callable[[str], None]]:
    """Say what is being done, on stderr and on a terminal only; call the result to say how far."""
    console = Console(stderr=True, highlight=False, markup=False)
    if not console.is_terminal:
        yield lambda _: None
        return
    with console.status(f"{doing} (Ctrl+C breaks it off)") as status:
        yield lambda how_far: status.update(f"{doing}: {how_far} (Ctrl+C breaks it off)")
