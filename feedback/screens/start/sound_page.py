"""The page of the sound: which output, how loud, and every cue to try where it is heard."""

from __future__ import annotations

from functools import partial
from typing import Final

from PyQt6.QtCore import Qt
from PyQt6.QtWidgets import QComboBox, QGridLayout, QPushButton, QSlider, QVBoxLayout, QWidget

from feedback.screens.start.actions import Outcome
from feedback.screens.start.model import Context
from feedback.screens.start.page import Page, Shell
from feedback.screens.start.parts import button, group, row
from feedback.screens.start.sound_model import SPOKEN, Heard, place_title, sound_rows
from feedback.screens.widgets.style import label, named
from feedback.sound.tones import SOUNDS
from feedback.texts.runner import TEXTS
from shared.language import _

_CHOICE_PX: Final = 420
_SLIDER_PX: Final = 320
_LEAST_PERCENT: Final = 10


class SoundPage(Page):
    """Changes are kept at once, and hold for every session from then on."""

    help_topic = "sounds"

    def __init__(self, shell: Shell) -> None:
        super().__init__(shell)
        self.output = QComboBox()
        self.output.setFixedWidth(_CHOICE_PX)
        named(self.output, _("Sound output"))
        self.output.activated.connect(self._on_output)
        self.volume = QSlider(Qt.Orientation.Horizontal)
        self.volume.setRange(_LEAST_PERCENT, 100)
        self.volume.setPageStep(10)
        self.volume.setSingleStep(5)
        self.volume.setFixedWidth(_SLIDER_PX)
        self.volume.setTracking(False)
        named(self.volume, _("Volume"), _("Of the loudest that the limits allow"))
        self.volume.valueChanged.connect(self._on_volume)
        self.percent = label(kind="strong")
        self.tries: dict[str, QPushButton] = {}
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(14)
        choice = label(_("Sound output"), kind="label")
        choice.setBuddy(self.output)
        loud = label(_("Volume"), kind="label")
        loud.setBuddy(self.volume)
        about = label(
            _(
                "Part of the loudest that the limits allow. Warning, stop and fault keep a floor. "
                "Set the computer's own volume first."
            ),
            kind="label",
            wrap=True,
        )
        column.addWidget(group(choice, row(self.output), loud, row(self.volume, self.percent),
                               about))  # fmt: skip
        column.addWidget(self._lay_out_tries())
        column.addStretch(1)

    @property
    def title(self) -> str:
        """What stands over it."""
        return _("Sound")

    def enter(self, _context: Context) -> None:
        """What is kept, and which outputs there are now."""
        preferred = self.shell.preferences
        self.volume.blockSignals(True)
        self.volume.setValue(preferred.volume_percent)
        self.volume.blockSignals(False)
        self._say_percent()
        self._show_outputs(())
        self.shell.jobs.run(["sounds", "--json"], self._on_outputs)

    def first_control(self) -> QWidget | None:
        """The volume: the output is right on most computers."""
        return self.volume

    # ---- what comes in

    def _on_outputs(self, outcome: Outcome) -> None:
        if not self.isVisible():
            return
        data = outcome.data()
        names = data.get("outputs") if isinstance(data, dict) else None
        if outcome.ok and isinstance(names, list):
            self._show_outputs(tuple(str(name) for name in names))
        elif not outcome.cancelled:
            self.shell.tell(outcome.what, outcome.then)

    def _show_outputs(self, names: tuple[str, ...]) -> None:
        kept = self.shell.preferences.sound_device
        self.output.blockSignals(True)
        self.output.clear()
        self.output.addItem(_("As the system is set"), "")
        for name in names:
            self.output.addItem(name, name)
        if kept and kept not in names:
            self.output.addItem(_("{name} (not there now)").format(name=kept), kept)
        self.output.setCurrentIndex(max(0, self.output.findData(kept)))
        self.output.blockSignals(False)

    # ---- what is done

    def _on_output(self) -> None:
        self.shell.prefer(sound_device=str(self.output.currentData()))

    def _on_volume(self, percent: int) -> None:
        self.shell.prefer(volume_percent=percent)
        self._say_percent()

    def _say_percent(self) -> None:
        self.percent.setText(_("{percent} %").format(percent=self.volume.value()))

    def _try(self, key: str) -> None:
        for one in self.tries.values():
            one.setEnabled(False)
        self.shell.busy(_("Playing."))
        self.shell.jobs.run(["sounds", "--only", key], partial(self._tried, key))

    def _tried(self, key: str, outcome: Outcome) -> None:
        self.shell.busy("")
        for one in self.tries.values():
            one.setEnabled(True)
        if not self.isVisible():
            return
        self.tries[key].setFocus()
        if not outcome.ok and not outcome.cancelled:
            self.shell.tell(outcome.what, outcome.then)

    def _lay_out_tries(self) -> QWidget:
        inside = QWidget()
        grid = QGridLayout(inside)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(12)
        grid.setVerticalSpacing(8)
        rows = sound_rows({key: tone.meaning for key, tone in SOUNDS.items()})
        for line, one in enumerate(rows):
            meaning = _(one.meaning)
            grid.addWidget(label(meaning, wrap=True), line, 0)
            for at, heard in enumerate(Heard):
                key = one.sounds.get(heard)
                if key is None:
                    continue
                made = button(place_title(heard), partial(self._try, key))
                named(made, f"{meaning} {place_title(heard)}")
                made.setToolTip("")
                self.tries[key] = made
                grid.addWidget(made, line, 1 + at)
        line = len(rows)
        spoken = TEXTS[SPOKEN.removeprefix("say_")]
        grid.addWidget(label(_("A spoken line: {words}").format(words=spoken), wrap=True), line, 0)
        say = button(_("Say it"), partial(self._try, SPOKEN))
        self.tries[SPOKEN] = say
        grid.addWidget(say, line, 2)
        grid.setColumnStretch(0, 1)
        return group(label(_("Try each sound where it is heard"), kind="strong"), inside)
