"""A Stop that was asked for at a console, until it has reached the run that it was for (pure)."""

from __future__ import annotations


class StopWish:
    """Kept while the link is down; never sent to a later run than the one it was asked for."""

    def __init__(self) -> None:
        self.asked_ns: int | None = None
        self.too_late = False
        """It could not reach its run any more: another one is on."""
        self._meant = ""
        self._sent = False

    def ask(self, run: str, now_ns: int) -> None:
        """Somebody asks for Stop; ``run`` is what is on as far as is known, or empty."""
        if self.asked_ns is None:
            self.asked_ns = now_ns
        self.too_late = False
        self._meant = run
        self._sent = False

    def due(self, run: str) -> int | None:
        """When it was asked for, if it is to be sent now, on a link that is up.

        ``run`` is what the station has said on this very link to be on; empty: nothing yet.
        """
        if self.asked_ns is None or self._sent:
            return None
        if self._meant and not run:
            return None
        if self._meant not in ("", run):
            self.forget()
            self.too_late = True
            return None
        self._sent = True
        return self.asked_ns

    def on_break(self) -> None:
        """The link broke: what was sent may not have come through."""
        self._sent = False

    def forget(self) -> None:
        """Its run is over."""
        self.asked_ns = None
        self._sent = False
