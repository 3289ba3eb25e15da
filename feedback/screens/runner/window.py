"""The runner's screen: a window of its own process that shows and asks, and holds no session.

Run with ``python -m feedback.screens.runner.window --port N`` and the token in BELTSIDE_TOKEN.
"""

from __future__ import annotations

import argparse
import os
import sys
from dataclasses import replace
from typing import Final, Protocol

from PyQt6.QtCore import QEvent, QObject, Qt, QTimer, pyqtSignal
from PyQt6.QtGui import QCloseEvent, QColor, QKeyEvent, QPainter, QPaintEvent, QResizeEvent
from PyQt6.QtWidgets import QWidget

from feedback.link.client_state import LinkState, LinkStatus
from feedback.link.local_client import LinkClient
from feedback.screens.runner.button import BigButton
from feedback.screens.runner.keys import ANSWERS, DIGITS, Act, RatingKeys, act_of
from feedback.screens.runner.layout import Places, Sight, arrange, is_large_enough, px_per_mm
from feedback.screens.runner.model import Button, RunnerPage, Showing, show
from feedback.screens.runner.paint import paint
from feedback.screens.widgets import palette
from feedback.screens.widgets.application import (
    fill_screen,
    make_app,
    run_loop,
    shared_parts,
    take_part,
)
from feedback.screens.widgets.awake import keep_awake
from feedback.screens.widgets.help_window import Help
from feedback.screens.widgets.key_kinds import STANDS_NS
from feedback.screens.widgets.launch import preferred
from feedback.screens.widgets.orphaned import Orphaned
from feedback.screens.widgets.runner_options import BESIDE, DISTANCE_M, TOKEN_VARIABLE
from feedback.screens.widgets.share_monitor import MonitorPart
from feedback.texts.runner import words
from shared.clock import now_ns
from shared.messages import Confirm, GoOn, Pause, Request, SessionState
from shared.targets import Question

_TICK_MS: Final = 100
_PING_NS: Final = 300_000_000
_CHANGE_NS: Final = 250_000_000
"""At most four changes a second, so that nothing can flash more than twice a second (WCAG 2.2,
2.3.1, allows three) and the number can be read."""
_CLOSE_GUARD_NS: Final = 1_000_000_000
"""A second press of the stop key must not close the page that says it was heard."""
REQUESTS: Final[dict[Act, Request]] = {
    Act.CONFIRM: Confirm(),
    Act.PAUSE: Pause(),
    Act.GO_ON: GoOn(),
}


class Link(Protocol):
    """What the window needs of its link."""

    def status(self) -> LinkStatus:
        """What is known now."""

    def stop(self) -> None:
        """Ask for Stop."""

    def ask(self, request: Request) -> None:
        """Ask for something else."""

    def ping(self) -> None:
        """Give a sign of life."""

    def close(self) -> None:
        """Leave."""


class News(QObject):
    """Carries "something is new" from the link's thread to the window's; never piles up."""

    came = pyqtSignal()

    def __init__(self) -> None:
        super().__init__()
        self._told = False

    def tell(self) -> None:
        """Callable from any thread."""
        if not self._told:
            self._told = True
            self.came.emit()

    def taken(self) -> None:
        """The window is about to look."""
        self._told = False


