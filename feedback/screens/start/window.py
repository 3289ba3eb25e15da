"""The start window: sections at the side, a title with Back, one page at a time; a program."""

from __future__ import annotations

import argparse
import signal
import sys
from pathlib import Path
from typing import Final

import msgspec
from PyQt6.QtCore import Qt
from PyQt6.QtGui import QCloseEvent, QKeyEvent, QKeySequence, QShortcut
from PyQt6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QListWidget,
    QListWidgetItem,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from feedback.screens.start.actions import Jobs
from feedback.screens.start.camera_page import CameraPage
from feedback.screens.start.check_page import CheckPage
from feedback.screens.start.home_page import HomePage
from feedback.screens.start.look import SIDE_PX, WIDEST_PX, start_style
from feedback.screens.start.model import NOTHING, SECTIONS, Context, History, PageName, Place
from feedback.screens.start.new_runner_page import NewRunnerPage
from feedback.screens.start.page import Page
from feedback.screens.start.parts import button, scrolled
from feedback.screens.start.people_page import PeoplePage
from feedback.screens.start.profile_page import ProfilePage
from feedback.screens.start.records_page import RecordsPage
from feedback.screens.start.settings_page import SettingsPage
from feedback.screens.start.sound_page import SoundPage
from feedback.screens.start.video_page import VideoPage
from feedback.screens.start.way_page import WayPage
from feedback.screens.widgets.application import fit_to_screen, make_app, run_loop
from feedback.screens.widgets.help_window import KEY as HELP_KEY
from feedback.screens.widgets.help_window import Help
from feedback.screens.widgets.style import label, mark, named
from feedback.storage.preferences import Preferences, read_preferences, save_preferences
from shared.language import _
from shared.problems import UserError

SMALLEST_PX: Final = (900, 560)
FIRST_PX: Final = (1280, 800)
PAGES: Final[dict[PageName, type[Page]]] = {
    PageName.PEOPLE: PeoplePage,
    PageName.NEW_RUNNER: NewRunnerPage,
    PageName.PROFILE: ProfilePage,
    PageName.RECORDS: RecordsPage,
    PageName.SETTINGS: SettingsPage,
    PageName.VIDEO: VideoPage,
    PageName.CAMERA: CameraPage,
    PageName.SOUND: SoundPage,
    PageName.WAY: WayPage,
    PageName.HOME: HomePage,
    PageName.CHECK: CheckPage,
}


