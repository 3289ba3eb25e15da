"""All of the panel for one station: shows what its link knows, and asks for what is wanted."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final, Protocol

from PyQt6.QtCore import Qt, QTimer, pyqtSignal
from PyQt6.QtGui import QKeySequence, QShortcut
from PyQt6.QtWidgets import QPushButton, QVBoxLayout, QWidget

from feedback.link.client_state import LinkState, LinkStatus
from feedback.screens.clinician.chart_data import Traces
from feedback.screens.clinician.charts import ChartsView, charted
from feedback.screens.clinician.focus import FocusView
from feedback.screens.clinician.head import Head
from feedback.screens.clinician.layout import Column, PanelBody, Parts
from feedback.screens.clinician.log import PanelLog
from feedback.screens.clinician.measure_rows import MeasureRow, folded
from feedback.screens.clinician.measures import MeasureTable
from feedback.screens.clinician.model import PanelShowing, show_panel, station_now_ns
from feedback.screens.clinician.picture import PictureView
from feedback.screens.clinician.requests import Asking, MessageTone
from feedback.screens.clinician.session import BlocksView, LogView, NotesView, RatingsView
from feedback.screens.clinician.target import TargetView
from feedback.screens.replay.window import ReplayWindow
from feedback.screens.widgets.design import GAP_PX
from feedback.screens.widgets.icons import icon
from feedback.screens.widgets.orphaned import Orphaned
from feedback.screens.widgets.stop_keys import KeysBack
from feedback.screens.widgets.style import label, named, room_for, tip
from feedback.texts.clinician import say
from shared.changes import Adjust, Answered, MoveBlock, Note, SetVolume, Undo
from shared.clock import now_ns
from shared.flow import View
from shared.messages import GoOn, Pause, Point, Rating, Request
from shared.pictures import ReplayEnd, ReplayPicture, WatchPictures
from shared.targets import Question

TICK_MS: Final = 33
_REPLAY_KEY: Final = "Ctrl+R"
_DETAILS_KEY: Final = "Ctrl+D"
_WORDS_NS: Final = 250_000_000
"""At most four changes of a word a second: it can be read, and nothing can flash more than twice
(WCAG 2.2, 2.3.1, allows three)."""
_CHART_NS: Final = 90_000_000
"""One chart is drawn at a time, so that each of three is new about four times a second."""
_PING_NS: Final = 300_000_000
_WATCH_NS: Final = 2_000_000_000
_FOLDED_ROWS: Final = 2
_TARGET: Final = "target {}"
_NOTES: Final = "notes"
_BLOCKS: Final = "blocks"
_VOLUME: Final = "volume"
_REFUSAL_NS: Final = 8_000_000_000
"""How long it is told that the volume was not changed, over what else is wrong."""


class PanelLink(Protocol):
    """What the panel needs of its link, near or far."""

    def status(self) -> LinkStatus:
        """What is known now."""

    def take_points(self) -> tuple[Point, ...]:
        """Values for the charts that came since the last call."""

    def take_answers(self) -> tuple[Answered, ...]:
        """Answers that came since the last call."""

    def take_replay(self) -> tuple[ReplayPicture | ReplayEnd, ...]:
        """What came of a replay since the last call."""

    def ask(self, request: Request) -> None:
        """Ask for something beside Stop."""

    def stop(self) -> None:
        """Ask for Stop."""

    def ping(self) -> None:
        """Give a sign of life."""

    def close(self) -> None:
        """Leave."""


class StationView(QWidget):
    """One station.

    ``may``: what this kind of screen may ask for; ``orphaned``: when its window is to close though
    the station said nothing, None for never.
    """

    ended = pyqtSignal()
    """The station has said goodbye, or is gone for good."""
    worded = pyqtSignal()
    """The words are new."""

    def __init__(
        self,
        link: PanelLink,
        may: tuple[type[Request], ...],
        pictures_per_s: float,
        orphaned: Orphaned | None = None,
    ) -> None:
        super().__init__()
        self.setObjectName("ground")
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        self._link = link
        self._orphaned = orphaned
        self._pictures_per_s = pictures_per_s
        self._traces, self._log, self._asking = Traces(), PanelLog(), Asking()
        self._blocks_ns: list[int] = []
        self._block = 0
        self._run = ""
        self._chosen = ""
        self._worded_ns = self._charted_ns = self._pinged_ns = self._watched_ns = 0
        self._refused_ns = 0
        self._state: LinkState | None = None
        self._watching = False
        self.showing = PanelShowing()
        self.head = Head()
        self.head.stop.stop.connect(self.ask_stop)
        self.picture, self.table, self.charts = PictureView(), MeasureTable(), ChartsView()
        self.log = LogView()
        self.blocks = BlocksView(
            self._next_block,
            self._asker(Pause, may),
            self._asker(GoOn, may),
        )
        self.ratings, self.notes = RatingsView(self._rate), NotesView(self._add_note)
        self.targets: list[TargetView] = []
        self.table.chosen.connect(self._choose)
        self._no_target = label(say("targets_none"), "label")
        self._cards = Column()
        self._folded = room_for(label("", "label"), _FOLDED_ROWS)
        self.focus = FocusView()
        self.replay: ReplayWindow | None = None
        self.replay_button = QPushButton(icon("replay"), say("replay"))
        named(self.replay_button, say("replay"), say("replay_about"))
        self.replay_button.clicked.connect(self._open_replay)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(GAP_PX, GAP_PX, GAP_PX, GAP_PX)
        layout.setSpacing(GAP_PX)
        layout.addWidget(self.head)
        self.body = self._body()
        layout.addWidget(self.body, 1)
        shortcut = QShortcut(QKeySequence(_REPLAY_KEY), self)
        shortcut.setContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
        shortcut.setAutoRepeat(False)
        shortcut.activated.connect(self._open_replay)
        details = QShortcut(QKeySequence(_DETAILS_KEY), self)
        details.setContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
        details.activated.connect(self.head.details.toggle)
        self.head.volume.on_asked(self._set_volume)
        for keys, turn in (("Ctrl+-", self.head.volume.turn_down), *(
            (keys, self.head.volume.turn_up) for keys in ("Ctrl++", "Ctrl+=")  # + without Shift
        )):  # fmt: skip
            volume = QShortcut(QKeySequence(keys), self)
            volume.setContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
            volume.activated.connect(turn)
        self.head.details.toggled.connect(self.table.show_quality)
        self.head.details.toggled.connect(lambda _: self._refresh_words(link.status(), now_ns()))
        self.notes.give_keys_back_to(self.head.stop)
        self._timer = QTimer(self)
        self._timer.timeout.connect(self.tick)
        self._timer.start(TICK_MS)
        self.tick()

    def ask_stop(self) -> bool:
        """Ask for Stop and show at once that it was heard; False where it is over already."""
        if not self.showing.stoppable:
            return False
        self._link.stop()
        self._refresh_words(self._link.status(), now_ns())
        return True

    def leave(self) -> None:
        """Stop looking, and leave the station."""
        self._timer.stop()
        if self.replay is not None:
            self.replay.close()
        self._link.close()

    def tick(self) -> None:
        """Take in what is new and show it, each thing as often as it is worth it."""
        at_ns, status = now_ns(), self._link.status()
        if status.state is LinkState.ENDED and self._state is not LinkState.ENDED:
            self._state = status.state
            self.ended.emit()
        elif self._orphaned is not None and self._orphaned.is_over(status.state, at_ns):
            self._orphaned = None
            self.ended.emit()
        if at_ns - self._pinged_ns >= _PING_NS:
            self._pinged_ns = at_ns
            self._link.ping()
        self._take_in(status)
        self._watch(status, at_ns)
        self.picture.show_picture(status.picture, old=self.showing.old)
        state_changed = status.state is not self._state
        self._state = status.state
        stop_told = status.stop_asked and self.showing.state == say("state_running")
        if state_changed or stop_told or at_ns - self._worded_ns >= _WORDS_NS:
            self._refresh_words(status, at_ns)
        elif at_ns - self._charted_ns >= _CHART_NS:
            self._refresh_chart(status, at_ns)

    # ---- taking in

    def _take_in(self, status: LinkStatus) -> None:
        briefing, snapshot = status.briefing, status.snapshot
        if briefing is not None and briefing.run != self._run:
            self._run = briefing.run
            self._log.clear()
            self._blocks_ns.clear()
            self._block = 0
            self._traces.begin(briefing.run)
        self._traces.add(self._link.take_points())
        replayed = self._link.take_replay()
        if self.replay is not None:
            self.replay.take(replayed)
        for answer in self._link.take_answers():
            if self.replay is None or not self.replay.on_answer(answer):
                self._on_answer(answer)
        if snapshot is not None:
            self._log.add(snapshot)
            block = snapshot.block
            if block is not None and block.number != self._block:
                if self._block:  # else it began before this screen joined, nobody knows when
                    self._blocks_ns.append(snapshot.at_ns)
                self._block = block.number

    def _on_answer(self, answer: Answered) -> None:
        place = self._asking.on_answer(answer)
        if place == _NOTES and answer.done:
            self.notes.taken()
        for view, shown in zip(self.targets, self.showing.cards, strict=False):
            if place == _TARGET.format(shown.number):
                view.let_go()
        self._worded_ns = 0  # an answer is shown at once

    def _watch(self, status: LinkStatus, at_ns: int) -> None:
        """Have pictures sent while they can be seen; said again, for a station may be new."""
        wanted = self.picture.isVisible() and not self._minimized()
        joined = status.state is LinkState.JOINED
        due = at_ns - self._watched_ns >= _WATCH_NS or self._state is not LinkState.JOINED
        if joined and (wanted != self._watching or (wanted and due)):
            self._watched_ns, self._watching = at_ns, wanted
            self._link.ask(WatchPictures(most_per_s=self._pictures_per_s if wanted else 0))

    def _minimized(self) -> bool:
        window = self.window()
        return window is not None and window.isMinimized()

    # ---- showing

    def _refresh_words(self, status: LinkStatus, at_ns: int) -> None:
        self._worded_ns = at_ns
        self._asking.on_tick(at_ns)
        showing = self.showing = show_panel(status, at_ns)
        self.head.refresh(showing, self._refusal(at_ns))
        self.head.volume.refresh(
            status.snapshot,
            self._asking.message(_VOLUME),
            changeable=showing.live and showing.stoppable,
            waits=self._asking.waits(_VOLUME),
        )
        self.worded.emit()
        self.replay_button.setEnabled(showing.live)
        if self.replay is not None:
            self.replay.say_stoppable(showing.stoppable)
        self.table.refresh(showing.rows, old=showing.old)
        self._fold(showing.rows)
        self.focus.refresh(showing.in_focus, old=showing.old)
        self._show_cards(showing)
        self.blocks.refresh(
            showing, self._asking.message(_BLOCKS), waits=self._asking.waits(_BLOCKS)
        )
        self.ratings.refresh(showing)
        self.notes.refresh(self._asking.message(_NOTES), live=showing.live)
        snapshot = status.snapshot
        self.picture.from_the_side = snapshot is not None and snapshot.view is View.SIDE
        self.charts.choose(charted(() if snapshot is None else snapshot.targets, self._chosen))
        self.charts.say_values(showing.rows)
        self.log.refresh(self._log.lines, showing.company, details=self.head.details.isChecked())

    def _refusal(self, at_ns: int) -> str:
        """Why the volume was not changed, while that is news."""
        message = self._asking.message(_VOLUME)
        if message is None or message.tone is not MessageTone.BAD:
            self._refused_ns = at_ns
            return ""
        if at_ns - self._refused_ns > _REFUSAL_NS:
            self._asking.clear(_VOLUME)
            return ""
        if message.text == say("no_answer"):  # that one speaks of a target
            return say("volume_no_answer")
        return say("volume_refused", why=message.text)

    def _fold(self, rows: Sequence[MeasureRow]) -> None:
        """One line for all measures without a value; which they are is told when asked."""
        reasons = folded(rows)
        text = " · ".join(short for short, _ in reasons)
        if text != self._folded.text():
            names = "\n".join(whole for _, whole in reasons)
            self._folded.setText(text)
            self._folded.setAccessibleDescription(names)
            self._folded.setToolTip(tip(names))

    def _show_cards(self, showing: PanelShowing) -> None:
        while len(self.targets) > len(showing.cards):
            gone = self.targets.pop()
            self._cards.row.removeWidget(gone)
            gone.deleteLater()
        for number, shown in enumerate(showing.cards):
            place = _TARGET.format(shown.number)
            if number == len(self.targets):
                self.targets.append(TargetView(shown, self._adjust, self._undo))
                KeysBack(self.targets[-1].field, self.head.stop)
                self._cards.add(self.targets[-1])
            self.targets[number].refresh(
                shown,
                self._asking.message(place),
                changeable=showing.changeable,
                old=showing.old,
                waits=self._asking.waits(place),
            )
        self._no_target.setVisible(not showing.cards)

    def _refresh_chart(self, status: LinkStatus, at_ns: int) -> None:
        self._charted_ns = at_ns
        station_ns = station_now_ns(status, at_ns)
        if status.snapshot is None or station_ns is None or not self.charts.isVisible():
            return
        self._traces.forget(station_ns)
        own = () if status.briefing is None else status.briefing.own
        self.charts.refresh_next(self._traces, status.snapshot, own, self._blocks_ns, station_ns)

    # ---- asking

    def _open_replay(self) -> None:
        if not self.replay_button.isEnabled():
            return
        if self.replay is None:
            self.replay = ReplayWindow(self._link.ask, self.ask_stop, self.showing.name)
        self.replay.open()

    def _choose(self, measure: str) -> None:
        self._chosen = measure
        self._worded_ns = 0

    def _adjust(self, number: int, revision: int, aim: float) -> None:
        self._ask(
            _TARGET.format(number),
            lambda at: Adjust(id=at, number=number, revision=revision, aim=aim),
        )

    def _undo(self, number: int, revision: int) -> None:
        self._ask(_TARGET.format(number), lambda at: Undo(id=at, number=number, revision=revision))

    def _next_block(self, now: int, to: int) -> None:
        self._ask(_BLOCKS, lambda at: MoveBlock(id=at, now=now, to=to))

    def _set_volume(self, percent: int) -> None:
        self._ask(_VOLUME, lambda at: SetVolume(id=at, percent=percent))

    def _add_note(self, text: str) -> None:
        self._ask(_NOTES, lambda at: Note(id=at, text=text))

    def _rate(self, what: Question, value: int) -> None:
        self._link.ask(Rating(what=what, value=value))

    def _ask(self, place: str, make: Callable[[int], Request]) -> None:
        at_ns = now_ns()
        self._link.ask(self._asking.ask(place, make, at_ns))
        self._refresh_words(self._link.status(), at_ns)

    def _asker(
        self, request: type[Pause] | type[GoOn], may: tuple[type[Request], ...]
    ) -> Callable[[], None] | None:
        return (lambda: self._link.ask(request())) if request in may else None

    # ---- laying out

    def _body(self) -> PanelBody:
        """What is seen, what is measured, and what can be done."""
        return PanelBody(
            Parts(
                picture=self.picture,
                replay=self.replay_button,
                charts=self.charts,
                focus=self.focus,
                blocks=self.blocks,
                ratings=self.ratings,
                targets=(self._no_target, self._cards),
                notes=self.notes,
                measures=(self.table, self._folded),
                log=self.log,
            )
        )