class RunnerWindow(QWidget):
    """Shows the newest of the link. The button and (nearly) every key ask for Stop."""

    def __init__(self, link: Link, news: News, distance_m: float = DISTANCE_M) -> None:
        super().__init__()
        self.news = news
        self._link = link
        self._distance_m = distance_m
        self._ratings = RatingKeys()
        self._changed_ns = 0
        self._pinged_ns = 0
        self._closable_ns: int | None = None
        self._since_ns = 0
        """When what can be answered has come."""
        self._orphaned = Orphaned()
        self._places: Places | None = None
        self._confirmed: bool | None = None
        """Whether the cautions are; None: the panel is not beside this screen on one monitor."""
        self._parted: tuple[MonitorPart, MonitorPart] | None = None
        self.setWindowTitle(words("app_title"))
        self.manual = Help(self, "first-session", by_key=False)
        self.setMinimumSize(160, 120)
        self.stop_button = BigButton(self)
        self.stop_button.pressed.connect(self._on_button_pressed)
        self.stop_button.clicked.connect(self._on_button_clicked)
        self.action_button = BigButton(self)
        self.action_button.clicked.connect(self._on_action_clicked)
        self._showing = Showing(page=RunnerPage.MESSAGE)
        self._adopt(self._fresh(now_ns()), now_ns())
        news.came.connect(self._on_news)
        self._timer = QTimer(self)
        self._timer.timeout.connect(self._on_tick)
        self._timer.start(_TICK_MS)

    @property
    def places(self) -> Places:
        """Where things stand now."""
        if self._places is None:
            self._places = arrange(self.width(), self.height(), self._sight())
        return self._places

    def _sight(self) -> Sight:
        screen = self.screen()
        scale = px_per_mm(0, 0)
        if screen is not None:
            scale = px_per_mm(screen.size().width(), screen.physicalSize().width())
        return Sight(scale, self._distance_m)

    @property
    def showing(self) -> Showing:
        """What the window shows now."""
        return self._showing

    def ask_stop(self) -> None:
        """Ask for Stop and show at once that it was heard."""
        self._link.stop()
        self._refresh()

    def share_monitor(self) -> None:
        """Take the whole of the one monitor but for the panel's bar, and later leave it more."""
        self._confirmed = False
        self._take_part()

    def _take_part(self) -> None:
        """Stand where there is a part for this screen now."""
        snapshot = self._link.status().snapshot
        confirmed = snapshot is not None and snapshot.state is not SessionState.CAUTIONS
        if confirmed != self._confirmed or self._parted is None:
            self._confirmed = confirmed
            parts = self._parted = shared_parts(confirmed=confirmed)
            if parts is not None:
                take_part(self, parts[0])

    # ---- what Qt calls

    def keyPressEvent(self, event: QKeyEvent | None) -> None:  # noqa: N802 - Qt's name
        """Stop, but for the few keys that feedback.screens.runner.keys names."""
        if event is None:
            return
        act = act_of(event, self._showing)
        if act in ANSWERS and now_ns() - self._since_ns < STANDS_NS:
            return
        if act is Act.STOP:
            self.ask_stop()
        elif act is Act.CLOSE:
            self._close_if_seen()
        elif act is Act.HELP:
            self.manual.open()
        elif act is Act.RATE and self._showing.rates is not None:
            digit = DIGITS[Qt.Key(event.key())]
            self._ask(self._ratings.press(digit, self._showing.rates, now_ns()))
        elif act is not None:
            self._link.ask(REQUESTS[act])

    def event(self, event: QEvent | None) -> bool:
        """Tab stops too, instead of moving a focus that is not there."""
        if isinstance(event, QKeyEvent) and event.type() == QEvent.Type.KeyPress:
            self.keyPressEvent(event)
            return True
        return super().event(event)

    def closeEvent(self, event: QCloseEvent | None) -> None:  # noqa: N802 - Qt's name
        """Closing the window takes the stop control away, so it asks for Stop first."""
        self._timer.stop()
        if self.stop_button.kind is Button.STOP:
            self._link.stop()
        self._link.close()
        super().closeEvent(event)

    def resizeEvent(self, event: QResizeEvent | None) -> None:  # noqa: N802 - Qt's name
        """Divide the window anew."""
        self._places = None
        for button, box in (
            (self.stop_button, self.places.stop),
            (self.action_button, self.places.action),
        ):
            button.setGeometry(int(box.x), int(box.y), int(box.width), int(box.height))
        super().resizeEvent(event)

    def paintEvent(self, event: QPaintEvent | None) -> None:  # noqa: ARG002, N802 - Qt's name
        """Draw what is shown."""
        painter = QPainter(self)
        painter.fillRect(self.rect(), QColor(palette.ground()))
        paint(painter, self.places, self._showing)
        painter.end()

    # ---- inside

    def _on_news(self) -> None:
        self.news.taken()
        self._refresh()

    def _on_tick(self) -> None:
        at_ns = now_ns()
        if at_ns - self._pinged_ns >= _PING_NS:
            self._pinged_ns = at_ns
            self._link.ping()
        self._ask(self._ratings.wait(at_ns))
        self._refresh()

    def _ask(self, requests: tuple[Request, ...]) -> None:
        for request in requests:
            self._link.ask(request)

    def _refresh(self) -> None:
        at_ns, status = now_ns(), self._link.status()
        if status.state is LinkState.ENDED or self._orphaned.is_over(status.state, at_ns):
            self.close()  # the station closes its screens when it is done with them
            return
        fresh = self._fresh(at_ns)
        if self._confirmed is not None:
            self._take_part()
        if fresh == self._showing:
            return
        urgent = fresh.final and not self._showing.final
        if not urgent and at_ns - self._changed_ns < _CHANGE_NS:
            return  # the next tick brings it
        self._adopt(fresh, at_ns)

    def _fresh(self, at_ns: int) -> Showing:
        """What is to be shown; before the run also that this screen is too small, where it is."""
        fresh = show(self._link.status(), at_ns)
        if fresh.page is not RunnerPage.READY or is_large_enough(self.places, self._sight()):
            return fresh
        distance = f"{self._distance_m:g}".replace(".", words("decimal_point"))
        small = words("screen_small", distance=distance)
        return replace(fresh, small_print=(small, *fresh.small_print))

    def _adopt(self, fresh: Showing, at_ns: int) -> None:
        before = self._showing
        # Pain may be told at any time; with no question before, a digit can mean nothing else.
        told_at_once = before.rates is None and fresh.rates is Question.PAIN
        if fresh.action != before.action or (fresh.rates != before.rates and not told_at_once):
            self._since_ns = at_ns
        self._showing = fresh
        if fresh.action is not Button.CONFIRM:
            self.manual.close()  # it must not lie over Stop
        self._changed_ns = at_ns
        if fresh.button is not self.stop_button.kind:
            self._closable_ns = at_ns + _CLOSE_GUARD_NS if fresh.button is Button.CLOSE else None
            self.stop_button.say(fresh.button)
        self.action_button.setVisible(fresh.action is not None)
        if fresh.action is not None:
            self.action_button.say(fresh.action)
        self.update()

    def _on_button_pressed(self) -> None:
        if self.stop_button.kind is Button.STOP:
            self.ask_stop()

    def _on_button_clicked(self) -> None:
        if self.stop_button.kind is Button.CLOSE:
            self._close_if_seen()

    def _on_action_clicked(self) -> None:
        if self._showing.action is not None:
            self._link.ask(REQUESTS[Act(self._showing.action.value)])

    def _close_if_seen(self) -> None:
        if self._closable_ns is not None and now_ns() >= self._closable_ns:
            self.close()