class StartWindow(QWidget):
    """One window; it is the Shell of its pages."""

    def __init__(self, first: Place | None = None) -> None:
        super().__init__()
        self._history = History(first or Place(SECTIONS[0][0]))
        self._preferences = Preferences()
        self._read_wrong: UserError | None = None
        try:
            self._preferences = read_preferences()
        except UserError as error:
            self._read_wrong = error
        self._jobs = Jobs(self)
        self.setWindowTitle("Beltside")
        self.setObjectName("ground")
        self.setStyleSheet(start_style())
        self.setMinimumSize(*SMALLEST_PX)
        self.resize(*FIRST_PX)
        self.side = self._lay_out_side()
        self.back_button = button(_("Back"), self.back, _("To the page before (Alt+Left)"))
        self.help_button = button(_("Help"), self.help, _("About this page (F1)"))
        self.heading = label(kind="page", wrap=True)
        self.told = QFrame()
        self.told_title, self.told_more = label(kind="strong", wrap=True), label(wrap=True)
        self.working = label(kind="label")
        self.stack = QStackedWidget()
        self.pages: dict[PageName, Page] = {}
        self._lay_out()
        self.manual = Help(self, "start-window", by_key=False)
        for keys, do in ((HELP_KEY, self.help), ("Alt+Left", self.back)):
            QShortcut(QKeySequence(keys), self).activated.connect(do)
        self._show()
        if self._read_wrong is not None:
            problem = self._read_wrong.problem
            self.tell(problem.title, f"{problem.meaning} {problem.action}")

    # ---- as the pages see it

    @property
    def jobs(self) -> Jobs:
        """Starts commands as processes."""
        return self._jobs

    @property
    def preferences(self) -> Preferences:
        """As they were last saved."""
        return self._preferences

    def prefer(self, **changed: object) -> None:
        """Save changed preferences; what fails is told."""
        wanted = msgspec.structs.replace(self._preferences, **changed)
        if wanted == self._preferences:
            return
        try:
            save_preferences(wanted)
        except UserError as error:
            self.tell(error.problem.title, f"{error.problem.meaning} {error.problem.action}")
            return
        self._preferences = wanted

    def open(self, page: PageName, context: Context = NOTHING) -> None:
        """Show another page; Back leads to this one."""
        self._go(self._history.opened(Place(page, context)))

    def back(self) -> None:
        """Show the page before."""
        self._go(self._history.back())

    def retitle(self) -> None:
        """The page's title has changed."""
        title = self.page.title
        self.heading.setText(title)
        self.setWindowTitle(_("Beltside: {title}").format(title=title))

    def tell(self, title: str, more: str = "") -> None:
        """Say what went wrong or what to do."""
        self._say("wrong", title, more)

    def note(self, text: str) -> None:
        """Say what was done."""
        self._say("note", text, "")

    def busy(self, text: str) -> None:
        """Say what is being done now; empty: it is over."""
        self.working.setText(text)

    def help(self, topic: str = "") -> None:
        """Open the help."""
        self.manual.open(topic or self.page.help_topic)

    # ---- of its own

    @property
    def page(self) -> Page:
        """The page shown now."""
        return self.pages[self._history.now.page]

    @property
    def history(self) -> History:
        """Where it is, and where Back leads."""
        return self._history

    def _go(self, history: History) -> None:
        if history is self._history or history == self._history:
            return
        same = history.now.page is self._history.now.page
        if not same and not self.page.leave():
            self._choose_side()
            return
        self._history = history
        self._show()

    def _show(self) -> None:
        place = self._history.now
        page = self._made(place.page)
        self.told.hide()
        self.busy("")
        self.back_button.setEnabled(self._history.can_go_back)
        self._choose_side()
        area = page.parentWidget()
        while area is not None and area.parentWidget() is not self.stack:
            area = area.parentWidget()
        if area is not None:
            self.stack.setCurrentWidget(area)
        page.enter(place.context)
        self.retitle()
        if place.context.note:
            self.note(place.context.note)
        heir = page.first_control()
        if heir is not None:
            heir.setFocus()
        else:
            page.focusNextChild()

    def _made(self, name: PageName) -> Page:
        """Pages are made when they are first shown, so that the window opens at once."""
        if name not in self.pages:
            page = self.pages[name] = PAGES[name](self)
            inside = QWidget()
            inside.setObjectName("inside")
            line = QHBoxLayout(inside)
            line.setContentsMargins(0, 0, 8, 0)
            page.setMaximumWidth(WIDEST_PX)
            line.addWidget(page, 1)
            line.addStretch(0)
            self.stack.addWidget(scrolled(inside) if page.scrolls else inside)
        return self.pages[name]

    def _say(self, kind: str, title: str, more: str) -> None:
        mark_kind = self.told.property("kind")
        if mark_kind != kind:
            self.told.setProperty("kind", kind)
            mark(self.told, "again", mark_kind is None)
        self.told_title.setText(title)
        self.told_more.setText(more)
        self.told_more.setVisible(bool(more))
        self.told.setVisible(bool(title))
        self.told.setAccessibleName(f"{title} {more}".strip())

    def _lay_out_side(self) -> QListWidget:
        side = QListWidget()
        side.setObjectName("side")
        side.setFixedWidth(SIDE_PX)
        named(side, _("Sections"))
        for page, title in SECTIONS:
            item = QListWidgetItem(_(title))
            item.setData(Qt.ItemDataRole.UserRole, page)
            side.addItem(item)
        side.currentItemChanged.connect(self._on_side)
        return side

    def _on_side(self, item: QListWidgetItem | None) -> None:
        if item is not None:
            page = item.data(Qt.ItemDataRole.UserRole)
            if page is not self._history.section:
                self._go(self._history.chosen(page))

    def _choose_side(self) -> None:
        self.side.blockSignals(True)
        for number, (page, _title) in enumerate(SECTIONS):
            if page is self._history.section:
                self.side.setCurrentRow(number)
        self.side.blockSignals(False)
        self.side.setVisible(self._history.section is not PageName.HOME)

    def _lay_out(self) -> None:
        self.told.setObjectName("told")
        told = QVBoxLayout(self.told)
        told.setContentsMargins(16, 8, 12, 8)
        told.addWidget(self.told_title)
        told.addWidget(self.told_more)
        head = QHBoxLayout()
        head.setSpacing(16)
        head.addWidget(self.back_button)
        head.addWidget(self.heading, 1)
        head.addWidget(self.working)
        head.addWidget(self.help_button)
        right = QVBoxLayout()
        right.setSpacing(12)
        right.addLayout(head)
        right.addWidget(self.told)
        right.addWidget(self.stack, 1)
        whole = QHBoxLayout(self)
        whole.setContentsMargins(16, 16, 16, 16)
        whole.setSpacing(20)
        whole.addWidget(self.side)
        whole.addLayout(right, 1)

    def keyPressEvent(self, event: QKeyEvent | None) -> None:  # noqa: N802 - Qt's name
        """Esc leads back, where nothing else takes it."""
        if event is not None and event.key() == Qt.Key.Key_Escape:
            self.back()
            return
        super().keyPressEvent(event)

    def closeEvent(self, event: QCloseEvent | None) -> None:  # noqa: N802 - Qt's name
        """It stays open while somebody runs: closing would end what leads them."""
        if event is None:
            return
        if self._jobs.held:
            self.tell(
                _("A session is still open."),
                _("End it on its own screen first; then this window can be closed."),
            )
            event.ignore()
            return
        if not self.page.leave():
            event.ignore()
            return
        self._jobs.end_all()
        super().closeEvent(event)


def main(arguments: list[str] | None = None) -> int:
    """Open the window and stay until it is closed."""
    parser = argparse.ArgumentParser(
        prog="feedback.screens.start.window",
        description="The start window; the program opens it.",
    )
    parser.add_argument("file", nargs="?", default="", help="a prescription to run at home")
    options = parser.parse_args(arguments)
    first = None
    if options.file:
        first = Place(PageName.HOME, Context(prescription=Path(options.file).absolute()))
    app = make_app()
    app.setDesktopFileName("beltside")
    window = StartWindow(first)
    # Asked to end, as by Ctrl+C where it was started: the tidying timer lets Python see it.
    signal.signal(signal.SIGTERM, lambda *_: app.quit())
    app.aboutToQuit.connect(window.jobs.end_all)
    fit_to_screen(window)
    window.show()
    return run_loop(app)


if __name__ == "__main__":
    sys.exit(main())
