"""Settings: language, units, looks, monitors, volume, records, consoles, the data's place."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Final

import msgspec
from PyQt6.QtCore import QLocale, Qt, QUrl
from PyQt6.QtGui import QDesktopServices
from PyQt6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QHBoxLayout,
    QSlider,
    QVBoxLayout,
    QWidget,
)

import feedback.texts
from feedback.link.consoles import ConsoleList
from feedback.link.network_station import link_folder
from feedback.screens.start.actions import Job, Outcome
from feedback.screens.start.fields import Entry
from feedback.screens.start.model import Context, PageName
from feedback.screens.start.page import Page, Shell
from feedback.screens.start.parts import button, group, heading, row, words
from feedback.screens.widgets.application import monitor_names
from feedback.screens.widgets.style import label, named
from feedback.storage.settings import Settings, data_folder, read_settings, save_settings
from shared.language import _
from shared.plain_text import plain_line
from shared.preferred_units import LENGTH_UNITS, SPEED_UNITS
from shared.problems import UserError

_CODE: Final = re.compile(r"\b(\d{3}) (\d{3})\b")
_FIELD_PX: Final = 260
_ADDRESS_PX: Final = 460
_MOST_DAYS: Final = 36_500


class SettingsPage(Page):
    """Cards one below another; what is chosen in a list is kept at once."""

    help_topic = "settings"

    def __init__(self, shell: Shell) -> None:
        super().__init__(shell)
        self._settings = Settings()
        self._pairing: Job | None = None
        spoken = [("", _("As the system")), *((one, _own_name(one)) for one in languages())]
        self.language = _choices(_("Language"), spoken)
        self.speed = _choices(_("Belt speed"), [(unit, unit) for unit in SPEED_UNITS])
        self.length = _choices(_("Height"), [(unit, unit) for unit in LENGTH_UNITS])
        self.appearance = _choices(
            _("Looks"),
            [("system", _("As the desktop")), ("light", _("Light")), ("dark", _("Dark"))],
        )
        self.runner_monitor = _choices(_("Runner's screen"), [("", _("First monitor"))])
        self.panel_monitor = _choices(_("Clinician's panel"), [("", _("Last monitor"))])
        self.volume = QSlider(Qt.Orientation.Horizontal)
        self.volume.setRange(10, 100)
        self.volume.setSingleStep(5)
        self.volume.setPageStep(10)
        self.volume.setFixedWidth(_FIELD_PX)
        named(self.volume, _("Volume"), _("Share of the loudest that the program allows"))
        self.volume_said = label()
        self.sound = button(_("Sound output and tests"), lambda: shell.open(PageName.SOUND))
        self.check = button(_("Check this computer"), lambda: shell.open(PageName.CHECK))
        self.store = Entry(
            _("Address of the store"),
            _("postgresql://name@server/database. Empty: a file on this computer."),
        )
        self.store.edit.setFixedWidth(_ADDRESS_PX)
        self.test = button(_("Test the store"), self._test)
        self.tested = label(wrap=True)
        self.days = Entry(
            _("Days that records are kept"), _("1 to 36500. Empty: until they are erased.")
        )
        self.by_itself = QCheckBox(_("Erase older records automatically"))
        named(self.by_itself, _("Erase older records automatically"))
        self.save = button(_("Save"), self._save, first=True)
        self.pair = button(_("Show a pairing code"), self._pair)
        self.no_pair = button(_("Cancel"), self._stop_pairing)
        self.code = label(kind="figure")
        self.code_said = label(wrap=True)
        self.consoles = QVBoxLayout()
        self.folder = button(_("Open the folder"), self._open_folder)
        self._lay_out()
        self._connect()

    @property
    def title(self) -> str:
        """What stands over it."""
        return _("Settings")

    def enter(self, _context: Context) -> None:
        """Show what is set now."""
        own = self.shell.preferences
        for box, value in (
            (self.language, own.language),
            (self.speed, own.speed_unit),
            (self.length, own.length_unit),
            (self.appearance, own.appearance),
        ):
            box.setCurrentIndex(max(0, box.findData(value)))
        for box, value in (
            (self.runner_monitor, own.runner_monitor),
            (self.panel_monitor, own.panel_monitor),
        ):
            _show_monitors(box, value)
        self.volume.blockSignals(True)
        self.volume.setValue(own.volume_percent)
        self.volume.blockSignals(False)
        self._say_volume()
        try:
            self._settings = read_settings()
        except UserError as error:
            self._tell(error)
        self.store.edit.setText(self._settings.store)
        days = self._settings.keep_days
        self.days.edit.setText("" if days is None else str(days))
        self.by_itself.setChecked(self._settings.erase_by_itself)
        self.tested.setText("")
        self._show_consoles()
        self._show_code("", "")

    def leave(self) -> bool:
        """A code that is not looked at is not left open."""
        self._stop_pairing()
        return True

    def first_control(self) -> QWidget | None:
        """The language."""
        return self.language

    # ---- preferences

    def _prefer(self) -> None:
        self.shell.prefer(
            language=self.language.currentData(),
            speed_unit=self.speed.currentData(),
            length_unit=self.length.currentData(),
            appearance=self.appearance.currentData(),
            runner_monitor=self.runner_monitor.currentData(),
            panel_monitor=self.panel_monitor.currentData(),
            volume_percent=self.volume.value(),
        )
        self._say_volume()

    def _prefer_next_time(self) -> None:
        self._prefer()
        self.shell.note(_("This is seen when a window is opened the next time."))

    def _prefer_next_session(self) -> None:
        self._prefer()
        self.shell.note(_("This holds from the next session on."))

    def _on_volume(self) -> None:
        self._say_volume()
        if not self.volume.isSliderDown():  # once it is let go of
            self._prefer_next_session()

    def _say_volume(self) -> None:
        self.volume_said.setText(_("{percent} %").format(percent=self.volume.value()))

    # ---- store

    def _test(self) -> None:
        self.tested.setText(_("Testing"))
        self.test.setEnabled(False)

        def done(outcome: Outcome) -> None:
            self.test.setEnabled(True)
            if outcome.ok:
                self.tested.setText(" ".join(outcome.lines))
            elif not outcome.cancelled:
                self.tested.setText(f"{outcome.what} {outcome.then}".strip())

        typed = f"{self.store.edit.text().strip()}\n"
        self.shell.jobs.run(["store", "--test"], done, typed=typed)

    def _save(self) -> None:
        text = self.days.edit.text().strip()
        days = int(text) if text.isascii() and text.isdigit() and len(text) < 6 else None
        wrong = bool(text) and (days is None or not 1 <= days <= _MOST_DAYS)
        self.days.wrong(_("A whole number from 1 to 36500, or nothing.") if wrong else "")
        if wrong:
            self.days.edit.setFocus()
            return
        wanted = msgspec.structs.replace(
            self._settings,
            store=self.store.edit.text().strip(),
            keep_days=days,
            erase_by_itself=self.by_itself.isChecked(),
        )
        try:
            save_settings(wanted)
        except UserError as error:
            self._tell(error)
            return
        self._settings = wanted
        self.shell.note(_("Saved."))

    # ---- consoles

    def _pair(self) -> None:
        self._show_code("", _("One moment"))

        def done(outcome: Outcome) -> None:
            self._pairing = None
            if outcome.ok:
                self._show_code("", outcome.lines[-2] if len(outcome.lines) > 1 else "")
                self._show_consoles()
            elif outcome.cancelled:
                self._show_code("", "")
            else:
                self._show_code("", f"{outcome.what} {outcome.then}".strip())

        self._pairing = self.shell.jobs.run(["pair"], done, on_line=self._on_pair_line)
        self._allow_pairing()

    def _on_pair_line(self, line: str) -> None:
        if self._pairing is not None and (found := _CODE.search(line)) is not None:
            said = _("Type this at the console within two minutes.")
            self._show_code(f"{found[1]} {found[2]}", said)

    def _stop_pairing(self) -> None:
        if self._pairing is not None:
            self._pairing.cancel()

    def _show_code(self, code: str, text: str) -> None:
        self.code.setText(code)
        self.code.setVisible(bool(code))
        self.code_said.setText(text)
        self.code_said.setVisible(bool(text))
        self._allow_pairing()

    def _allow_pairing(self) -> None:
        self.pair.setEnabled(self._pairing is None)
        self.no_pair.setVisible(self._pairing is not None)

    def _show_consoles(self) -> None:
        while (item := self.consoles.takeAt(0)) is not None:
            if (old := item.widget()) is not None:
                old.deleteLater()
        try:
            known = ConsoleList(link_folder()).all()
        except UserError as error:
            self._tell(error)
            return
        if not known:
            self.consoles.addWidget(label(_("No console is paired."), "label"))
        for one in known:
            day = one.paired_on[:10]
            said = _("{name}, paired on {day}").format(name=one.name, day=day)
            remove = button(
                _("Remove"),
                lambda name=one.name: self._remove(name),  # type: ignore[misc]
                _("{name} can no longer connect").format(name=one.name),
            )
            self.consoles.addWidget(row(label(said), remove))

    def _remove(self, name: str) -> None:
        try:
            ConsoleList(link_folder()).remove(name)
        except UserError as error:
            self._tell(error)
            return
        self.shell.note(_("{name} can no longer connect.").format(name=name))
        self._show_consoles()

    # ---- the rest

    def _open_folder(self) -> None:
        folder = data_folder()
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        if not QDesktopServices.openUrl(QUrl.fromLocalFile(str(folder))):
            text = _("It is in {path}").format(path=folder)
            self.shell.tell(_("No program shows folders here."), text)

    def _tell(self, error: UserError) -> None:
        self.shell.tell(error.problem.title, f"{error.problem.meaning} {error.problem.action}")

    def _connect(self) -> None:
        for box in (self.speed, self.length):
            box.activated.connect(lambda _: self._prefer())
        for box in (self.language, self.appearance):
            box.activated.connect(lambda _: self._prefer_next_time())
        self.volume.valueChanged.connect(self._on_volume)
        self.volume.sliderReleased.connect(self._prefer_next_session)
        for box in (self.runner_monitor, self.panel_monitor):
            box.activated.connect(lambda _: self._prefer_next_session())

    def _lay_out(self) -> None:
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(14)
        whole = _side_by_side(
            (_("Language"), self.language),
            (_("Looks"), self.appearance),
            (_("Belt speed"), self.speed),
            (_("Height"), self.length),
        )
        column.addWidget(group(heading(_("Language, looks and units")), whole))
        screens = _side_by_side(
            (_("Runner's screen"), self.runner_monitor),
            (_("Clinician's panel"), self.panel_monitor),
        )
        about = _("With one monitor, both windows share it while a session runs.")
        column.addWidget(group(heading(_("Monitors")), screens, words(about, "label")))
        column.addWidget(
            group(heading(_("Volume")), row(self.volume, self.volume_said), row(self.sound))
        )
        checked = words(_("Whether camera, sound, display and the rest are fit for a session."))
        column.addWidget(group(heading(_("This computer")), checked, row(self.check)))
        column.addWidget(
            group(
                heading(_("Records")),
                self.store,
                row(self.test),
                self.tested,
                self.days,
                self.by_itself,
                row(self.save),
            )
        )
        consoles = QWidget()
        consoles.setLayout(self.consoles)
        self.consoles.setContentsMargins(0, 0, 0, 0)
        column.addWidget(
            group(
                heading(_("Consoles on the network")),
                consoles,
                self.code,
                self.code_said,
                row(self.pair, self.no_pair),
            )
        )
        where = words(_("All data is kept in {path}").format(path=data_folder()))
        column.addWidget(group(heading(_("Where the data is kept")), where, row(self.folder)))
        column.addStretch(1)


def languages() -> tuple[str, ...]:
    """Codes of the languages that there are texts in."""
    folder = Path(feedback.texts.__file__).parent / "catalogues"
    return tuple(sorted({"en", *(path.stem for path in folder.glob("*.mo"))}))


def _own_name(code: str) -> str:
    """What a language is called in itself."""
    locale = QLocale(code)
    name = "English" if code == "en" else locale.nativeLanguageName()
    return name[:1].upper() + name[1:]


def _show_monitors(box: QComboBox, kept: str) -> None:
    """The monitors there are, and the one that is kept though it is not connected now."""
    while box.count() > 1:
        box.removeItem(1)
    names = monitor_names()
    for name in names:
        box.addItem(plain_line(name), name)
    if kept and kept not in names:
        box.addItem(_("{name} (not connected now)").format(name=plain_line(kept)), kept)
    box.setCurrentIndex(max(0, box.findData(kept)))


def _side_by_side(*choices: tuple[str, QComboBox]) -> QWidget:
    whole = QWidget()
    line = QHBoxLayout(whole)
    line.setContentsMargins(0, 0, 0, 0)
    line.setSpacing(24)
    for text, box in choices:
        one = QVBoxLayout()
        name = label(text, kind="title")
        name.setBuddy(box)
        one.addWidget(name)
        one.addWidget(box)
        line.addLayout(one)
    line.addStretch(1)
    return whole


def _choices(name: str, choices: list[tuple[str, str]]) -> QComboBox:
    box = QComboBox()
    box.setMinimumWidth(170)
    named(box, name)
    for value, text in choices:
        box.addItem(text, value)
    return box
