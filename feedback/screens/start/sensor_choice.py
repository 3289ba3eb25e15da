"""Which treadmill, strap and foot pod a session listens to; off until somebody wants one."""

from __future__ import annotations

from typing import Final

from PyQt6.QtWidgets import QCheckBox, QGridLayout, QLineEdit, QWidget

from feedback.screens.start.page import Shell
from feedback.screens.widgets.style import label, named
from shared.language import _, mark

ANY: Final = "any"
KINDS: Final = {
    "treadmill": (
        mark("Listen to the treadmill (Bluetooth)"),
        mark("Its speed and incline are shown; when it stops, so do the cues"),
    ),
    "heart_strap": (
        mark("Listen to a heart rate strap (Bluetooth)"),
        mark("The heart rate is shown; its limits are set in the profile"),
    ),
    "foot_pod": (
        mark("Listen to a foot pod (Bluetooth)"),
        mark("Its cadence is shown beside the camera's"),
    ),
}
"""By the field of the preferences."""
_NAME_PX: Final = 240
_LONGEST: Final = 64


class SensorChoice(QWidget):
    """A row each; the name's field keeps its place while it is off, so that nothing jumps."""

    def __init__(self, shell: Shell) -> None:
        super().__init__()
        self._shell = shell
        self.boxes: dict[str, QCheckBox] = {}
        self.names: dict[str, QLineEdit] = {}
        grid = QGridLayout(self)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(12)
        grid.setVerticalSpacing(6)
        for line, (kind, (title, about)) in enumerate(KINDS.items()):
            box, name = QCheckBox(_(title)), QLineEdit()
            named(box, _(title), _(about))
            hint = _("Name, or empty: the first one found")
            named(name, _("{title}: name").format(title=_(title)), hint)
            name.setPlaceholderText(hint)
            name.setMaxLength(_LONGEST)
            name.setMinimumWidth(_NAME_PX)
            policy = name.sizePolicy()
            policy.setRetainSizeWhenHidden(True)
            name.setSizePolicy(policy)
            box.toggled.connect(name.setVisible)
            box.clicked.connect(self._keep)
            name.editingFinished.connect(self._keep)
            self.boxes[kind], self.names[kind] = box, name
            grid.addWidget(box, line, 0)
            grid.addWidget(name, line, 1)
        several = _("Where several devices are near, give the name that the device itself shows.")
        grid.addWidget(label(several, "label", wrap=True), len(KINDS), 0, 1, 2)
        grid.setColumnStretch(1, 1)
        self.show_kept()

    def show_kept(self) -> None:
        """As it was chosen last."""
        for kind in KINDS:
            kept: str = getattr(self._shell.preferences, kind)
            self.names[kind].setText("" if kept == ANY else kept)
            self.boxes[kind].setChecked(bool(kept))
            self.names[kind].setVisible(bool(kept))

    def _keep(self) -> None:
        wanted = {
            kind: (self.names[kind].text().strip() or ANY) if box.isChecked() else ""
            for kind, box in self.boxes.items()
        }
        self._shell.prefer(**wanted)
