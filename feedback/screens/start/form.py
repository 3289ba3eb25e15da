"""A form made of fields: each with its name, what is allowed beside it, and one value or none."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from PyQt6.QtCore import Qt
from PyQt6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QGridLayout,
    QLineEdit,
    QPlainTextEdit,
    QVBoxLayout,
    QWidget,
)

from feedback.athlete_files.profile_edit import Where
from feedback.screens.start.form_model import FieldKind, FieldSpec, number_shown, number_typed
from feedback.screens.widgets.style import label, named
from feedback.storage.preferences import Preferences
from feedback.texts.measures import full_title, unit_text
from feedback.texts.profile_fields import choice_title, field_help, field_title
from shared.catalogue import CATALOGUE
from shared.language import _
from shared.preferred_units import cm_of, kmh_of, length_text, speed_text

Changed = Callable[[Where, Any], None]
"""Told a field's place and its new value: None where it is empty, an unusable text as it is."""
_FIELD_PX = 250
_NOTES_PX = 96


class Form(QWidget):
    """Fields one below another: name, control, help."""

    def __init__(
        self,
        specs: tuple[FieldSpec, ...],
        values: Mapping[str, Any],
        place: Where,
        changed: Changed,
        preferences: Preferences,
    ) -> None:
        super().__init__()
        self._place, self._changed, self._preferences = place, changed, preferences
        self.controls: dict[str, QWidget] = {}
        grid = QGridLayout(self)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(16)
        grid.setVerticalSpacing(8)
        grid.setColumnStretch(2, 1)
        for line, spec in enumerate(specs):
            title = self._title(spec)
            control = self._control(spec, values.get(spec.name), values)
            help_text = self._help(spec, values)
            named(control, title, help_text)
            control.setToolTip("")
            self.controls[spec.name] = control
            top = Qt.AlignmentFlag.AlignTop
            name, about = (
                label(title, kind="title", wrap=True),
                label(help_text, "label", wrap=True),
            )
            name.setFixedWidth(170)
            grid.addWidget(name, line, 0, top)
            grid.addWidget(control, line, 1, top)
            grid.addWidget(about, line, 2, top)

    def _title(self, spec: FieldSpec) -> str:
        title = field_title(spec.key)
        unit = self._unit(spec)
        return _("{name} ({unit})").format(name=title, unit=unit) if unit else title

    def _unit(self, spec: FieldSpec) -> str:
        if spec.key == "height_cm":
            return self._preferences.length_unit
        return self._preferences.speed_unit if spec.key == "belt_speed_kmh" else ""

    def _help(self, spec: FieldSpec, values: Mapping[str, Any]) -> str:
        said = [field_help(spec.key)]
        if spec.key == "targets.measure" and (measure := values.get("measure")) in CATALOGUE:
            one = CATALOGUE[measure]
            low, high = one.plausible
            said = [
                one.definition,
                _("{low} to {high} {unit}.").format(
                    low=f"{low:g}", high=f"{high:g}", unit=unit_text(one.units[0])
                ),
            ]
        elif spec.kind in (FieldKind.WHOLE, FieldKind.NUMBER):
            if self._unit(spec):
                said.append(_("In the file: {allowed}.").format(allowed=spec.allowed))
            else:
                said.append(_("Allowed: {allowed}.").format(allowed=spec.allowed))
        return " ".join(filter(None, said))

    def _control(self, spec: FieldSpec, value: Any, values: Mapping[str, Any]) -> QWidget:
        if spec.key == "targets.measure":
            offered = tuple(name for name, one in CATALOGUE.items() if not one.not_offered)
            return self._choice(spec, value, {name: full_title(name) for name in offered})
        if spec.key == "targets.unit":
            measure = values.get("measure")
            units = CATALOGUE[measure].units if measure in CATALOGUE else ()
            return self._choice(spec, value, {unit: unit_text(unit) for unit in units})
        match spec.kind:
            case FieldKind.CHOICE:
                return self._choice(spec, value, {one: choice_title(one) for one in spec.choices})
            case FieldKind.CHOICES:
                return self._choices(spec, value)
            case FieldKind.LONG_TEXT:
                return self._long(spec, value)
        return self._line(spec, value)

    def _line(self, spec: FieldSpec, value: Any) -> QLineEdit:
        edit = QLineEdit("" if value is None else self._shown(spec, value))
        edit.setFixedWidth(_FIELD_PX)
        if spec.default not in (None, ""):
            edit.setPlaceholderText(number_shown(spec.default))
        edit.textEdited.connect(lambda text: self._say(spec, self._typed(spec, text)))
        return edit

    def _shown(self, spec: FieldSpec, value: Any) -> str:
        if isinstance(value, int | float) and (unit := self._unit(spec)):
            shown = length_text if spec.key == "height_cm" else speed_text
            return shown(float(value), unit)
        return number_shown(value)

    def _typed(self, spec: FieldSpec, text: str) -> Any:
        if not text.strip():
            return None
        if spec.kind is FieldKind.TEXT:
            return text.strip()
        if unit := self._unit(spec):
            read = (cm_of if spec.key == "height_cm" else kmh_of)(text, unit)
            return text if read is None else round(read, 2)
        number = number_typed(text, whole=spec.kind is FieldKind.WHOLE)
        return text if number is None else number

    def _long(self, spec: FieldSpec, value: Any) -> QPlainTextEdit:
        edit = QPlainTextEdit("" if value is None else str(value))
        edit.setFixedSize(_FIELD_PX, _NOTES_PX)
        edit.setTabChangesFocus(True)
        edit.textChanged.connect(lambda: self._say(spec, edit.toPlainText() or None))
        return edit

    def _choice(self, spec: FieldSpec, value: Any, titles: Mapping[str, str]) -> QComboBox:
        box = QComboBox()
        box.setFixedWidth(_FIELD_PX)
        if not spec.required:
            box.addItem("", None)
        for choice, title in titles.items():
            box.addItem(title, choice)
        if value is not None and value not in titles:
            box.addItem(str(value), value)
        box.setCurrentIndex(box.findData(value))
        box.activated.connect(lambda _: self._say(spec, box.currentData()))
        return box

    def _choices(self, spec: FieldSpec, value: Any) -> QWidget:
        whole = QWidget()
        column = QVBoxLayout(whole)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(2)
        chosen = spec.default if value is None else value
        boxes: dict[str, QCheckBox] = {}

        def said() -> None:
            self._say(spec, [one for one, box in boxes.items() if box.isChecked()])

        for choice in spec.choices:
            box = boxes[choice] = QCheckBox(choice_title(choice))
            box.setChecked(choice in (chosen or ()))
            named(box, choice_title(choice), field_title(spec.key))
            box.toggled.connect(lambda _: said())
            column.addWidget(box)
        return whole

    def _say(self, spec: FieldSpec, value: Any) -> None:
        self._changed((*self._place, spec.name), value)
