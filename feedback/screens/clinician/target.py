"""One target's card: what holds, how the runner stands to it, and the control that moves it.

Two actions change a target: choose a value (type it, or press + and -) and press Set.
"""

from __future__ import annotations

from collections.abc import Callable

from PyQt6.QtCore import Qt
from PyQt6.QtWidgets import (
    QDoubleSpinBox,
    QFrame,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from feedback.screens.clinician.model import Card
from feedback.screens.clinician.requests import Message, MessageTone
from feedback.screens.widgets.style import card, enable, label, mark, named, room_for, tip
from feedback.texts import runner as wording
from feedback.texts.clinician import say
from shared.catalogue import CATALOGUE
from shared.flow import BandState

_OUT = frozenset({BandState.BELOW, BandState.ABOVE})
_MESSAGE_ROWS = 2
"""Holds the longest answer."""


class TargetView(QFrame):
    """Shows one card; ``adjust`` and ``undo`` are called with the revision that was seen."""

    def __init__(
        self,
        shown: Card,
        adjust: Callable[[int, int, float], None],
        undo: Callable[[int, int], None],
    ) -> None:
        super().__init__()
        card(self)
        self._card = shown
        self._adjust, self._undo = adjust, undo
        self._waits = False
        self._editing_revision: int | None = None
        """The target as it was when the clinician began to choose; None: nothing is chosen."""
        self._title = room_for(label("", "title"), 1)
        self._band = room_for(label("", "strong"), 1)
        self._value = room_for(label(), 1)
        self._notes = label("", "label")
        self._allowed = room_for(label("", "label"), 1)
        self._message = room_for(label("", "label"), _MESSAGE_ROWS)
        self.field = QDoubleSpinBox()
        self.field.setKeyboardTracking(False)
        self.field.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.field.setMinimumWidth(84)
        self.less, self.more = QPushButton(say("less")), QPushButton(say("more"))
        self.set_button, self.undo_button = QPushButton(say("set")), QPushButton(say("undo"))
        for button in (self.less, self.more):
            button.setFixedWidth(44)
            button.setAutoRepeat(True)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(10, 8, 10, 8)
        layout.setSpacing(4)
        layout.addWidget(_row(self._title, self._notes))
        layout.addWidget(self._band)
        layout.addWidget(self._value)
        controls = QHBoxLayout()
        controls.setSpacing(6)
        for widget in (self.less, self.field, self.more, self.set_button, self.undo_button):
            controls.addWidget(widget, 1 if widget is self.field else 0)
        layout.addLayout(controls)
        layout.addWidget(self._allowed)
        layout.addWidget(self._message)
        self.less.clicked.connect(lambda: self._step(-1))
        self.more.clicked.connect(lambda: self._step(1))
        self.set_button.clicked.connect(self._on_set)
        self.undo_button.clicked.connect(self._on_undo)
        self.field.valueChanged.connect(self._on_edit)
        line = self.field.lineEdit()
        if line is not None:
            line.textEdited.connect(self._on_edit)
            line.returnPressed.connect(self._on_set)
        self._adopt(shown)

    @property
    def editing(self) -> bool:
        """Whether a value is chosen that is not set yet."""
        return self._editing_revision is not None

    @property
    def message(self) -> QLabel:
        """The line that tells what came of a change."""
        return self._message

    def refresh(
        self,
        shown: Card,
        message: Message | None,
        *,
        changeable: bool,
        old: bool,
        waits: bool,
    ) -> None:
        """Show the target as it holds now; ``waits``: for an answer."""
        if shown != self._card:
            self._adopt(shown)
        if self.editing and shown.revision != self._editing_revision and not waits:
            text = say(
                "changed_meanwhile", band=shown.band, who=shown.changed_by or say("somebody")
            )
            message = Message(text, MessageTone.BAD)
        text = "" if message is None else message.text
        self._message.setText(text)
        self._message.setToolTip(tip(text))
        mark(self._message, "well", message is None or message.tone is not MessageTone.BAD)
        for line in (self._band, self._value):
            mark(line, "old", old)
        mark(self._value, "well", shown.state not in _OUT)
        self._waits = waits
        usable = changeable and shown.movable
        for control in (self.field, self.less, self.more):
            enable(control, usable, self)
        enable(self.set_button, usable and self.editing, self.field)
        enable(self.undo_button, changeable and shown.can_undo, self.field)

    def let_go(self) -> None:
        """Forget what was chosen and show what holds: it was set, or it was refused."""
        self._editing_revision = None
        self._adopt(self._card)

    def _adopt(self, shown: Card) -> None:
        first = shown.number == self._card.number and not self._title.text()
        before, self._card = self._card, shown
        self._title.setText(shown.title)
        self._title.setToolTip(CATALOGUE[shown.measure].definition)
        self._band.setText(shown.band)
        self._value.setText(shown.value)
        self._notes.setText(shown.notes)
        self._allowed.setText(shown.allowed)
        if first or before.title != shown.title or before.allowed != shown.allowed:
            self._name_controls(shown)
        self.field.blockSignals(True)
        self.field.setDecimals(shown.decimals)
        self.field.setSingleStep(shown.step)
        if not self.editing:
            self.field.setRange(min(shown.least, shown.aim), max(shown.most, shown.aim))
            self.field.setValue(shown.aim)
        self.field.blockSignals(False)

    def _name_controls(self, shown: Card) -> None:
        step = wording.number(shown.step, shown.decimals)
        words = {"title": shown.title, "step": step, "unit": shown.unit}
        named(self.less, say("less_about", **words), shown.allowed)
        named(self.more, say("more_about", **words), shown.allowed)
        about = say(
            "aim_about",
            least=wording.number(shown.least, shown.decimals),
            most=wording.number(shown.most, shown.decimals),
            unit=shown.unit,
        )
        named(self.field, say("aim_name", title=shown.title), about)
        named(self.set_button, say("set_about", title=shown.title), shown.allowed)
        undo = say("undo_about", title=shown.title)
        named(self.undo_button, undo, undo)

    def _step(self, way: int) -> None:
        self._begin()
        self.field.stepBy(way)

    def _on_edit(self, *_: object) -> None:
        self._begin()

    def _begin(self) -> None:
        if self._editing_revision is None:
            self._editing_revision = self._card.revision
            # what is chosen must lie in the range; what holds may lie outside it
            self.field.blockSignals(True)
            self.field.setRange(self._card.least, self._card.most)
            self.field.blockSignals(False)
            self.set_button.setEnabled(True)

    def _on_set(self) -> None:
        if self._waits or not self.field.isEnabled():
            return
        self.field.interpretText()
        if self._editing_revision is not None:
            self._adjust(self._card.number, self._editing_revision, self.field.value())

    def _on_undo(self) -> None:
        if self._waits:
            return
        self._editing_revision = None
        self._undo(self._card.number, self._card.revision)


def _row(left: QLabel, right: QLabel) -> QWidget:
    made = QWidget()
    grid = QGridLayout(made)
    grid.setContentsMargins(0, 0, 0, 0)
    right.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignTop)
    grid.addWidget(left, 0, 0)
    grid.addWidget(right, 0, 1)
    grid.setColumnStretch(0, 3)
    grid.setColumnStretch(1, 2)
    return made
