"""What a page of the start window is, and what the window offers its pages."""

from __future__ import annotations

from typing import Protocol

from PyQt6.QtWidgets import QWidget

from feedback.screens.start.actions import Jobs
from feedback.screens.start.model import NOTHING, Context, PageName
from feedback.storage.preferences import Preferences


class Shell(Protocol):
    """The window, as its pages see it. Every page is made as ``SomePage(shell)``, once."""

    @property
    def jobs(self) -> Jobs:
        """Starts commands as processes."""

    @property
    def preferences(self) -> Preferences:
        """Units, looks and volume, as they were last saved."""

    def prefer(self, **changed: object) -> None:
        """Save changed preferences (fields of Preferences); what fails is told in the window."""

    def open(self, page: PageName, context: Context = NOTHING) -> None:
        """Show another page; Back leads to this one."""

    def back(self) -> None:
        """Show the page before."""

    def retitle(self) -> None:
        """The page's title has changed."""

    def tell(self, title: str, more: str = "") -> None:
        """Say in a line above the page what went wrong or what to do; stays until the next page."""

    def note(self, text: str) -> None:
        """Say in the same line what was done."""

    def busy(self, text: str) -> None:
        """Say what is being done now, such as "Opening the camera"; empty: it is over."""

    def help(self, topic: str = "") -> None:
        """Open the help; empty: the page of the manual that belongs to the page shown now."""


class Page(QWidget):
    """One page. The window calls ``enter`` each time it is shown and ``leave`` before another is.

    It has no Back of its own, no title line and no scroll area: the window draws those.
    """

    help_topic = "start-window"
    """One of ``feedback.help.TOPICS``."""

    scrolls = True
    """False: it has room of its own that scrolls, as where buttons stay in sight below a form."""

    def __init__(self, shell: Shell) -> None:
        super().__init__()
        self.shell = shell
        self.setObjectName("page")

    @property
    def title(self) -> str:
        """What stands over it, in the language in use."""
        raise NotImplementedError

    def enter(self, context: Context) -> None:
        """It is shown now, about ``context``; also after Back. Takes no time."""

    def leave(self) -> bool:
        """Whether another page may be shown; lets go of cameras and sound. False: it asks first."""
        return True

    def first_control(self) -> QWidget | None:
        """What has the keys when it is shown; None: the first that takes them."""
        return None
