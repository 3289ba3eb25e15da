"""The page of the people: who they are, what is next for each, and when they last ran."""

from __future__ import annotations

from feedback.screens.start.page import Page
from shared.language import _


class PeoplePage(Page):
    """Not filled yet."""

    @property
    def title(self) -> str:
        """What stands over it."""
        return _("People")