def main(arguments: list[str] | None = None) -> int:
    """Open the window and stay until it is closed."""
    parser = argparse.ArgumentParser(
        prog="feedback.screens.runner.window",
        description="The runner's screen; the station starts it.",
    )
    parser.add_argument("--port", type=int, required=True, help="port of the station's link")
    parser.add_argument(
        "--distance-m", type=float, default=DISTANCE_M, help="from the runner's eyes to the screen"
    )
    parser.add_argument("--windowed", action="store_true", help="a window, not the full screen")
    parser.add_argument(BESIDE, action="store_true", help="the panel is opened too")
    options = parser.parse_args(arguments)
    token = os.environ.pop(TOKEN_VARIABLE, "")
    if not token:
        print(words("needs_station"), file=sys.stderr)  # noqa: T201 - a message to a person
        return 2
    app = make_app(from_afar=True)
    news = News()
    link = LinkClient(options.port, token, "runner", news.tell)
    link.start()
    window = RunnerWindow(link, news, options.distance_m)
    if options.beside and shared_parts() is not None:
        window.setWindowFlag(Qt.WindowType.FramelessWindowHint, on=not options.windowed)
        window.share_monitor()
        window.show()
    elif options.windowed:
        window.resize(1280, 720)
        window.show()
    else:
        fill_screen(window, preferred().runner_monitor)
    window.activateWindow()
    keep_awake()
    return run_loop(app)


if __name__ == "__main__":
    sys.exit(main())
