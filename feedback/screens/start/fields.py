"""Fields of forms: a name, what is typed, what is allowed below it, and what is wrong with it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, get_args, get_type_hints

from msgspec import Meta
from PyQt6.QtWidgets import QLabel, QLineEdit, QVBoxLayout, QWidget

from feedback.screens.widgets.style import label, named
from shared.language import _
from shared.preferred_units import cm_of, kmh_of, length_text, speed_text
from shared.targets import Athlete

_WIDTH_PX = 260


class Entry(QWidget):
    """One line of text under its name."""

    def __init__(self, name: str, about: str = "") -> None:
        super().__init__()
        self.name = label(name, kind="title")
        self.edit = QLineEdit()
        self.edit.setFixedWidth(_WIDTH_PX)
        self.about = label(about, kind="label", wrap=True)
        self._about, self._wrong = about, ""
        self.name.setBuddy(self.edit)
        named(self.edit, name, about)
        self.edit.setToolTip("")
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(4)
        for part in (self.name, self.edit, self.about):
            column.addWidget(part)

    @property
    def is_wrong(self) -> bool:
        """Whether what is typed cannot be used."""
        return bool(self._wrong)

    def wrong(self, why: str) -> None:
        """Say why it cannot be used; empty: it can."""
        self._wrong = why
        self.about.setText(why or self._about)
        show_wrong(self.about, wrong=bool(why))
        self.edit.setAccessibleDescription(why or self._about)

    def say(self, name: str, about: str) -> None:
        """Another name and another help, as with another unit."""
        self._about = about
        self.name.setText(name)
        named(self.edit, name, about)
        self.edit.setToolTip("")
        self.wrong("")


class NumberEntry(Entry):
    """A number that is kept in one unit and typed in the one that the user prefers."""

    def __init__(
        self,
        unit: str,
        limits: tuple[float, float],
        read: Callable[[str, str], float | None],
        shown: Callable[[float, str], str],
        wording: Callable[[str], tuple[str, str]],
    ) -> None:
        self._limits, self._read, self._shown, self._wording = limits, read, shown, wording
        self.unit = unit
        super().__init__(*self._words())

    def use_unit(self, unit: str) -> None:
        """Ask for it in that unit from now on; what is typed already is turned into it."""
        if unit == self.unit:
            return
        value = self._read(self.edit.text(), self.unit)
        self.unit = unit
        self.say(*self._words())
        self.edit.setText("" if value is None else self._shown(value, unit))

    def value(self) -> float | None:
        """What is typed, in the unit that it is kept in; None where it is wrong, which is said."""
        value = self._read(self.edit.text(), self.unit)
        low, high = self._limits
        # The limit itself, as it is shown in another unit, may lie a little outside.
        if value is not None and low * 0.998 <= value <= high * 1.002:
            self.wrong("")
            return min(max(value, low), high)
        self.wrong(_("Not usable. {about}").format(about=self._words()[1]))
        return None

    def show_value(self, value: float | None) -> None:
        """Show a value that is kept."""
        self.edit.setText("" if value is None else self._shown(value, self.unit))
        self.wrong("")

    def _words(self) -> tuple[str, str]:
        name, about = self._wording(self.unit)
        first, last = sorted(self._limits, reverse=self.unit.startswith("min/"))
        return name, about.format(
            low=self._shown(first, self.unit), high=self._shown(last, self.unit), unit=self.unit
        )


def length_entry(unit: str) -> NumberEntry:
    """The runner's height; its value is in cm."""
    return NumberEntry(unit, limits_of("height_cm"), cm_of, length_text, _height_words)


def speed_entry(unit: str) -> NumberEntry:
    """The belt's speed; its value is in km/h."""
    return NumberEntry(unit, limits_of("belt_speed_kmh"), kmh_of, speed_text, _speed_words)


def limits_of(field: str) -> tuple[float, float]:
    """What the profile's field may hold at least and at most."""
    for part in _parts(get_type_hints(Athlete, include_extras=True)[field]):
        if isinstance(part, Meta) and part.ge is not None and part.le is not None:
            return float(part.ge), float(part.le)
    raise KeyError(field)


def show_wrong(words: QLabel, *, wrong: bool) -> None:
    """Let a line of help look like a fault, or like help again."""
    words.setProperty("well", "false" if wrong else "true")
    look = words.style()
    if look is not None:
        look.unpolish(words)
        look.polish(words)


def _parts(kind: object) -> list[object]:
    found = [kind]
    for one in get_args(kind):
        found += _parts(one)
    if isinstance(kind, type(Annotated[int, ""])):
        found += list(getattr(kind, "__metadata__", ()))
    return found


def _height_words(unit: str) -> tuple[str, str]:
    if unit == "ft/in":
        return (
            _("Height (feet and inches)"),
            _("Standing, without shoes. {low} to {high}, such as 5'8\"."),
        )
    return _("Height (cm)"), _("Standing, without shoes. {low} to {high} cm.")


def _speed_words(unit: str) -> tuple[str, str]:
    if unit.startswith("min/"):
        about = _("As the belt shows it. {low} to {high} {unit}, such as 6:00.")
    else:
        about = _("As the belt shows it. {low} to {high} {unit}.")
    return _("Belt speed ({unit})").format(unit=unit), about
