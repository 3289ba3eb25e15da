"""Says what long work is at; on a terminal Ctrl+C breaks it off."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator

from feedback.terminal.guard import say
from feedback.terminal.tables import PlainConsole
from shared.language import _


@contextlib.contextmanager
def busy(doing: str, *, elsewhere: bool = False) -> Iterator[Callable[[str], None]]:
    """Say what is being done, on stderr and on a terminal; call the result to say how far.

    ``elsewhere``: where there is no terminal, say it once on stdout.
    """
    console = PlainConsole(stderr=True)
    if not console.is_terminal:
        if elsewhere:
            say(_("{doing} ...").format(doing=doing))
        yield lambda _how_far: None
        return
    with console.status(_("{doing} (Ctrl+C cancels)").format(doing=doing)) as status:
        text = _("{doing}: {how_far} (Ctrl+C cancels)")
        yield lambda how_far: status.update(text.format(doing=doing, how_far=how_far))
