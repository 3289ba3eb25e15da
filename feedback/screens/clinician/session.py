"""The panel's cards for the blocks of the drill, the runner's ratings, and notes."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from PyQt6.QtCore import QSize, Qt
from PyQt6.QtGui import QFont, QFontMetrics, QKeyEvent
from PyQt6.QtWidgets import (
    QAbstractItemView,
    QButtonGroup,
    QFrame,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QListWidget,
    QPushButton,
    QSizePolicy,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from feedback.screens.clinician.log import LogLine
from feedback.screens.clinician.model import PanelShowing
from feedback.screens.clinician.requests import Message, MessageTone
from feedback.screens.widgets.icons import icon
from feedback.screens.widgets.stop_keys import KeysBack
from feedback.screens.widgets.style import card, enable, label, mark, named, room_for, rows_px, tip
from feedback.texts.clinician import say
from shared.changes import MOST_NOTE_LETTERS
from shared.plain_text import plain_line
from shared.targets import Question

_MOST: Final = 10
_NUMBER_PX: Final = 25
_NAME_PX: Final = 68
"""Least width of a number to press: WCAG 2.2, 2.5.8 asks for 24."""
_MESSAGE_ROWS: Final = 2
"""Holds the longest answer in a wide card; a narrow one takes a row more."""
_BLOCK_ROWS: Final = 3
"""The one that is on, in the middle; the others are scrolled to."""


class ReadOnlyList(QListWidget):
    """A list that is read and scrolled, and in which nothing is typed."""

    def __init__(self, name: str, about: str, *, wrap: bool = True) -> None:
        super().__init__()
        named(self, name, about)
        self.setToolTip("")
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setWordWrap(wrap)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._texts: tuple[str, ...] = ()

    def say_lines(self, texts: tuple[str, ...], current: int = -1) -> None:
        """Show these lines; ``current`` is the one to keep in sight."""
        if texts == self._texts:
            return
        same = len(texts) == len(self._texts)
        self._texts = texts
        if same:
            for number, text in enumerate(texts):
                item = self.item(number)
                if item is not None and item.text() != text:
                    item.setText(text)
        else:
            self.clear()
            self.addItems(texts)
        for number in range(len(texts)):
            item = self.item(number)
            if item is not None:
                face = item.font()
                face.setBold(number == current)
                item.setFont(face)
                item.setToolTip(tip(texts[number]))
        shown = self.item(current) if current >= 0 else None
        if shown is not None:
            self.scrollToItem(shown, QAbstractItemView.ScrollHint.PositionAtCenter)

    def keyPressEvent(self, event: QKeyEvent | None) -> None:  # noqa: N802 - Qt's name
        """Letters do not search."""
        if event is not None and event.text().isprintable() and event.text().strip():
            event.ignore()
            return
        super().keyPressEvent(event)


class BlocksView(QFrame):
    """What the drill is made of, which block is on, and the way to the next one."""

    def __init__(
        self,
        next_block: Callable[[int, int], None],
        pause: Callable[[], None] | None,
        go_on: Callable[[], None] | None,
    ) -> None:
        super().__init__()
        card(self)
        self._now, self._next, self._waits = 0, 0, False
        self._next_block = next_block
        layout = QVBoxLayout(self)
        layout.setContentsMargins(10, 8, 10, 8)
        layout.setSpacing(4)
        self._message = _message_beside(layout, say("blocks"), _MESSAGE_ROWS + 1)
        self._none = label(say("blocks_none"), "label", wrap=True)
        self.list = ReadOnlyList(say("blocks"), say("blocks_about"), wrap=False)
        self.list.setFixedHeight(rows_px(_BLOCK_ROWS) + 4 * _BLOCK_ROWS + 10)
        layout.addWidget(self._none)
        layout.addWidget(self.list)
        layout.addStretch(1)
        buttons = QHBoxLayout()
        self.next_button = QPushButton(icon("skip"), say("next_block"))
        self.next_button.clicked.connect(self._on_next)
        self.pause_button = QPushButton(icon("pause"), say("pause"))
        self.go_on_button = QPushButton(icon("go_on"), say("go_on"))
        named(self.pause_button, say("pause"), say("pause_about"))
        named(self.go_on_button, say("go_on"), say("go_on_about"))
        buttons.addWidget(self.next_button)
        for button, act in ((self.pause_button, pause), (self.go_on_button, go_on)):
            if act is None:
                button.hide()
            else:
                button.clicked.connect(act)
                buttons.addWidget(button)
        layout.addLayout(buttons)

    def refresh(self, showing: PanelShowing, message: Message | None, *, waits: bool) -> None:
        """Show where the drill stands."""
        texts = tuple(block.text for block in showing.blocks)
        on = next((at for at, block in enumerate(showing.blocks) if block.on), -1)
        self._none.setVisible(not texts)
        self.list.setVisible(bool(texts))
        self.next_button.setVisible(bool(texts))
        self.list.say_lines(texts, on)
        self._now, self._next = showing.block_now, showing.next_block or 0
        self._waits = waits
        enable(self.next_button, showing.next_block is not None, self)
        about = say("next_block_none")
        if showing.next_block is not None:
            about = say("next_block_about", number=showing.next_block)
        named(self.next_button, say("next_block"), about)
        enable(self.pause_button, showing.pausable, self)
        enable(self.go_on_button, showing.can_go_on, self)
        _tell(self._message, message)

    def _on_next(self) -> None:
        if not self._waits:
            self._next_block(self._now, self._next)


class _Name(QLabel):
    """As wide in every row as the widest of the names, in whatever language and letters."""

    def minimumSizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        heavy = QFont(self.font())
        heavy.setBold(True)  # as the one that is being asked
        names = (say(f"rating_{one}") for one in Question)
        widest = max(QFontMetrics(heavy).horizontalAdvance(name) for name in names)
        return QSize(max(_NAME_PX, widest + 2), super().minimumSizeHint().height())

    def sizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        return self.minimumSizeHint()


class RatingRow(QWidget):
    """Eleven numbers for one question: choose one, then Record."""

    def __init__(self, question: Question, record: Callable[[Question, int], None]) -> None:
        super().__init__()
        self.question = question
        self._what = say(f"rating_{question}")
        layout = QHBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(2)
        self.name = _Name(self._what)
        layout.addWidget(self.name)
        self._group = QButtonGroup(self)
        self.buttons: list[QToolButton] = []
        for value in range(_MOST + 1):
            button = QToolButton()
            button.setText(str(value))
            button.setCheckable(True)
            button.setMinimumWidth(_NUMBER_PX)
            button.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
            # one stop of the Tab key for the whole row; the arrow keys move within it
            button.setFocusPolicy(
                Qt.FocusPolicy.StrongFocus if value == 0 else Qt.FocusPolicy.ClickFocus
            )
            named(button, say("rating_value", what=self._what, value=value))
            self._group.addButton(button, value)
            self.buttons.append(button)
            layout.addWidget(button, 1)
        self.record = QPushButton(say("rating_record"))
        self.record.setEnabled(False)
        self.record.setProperty("tight", "true")
        named(
            self.record,
            say("rating_record_about", what=self._what),
            say("rating_record_about", what=self._what),
        )
        self.record.clicked.connect(lambda: record(self.question, self._group.checkedId()))
        self._group.idToggled.connect(lambda *_: self._look())
        layout.addSpacing(4)
        layout.addWidget(self.record)
        self._live = False

    @property
    def chosen(self) -> int | None:
        """The number that is chosen."""
        value = self._group.checkedId()
        return value if value >= 0 else None

    def refresh(self, *, live: bool, asked: bool, about: str) -> None:
        """Whether a rating can be sent, and whether it is asked for now."""
        self._live = live
        mark(self.name, "well", not asked)
        face = self.name.font()
        if face.bold() != asked:
            face.setBold(asked)
            self.name.setFont(face)
        for button in self.buttons:
            button.setEnabled(live)
            button.setAccessibleDescription(about)
        self._look()

    def clear(self) -> None:
        """Nothing is chosen any more: it was recorded."""
        self._group.setExclusive(False)
        for button in self.buttons:
            button.setChecked(False)
        self._group.setExclusive(True)
        self._look()

    def keyPressEvent(self, event: QKeyEvent | None) -> None:  # noqa: N802 - Qt's name
        """Arrows move the choice, Home and End go to 0 and 10, digits choose, Return records."""
        if event is None:
            return
        value = self.chosen
        ways = {Qt.Key.Key_Left: -1, Qt.Key.Key_Right: 1}
        wanted: int | None = None
        if event.key() in ways:
            step = ways[Qt.Key(event.key())]
            wanted = 0 if value is None else min(max(value + step, 0), _MOST)
        elif event.key() == Qt.Key.Key_Home:
            wanted = 0
        elif event.key() == Qt.Key.Key_End:
            wanted = _MOST
        elif Qt.Key.Key_0 <= event.key() <= Qt.Key.Key_9:
            wanted = event.key() - Qt.Key.Key_0
        elif event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and self.record.isEnabled():
            self.record.click()
            return
        if wanted is None or not self._live:
            event.ignore()
            return
        self.buttons[wanted].setChecked(True)
        self.buttons[wanted].setFocus()

    def _look(self) -> None:
        self.record.setEnabled(self._live and self.chosen is not None)


class RatingsView(QFrame):
    """Pain, effort and awkwardness, each from 0 to 10."""

    def __init__(self, rate: Callable[[Question, int], None]) -> None:
        super().__init__()
        card(self)
        self._rate = rate
        layout = QGridLayout(self)
        layout.setContentsMargins(10, 8, 10, 8)
        layout.setVerticalSpacing(4)
        layout.addWidget(label(say("ratings"), "title"), 0, 0)
        self._pain = label("", "label")
        self._pain.setAlignment(Qt.AlignmentFlag.AlignRight)
        layout.addWidget(self._pain, 0, 1)
        layout.setColumnStretch(1, 1)
        self.rows = {question: RatingRow(question, self._on_record) for question in Question}
        for number, row in enumerate(self.rows.values(), start=1):
            layout.addWidget(row, number, 0, 1, 2)
        self._message = room_for(label("", "label"), 1)
        layout.addWidget(self._message, len(self.rows) + 1, 0, 1, 2)
        self._sent = ""

    def refresh(self, showing: PanelShowing) -> None:
        """Show what is asked and what was rated."""
        self._pain.setText(showing.pain)
        for question, row in self.rows.items():
            row.refresh(
                live=showing.live,
                asked=showing.asked is question,
                about=say(f"rating_about_{question}", limit=showing.pain_limit),
            )
        text = self._sent or say("rating_scale", limit=showing.pain_limit)
        if showing.asked is not None:
            text = say("rating_asked", what=say(f"rating_{showing.asked}"))
        self._message.setText(text)
        mark(self._message, "well", showing.asked is None)

    def _on_record(self, question: Question, value: int) -> None:
        self._rate(question, value)
        self.rows[question].clear()
        self._sent = say("rating_sent", what=say(f"rating_{question}"), value=value)
        self._message.setText(self._sent)


class NotesView(QFrame):
    """A line to type a note into."""

    def __init__(self, add: Callable[[str], None]) -> None:
        super().__init__()
        card(self)
        self._add = add
        layout = QVBoxLayout(self)
        layout.setContentsMargins(10, 8, 10, 8)
        layout.setSpacing(4)
        self._message = _message_beside(layout, say("notes"))
        self.field = QLineEdit()
        self.field.setMaxLength(MOST_NOTE_LETTERS)
        self.field.setPlaceholderText(say("note_hint"))
        named(self.field, say("note_field"), say("note_about"))
        self.add_button = QPushButton(say("note_add"))
        named(self.add_button, say("note_add"), say("note_add_about"))
        row = QHBoxLayout()
        row.addWidget(self.field, 1)
        row.addWidget(self.add_button)
        layout.addLayout(row)
        self.field.returnPressed.connect(self._on_add)
        self.add_button.clicked.connect(self._on_add)
        self.field.textChanged.connect(lambda _: self._look())
        self._live = False
        self._keys_gone = False
        self.keys_back: KeysBack | None = None
        self._look()

    def give_keys_back_to(self, heir: QWidget) -> None:
        """Who has the keys once nothing was typed for a while; what is typed stays."""
        self.keys_back = KeysBack(self.field, heir)
        self.keys_back.gave.connect(self._on_keys_gone)

    def refresh(self, message: Message | None, *, live: bool) -> None:
        """Whether a note can be sent; one that is typed stays while it cannot."""
        self._live = live
        self._keys_gone = self._keys_gone and not self.field.hasFocus() and bool(self.field.text())
        if self._keys_gone:
            message = Message(say("note_keys_gone"), MessageTone.WAITING)
        _tell(self._message, message)
        self._look()

    def _on_keys_gone(self) -> None:
        self._keys_gone = True

    def taken(self) -> None:
        """The note is on record."""
        self.field.clear()

    def _on_add(self) -> None:
        text = plain_line(self.field.text(), MOST_NOTE_LETTERS)
        if text and self._live:
            self._add(text)

    def _look(self) -> None:
        self.add_button.setEnabled(self._live and bool(plain_line(self.field.text())))


class LogView(QFrame):
    """Cues, changes and notes, newest first."""

    def __init__(self) -> None:
        super().__init__()
        card(self)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(10, 8, 10, 8)
        layout.setSpacing(4)
        self._company = label("", "label")
        first = QHBoxLayout()
        self._company.setAlignment(Qt.AlignmentFlag.AlignRight)
        first.addWidget(label(say("log"), "title"))
        first.addWidget(self._company, 1)
        layout.addLayout(first)
        self.list = ReadOnlyList(say("log"), say("log_about"))
        self.list.setMinimumHeight(70)
        layout.addWidget(self.list)

    def refresh(self, lines: tuple[LogLine, ...], company: str, *, details: bool) -> None:
        """Show these lines, and who else takes part."""
        self._company.setText(company)
        self.list.say_lines(
            tuple(line.details if details and line.details else line.text for line in lines)
        )


def _message_beside(layout: QVBoxLayout, title: str, rows: int = _MESSAGE_ROWS) -> QLabel:
    """A line with the title of a card and, beside it, room for what came of a request."""
    row = QHBoxLayout()
    row.setSpacing(12)
    message = room_for(label("", "label"), rows)
    message.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)
    row.addWidget(label(title, "title"), 0, Qt.AlignmentFlag.AlignTop)
    row.addWidget(message, 1)
    layout.addLayout(row)
    return message


def _tell(place: QLabel, message: Message | None) -> None:
    text = "" if message is None else message.text
    place.setText(text)
    place.setToolTip(tip(text))
    mark(place, "well", message is None or message.tone is not MessageTone.BAD)
