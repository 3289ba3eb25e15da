"""Finds stations for the console: opens those it is paired with, pairs with the others."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, Protocol

from PyQt6.QtCore import Qt, QTimer
from PyQt6.QtWidgets import (
    QFormLayout,
    QHBoxLayout,
    QLineEdit,
    QListWidget,
    QListWidgetItem,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from feedback.link.address import Address, place_of
from feedback.link.certificate import grouped
from feedback.link.consoles import KnownStation
from feedback.link.discovery import own_addresses
from feedback.link.pairing import CODE_DIGITS
from feedback.link.sightings import FoundStation
from feedback.screens.widgets.style import card, label, mark, named
from feedback.texts.clinician import say
from shared.problems import Problem, UserError, describe

_LOOK_MS: Final = 500
_WIDEST_PX: Final = 640
_LIST_PX: Final = 160


class Stations(Protocol):
    """What is known of stations; feedback.link.directory.Directory, or a stand-in."""

    def known(self) -> tuple[KnownStation, ...]:
        """Those that this console is paired with. Raises UserError."""

    def unknown(self) -> tuple[FoundStation, ...]:
        """Those found that it is not paired with. Raises UserError."""

    def more(self) -> int:
        """How many more are announced than are kept."""

    def is_there(self, station: KnownStation) -> bool:
        """Whether one announces itself now."""

    def pair(self, places: tuple[Address, ...], code: str, name: str) -> KnownStation:
        """Be paired with one. Raises UserError."""


@dataclass(frozen=True, slots=True)
class Choice:
    """One line of the list."""

    text: str
    known: KnownStation | None
    places: tuple[Address, ...]


class JoinView(QWidget):
    """A page of the console. ``join`` opens a station that is paired; ``joined`` are the open."""

    def __init__(
        self,
        stations: Stations,
        name: str,
        join: Callable[[KnownStation], None],
        joined: Callable[[], set[str]],
    ) -> None:
        super().__init__()
        card(self)
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        self._stations, self._name = stations, name
        self._join, self._joined = join, joined
        self._pairing: threading.Thread | None = None
        self._outcome: KnownStation | Problem | None = None
        """What came of pairing, put there by its thread."""
        self._choices: tuple[Choice, ...] = ()
        self._more = 0
        self.list = QListWidget()
        named(self.list, say("join_list"), say("join_list_about"))
        self.list.setToolTip("")
        self.list.setMinimumHeight(_LIST_PX)
        self.address, self.code = QLineEdit(), QLineEdit()
        self.code.setMaxLength(CODE_DIGITS + 1)  # with a space in the middle
        self.address.setPlaceholderText(say("join_address_hint"))
        named(self.address, say("join_address"), say("join_address_about"))
        named(self.code, say("join_code"), say("join_code_about"))
        self.open, self.pair = QPushButton(say("join_open")), QPushButton(say("join_pair"))
        named(self.open, say("join_open"), say("join_open_about"))
        named(self.pair, say("join_pair"), say("join_code_about"))
        self.message = label(wrap=True)
        self._lay_out()
        self.open.clicked.connect(self._on_open)
        self.pair.clicked.connect(self._on_pair)
        self.list.itemActivated.connect(lambda _: self._on_open())
        self.list.currentRowChanged.connect(lambda _: self._look_at_controls())
        self.code.returnPressed.connect(self._on_pair)
        for field in (self.address, self.code):
            field.textChanged.connect(lambda _: self._look_at_controls())
        self._timer = QTimer(self)
        self._timer.timeout.connect(self.look)
        self._timer.start(_LOOK_MS)
        self.look()

    def look(self) -> None:
        """Show which stations there are now, and what came of pairing."""
        outcome, self._outcome = self._outcome, None
        if isinstance(outcome, KnownStation):
            self._tell(say("join_paired", name=outcome.name, called=outcome.called), well=True)
            self.code.clear()
            self.address.clear()
            self._join(outcome)
        elif outcome is not None:
            self._complain(outcome)
        try:
            choices = self._found()
        except UserError as error:
            self._complain(error.problem)
            return
        more = self._stations.more()
        if (choices, more) != (self._choices, self._more):
            current, bar = self.chosen, self.list.verticalScrollBar()
            at_px = 0 if bar is None else bar.value()
            self._choices, self._more = choices, more
            self.list.clear()
            for choice in choices:
                self.list.addItem(QListWidgetItem(choice.text))
            if more:
                item = QListWidgetItem(say("join_more", count=more))
                item.setFlags(Qt.ItemFlag.NoItemFlags)
                self.list.addItem(item)
            same = [
                row
                for row, choice in enumerate(choices)
                if current is not None and choice.places == current.places
            ]
            # What was chosen may be gone for a while; a code must not go to another one.
            gone = -1 if current is not None and current.known is None else 0
            if choices:
                self.list.setCurrentRow(same[0] if same else gone)
            if bar is not None:
                bar.setValue(at_px)
        self._look_at_controls()

    @property
    def chosen(self) -> Choice | None:
        """The line of the list that is chosen."""
        row = self.list.currentRow()
        return self._choices[row] if 0 <= row < len(self._choices) else None

    def _found(self) -> tuple[Choice, ...]:
        joined = self._joined()
        choices = []
        for station in self._stations.known():
            if station.fingerprint in joined:
                continue
            key = "join_there" if self._stations.is_there(station) else "join_not_seen"
            text = say(key, name=station.name, mark=grouped(station.fingerprint)[:9])
            choices.append(Choice(text, station, (Address(station.host, station.port),)))
        for found in self._stations.unknown():
            text = say("join_unpaired", name=found.name, mark=grouped(found.prefix)[:9])
            places = tuple(Address(host, found.port) for host in found.hosts)
            choices.append(Choice(text, None, places))
        return tuple(choices)

    def _lay_out(self) -> None:
        inner = QWidget()
        inner.setMaximumWidth(_WIDEST_PX)
        form = QFormLayout()
        form.addRow(label(say("join_address"), "label"), self.address)
        form.addRow(label(say("join_code"), "label"), self.code)
        buttons = QHBoxLayout()
        buttons.addWidget(self.open)
        buttons.addWidget(self.pair)
        column = QVBoxLayout(inner)
        column.addWidget(label(say("join_title"), "strong"))
        column.addWidget(label(say("join_list_about"), "label", wrap=True))
        column.addWidget(self.list, 1)
        column.addLayout(form)
        here = say("join_here", addresses=", ".join(own_addresses()))
        column.addWidget(label(f"{say('join_code_about')} {here}", "label", wrap=True))
        column.addLayout(buttons)
        column.addWidget(self.message)
        column.addStretch(2)
        row = QHBoxLayout(self)
        row.addWidget(inner, 1)
        row.addStretch(0)

    def _places(self) -> tuple[Address, ...]:
        """Where to pair: at the typed address, else at the chosen station."""
        if self.address.text().strip():
            place = place_of(self.address.text())
            return () if place is None else (place,)
        return () if self.chosen is None else self.chosen.places

    def _code(self) -> str:
        code = self.code.text().replace(" ", "")
        return code if len(code) == CODE_DIGITS and code.isascii() and code.isdigit() else ""

    def _look_at_controls(self) -> None:
        free = self._pairing is None or not self._pairing.is_alive()
        typed = bool(self.address.text().strip())
        chosen = self.chosen
        self.open.setEnabled(chosen is not None and chosen.known is not None and not typed)
        self.pair.setEnabled(free and bool(self._places()) and bool(self._code()))

    def _on_open(self) -> None:
        if self.open.isEnabled() and self.chosen is not None and self.chosen.known is not None:
            self._join(self.chosen.known)
            self.look()

    def _on_pair(self) -> None:
        if not self.pair.isEnabled():
            return
        places, code = self._places(), self._code()
        self._tell(say("join_pairing"), well=True)
        self._pairing = threading.Thread(
            target=self._be_paired, args=(places, code), name="pairing", daemon=True
        )
        self._pairing.start()
        self._look_at_controls()

    def _be_paired(self, places: tuple[Address, ...], code: str) -> None:
        """In a thread of its own: the station may take seconds to answer."""
        try:
            self._outcome = self._stations.pair(places, code, self._name)
        except UserError as error:
            self._outcome = error.problem
        except Exception as error:  # noqa: BLE001 - the guard of this thread
            details = f"{type(error).__name__}: {error}"
            self._outcome = describe(
                "pairing_failed", details=details, why=say("join_failed"), do=say("join_again")
            )

    def _tell(self, text: str, *, well: bool) -> None:
        self.message.setText(text)
        mark(self.message, "well", well)

    def _complain(self, problem: Problem) -> None:
        self._tell(f"{problem.title} {problem.meaning} {problem.action}", well=False)
