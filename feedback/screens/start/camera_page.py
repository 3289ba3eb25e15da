"""The page "Camera" of the start window."""

from __future__ import annotations

from feedback.screens.start.page import Page
from shared.language import _


class CameraPage(Page):
    """Not filled yet."""

    @property
    def title(self) -> str:
        """What stands over it."""
        return _("Camera")
