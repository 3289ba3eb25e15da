"""The pages that lead through a session at home: a window of its own process.

Run with ``python -m feedback.screens.home.window``: lines of feedback.screens.home.pages come in on
stdin and answers go out on stdout. The window closes when stdin ends.
"""

from __future__ import annotations

import argparse
import sys
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Final

from PyQt6.QtCore import QObject, Qt, QUrl, pyqtSignal
from PyQt6.QtGui import QCloseEvent, QDesktopServices, QKeyEvent
from PyQt6.QtWidgets import QButtonGroup, QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from feedback.screens.home.pages import (
    Busy,
    RatingScale,
    Reply,
    Shown,
    Told,
    What,
    YesNo,
    line_of,
    shown_of,
)
from feedback.screens.home.words import PageWords
from feedback.screens.widgets import palette
from feedback.screens.widgets.application import fill_screen, fit_to_screen, make_app, run_loop
from feedback.screens.widgets.awake import keep_awake
from feedback.screens.widgets.help_window import Help
from feedback.screens.widgets.key_kinds import STANDS_NS
from feedback.screens.widgets.style import label, named, style
from feedback.texts.home import tell
from shared.clock import now_ns

TEN_WITHIN_NS: Final = 1_500_000_000
SMALLEST_PX: Final = (640, 420)
_BUTTON_PX: Final = 52
_ANSWER_PX: Final = 22


def _style() -> str:
    chosen = palette.CHOSEN
    return f"""
    QPushButton {{ font-size: {_ANSWER_PX}px; font-weight: bold; min-height: {_BUTTON_PX}px; }}
    QPushButton:checked, QPushButton[first="true"]:enabled {{
        background: {chosen.on}; color: {chosen.colour}; }}
    QLabel[kind="label"] {{ font-size: {_ANSWER_PX}px; }}
    """


class PageReader(QObject):
    """Reads stdin in a thread and hands each page to the window."""

    came = pyqtSignal(object)
    ended = pyqtSignal()

    def start(self) -> None:
        """Begin to read."""
        threading.Thread(target=self._read, name="pages", daemon=True).start()

    def _read(self) -> None:
        for line in sys.stdin.buffer:
            shown = shown_of(line)
            if shown is not None:
                self.came.emit(shown)
        self.ended.emit()


class PagesWindow(QWidget):
    """Shows one page at a time; each is answered once at most."""

    def __init__(self, answer: Callable[[Reply], None]) -> None:
        super().__init__()
        self._answer = answer
        self._shown: Shown | None = None
        self._answered = True
        self._since_ns = 0
        self._one_ns: int | None = None
        self.setWindowTitle(tell("title"))
        self.manual = Help(self, "home")
        self.setObjectName("ground")
        self.setStyleSheet(style() + _style())
        self.setMinimumSize(*SMALLEST_PX)
        self.step = label(kind="label")
        self.words = PageWords()
        self.words.say(tell("moment"), ())
        self.numbers = [self._number(value) for value in range(11)]
        self.low, self.high = label(kind="label"), label(kind="label")
        self.scale = self._lay_out_scale()
        self.buttons: dict[str, QPushButton] = {}
        self._row = QHBoxLayout()
        self._row.setSpacing(16)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(32, 24, 32, 24)
        layout.addWidget(self.step)
        layout.addWidget(self.words, 1)
        layout.addWidget(self.scale)
        layout.addLayout(self._row)
        self.scale.hide()

    def _number(self, value: int) -> QPushButton:
        made = QPushButton(str(value))
        made.setCheckable(True)
        made.setFocusPolicy(Qt.FocusPolicy.NoFocus)  # the arrows choose, whatever has the keys
        named(made, str(value), tell("number_about", value=value))
        made.clicked.connect(lambda: self._choose(value))
        return made

    def _lay_out_scale(self) -> QWidget:
        whole = QWidget()
        group = QButtonGroup(whole)
        rows = QVBoxLayout(whole)
        numbers, ends = QHBoxLayout(), QHBoxLayout()
        for button in self.numbers:
            group.addButton(button)
            numbers.addWidget(button, 1)
        self._group = group
        ends.addWidget(self.low)
        ends.addStretch(1)
        ends.addWidget(self.high)
        rows.addLayout(numbers)
        rows.addLayout(ends)
        return whole

    @property
    def chosen(self) -> int | None:
        """The number that is chosen on the scale."""
        at = next((n for n, button in enumerate(self.numbers) if button.isChecked()), None)
        return at if self.scale.isVisible() else None

    def show_page(self, shown: Shown) -> None:
        """Show a page in place of the one before."""
        same_kind = self._shown is not None and type(self._shown.page) is type(shown.page)
        going_on = same_kind and isinstance(shown.page, Busy)
        self._shown, self._answered = shown, False
        page = shown.page
        self.step.setText(page.step)
        self.scale.setVisible(isinstance(page, RatingScale))
        if isinstance(page, RatingScale):
            self.low.setText(tell("scale_end", value=0, meaning=page.low))
            self.high.setText(tell("scale_end", value=10, meaning=page.high))
            self._unchoose()
        self.words.say(*_words_of(page), page.picture)
        self.setWindowTitle(tell("title_page", heading=page.heading))
        if not going_on:
            self._since_ns, self._one_ns = now_ns(), None
            self._set_buttons(page)
            self.raise_()
            self.activateWindow()

    def _set_buttons(self, page: Told | YesNo | RatingScale | Busy) -> None:
        for button in self.buttons.values():
            self._row.removeWidget(button)
            button.deleteLater()
        self.buttons = {}
        acts = {
            "yes": lambda: self._say(What.YES),
            "no": lambda: self._say(What.NO),
            "next": self._next,
            "close": self._next,
            "folder": self._open_folder,
            "back": lambda: self._say(What.BACK),
            "skip": lambda: self._say(What.SKIPPED),
            "leave_out": lambda: self._say(What.SKIPPED),
            "leave": lambda: self._say(What.LEFT),
            "cancel": lambda: self._say(What.LEFT),
        }
        names = _buttons_of(page)
        for name in names:
            made = QPushButton(tell("with_keys", name=tell(name), keys=tell(f"{name}_keys")))
            made.setProperty("first", "true" if name in ("next", "close") else "false")
            named(made, tell(name), tell(f"{name}_about"))
            made.clicked.connect(acts[name])
            self._row.addWidget(made, 1)
            self.buttons[name] = made
        self._allow_next()
        if names:
            self.setTabOrder(self.words, self.buttons[names[0]])
        self.setFocus()

    # ---- what the person does

    def keyPressEvent(self, event: QKeyEvent | None) -> None:  # noqa: N802 - Qt's name
        """The keys that the buttons name; on a scale, digits and arrows too."""
        if event is None or now_ns() - self._since_ns < STANDS_NS:
            return
        key = event.key()
        again = event.isAutoRepeat()
        held_well = not again or key in _ARROWS
        if held_well and isinstance(self._page, RatingScale) and self._on_scale(key):
            return
        if again:
            return
        for name in self.buttons:
            if key in _KEYS.get(name, ()) and self.buttons[name].isEnabled():
                self.buttons[name].click()
                return
        super().keyPressEvent(event)

    def _on_scale(self, key: int) -> bool:
        """Whether the key chose a number."""
        if Qt.Key.Key_0 <= key <= Qt.Key.Key_9:
            digit = key - Qt.Key.Key_0
            one_ns, self._one_ns = self._one_ns, now_ns() if digit == 1 else None
            ten = digit == 0 and one_ns is not None and now_ns() - one_ns <= TEN_WITHIN_NS
            self._choose(10 if ten else digit, typed=True)
            return True
        step = _ARROWS.get(key)
        if step is None:
            return False
        now = self.chosen
        self._choose(min(max((now or 0) + step, 0), 10) if now is not None else 0)
        return True

    def _choose(self, value: int, *, typed: bool = False) -> None:
        if not typed:
            self._one_ns = None
        self.numbers[value].setChecked(True)
        self._allow_next()

    def _unchoose(self) -> None:
        self._group.setExclusive(False)
        for button in self.numbers:
            button.setChecked(False)
        self._group.setExclusive(True)

    def _allow_next(self) -> None:
        if isinstance(self._page, RatingScale) and "next" in self.buttons:
            self.buttons["next"].setEnabled(self.chosen is not None)

    @property
    def _page(self) -> Told | YesNo | RatingScale | Busy | None:
        return None if self._shown is None else self._shown.page

    def _next(self) -> None:
        if isinstance(self._page, RatingScale):
            if self.chosen is not None:
                self._say(What.VALUE, self.chosen)
        else:
            self._say(What.NEXT)

    def _open_folder(self) -> None:
        page = self._page
        if isinstance(page, Told) and page.path:
            folder = Path(page.path).parent
            QDesktopServices.openUrl(QUrl.fromLocalFile(str(folder)))

    def _say(self, what: What, value: int | None = None) -> None:
        if self._shown is None or self._answered:
            return
        self._answered = True
        self._answer(Reply(number=self._shown.number, what=what, value=value))
        if not isinstance(self._page, Busy):
            self.step.setText("")
            self.scale.hide()
            self.words.say(tell("moment"), ())
            self.setWindowTitle(tell("title"))
            self._set_buttons(Busy(heading=tell("moment")))

    def closeEvent(self, event: QCloseEvent | None) -> None:  # noqa: N802 - Qt's name
        """Whoever closes the window leaves; what was answered before is kept."""
        self._say(What.LEFT)
        super().closeEvent(event)


_K = Qt.Key
_ENTER: Final = (_K.Key_Return, _K.Key_Enter, _K.Key_PageDown)
_KEYS: Final[dict[str, tuple[Qt.Key, ...]]] = {
    "next": _ENTER,
    "close": (*_ENTER, _K.Key_Escape),
    "back": (_K.Key_Backspace,),
    "leave": (_K.Key_Escape,),
    "cancel": (_K.Key_Escape,),
    "skip": (_K.Key_Escape,),
    "leave_out": (_K.Key_L,),  # of a question of safety: Esc comes too easily
    "yes": (_K.Key_Y,),
    "no": (_K.Key_N,),
    "folder": (_K.Key_O,),
}
_ARROWS: Final = {
    int(_K.Key_Left): -1,
    int(_K.Key_Down): -1,
    int(_K.Key_Right): 1,
    int(_K.Key_Up): 1,
    int(_K.Key_Home): -10,
    int(_K.Key_End): 10,
}


def _buttons_of(page: Told | YesNo | RatingScale | Busy) -> tuple[str, ...]:
    match page:
        case Told(last=True, path=path):
            return ("close", "folder") if path else ("close",)
        case Told(back=back):
            return ("next", "back", "leave") if back else ("next", "leave")
        case YesNo():
            return ("yes", "no", "leave")
        case RatingScale(safety=safety):
            return ("next", "leave_out" if safety else "skip")
        case Busy(can_cancel=can_cancel):
            return ("cancel",) if can_cancel else ()


def _words_of(
    page: Told | YesNo | RatingScale | Busy,
) -> tuple[str, tuple[str, ...], float | None]:
    match page:
        case Told(heading=heading, texts=texts, path=path):
            return heading, (*((Path(path).name,) if path else ()), *texts), None
        case YesNo(heading=heading, text=text):
            return heading, (text,), None
        case RatingScale(heading=heading):
            return heading, (tell("scale_how"),), None
        case Busy(heading=heading, text=text, done=done, total=total):
            return heading, (text,), done / total if total else None


def main(arguments: list[str] | None = None) -> int:
    """Open the window and stay until it is closed."""
    parser = argparse.ArgumentParser(
        prog="feedback.screens.home.window", description="Pages at home; the program opens them."
    )
    parser.add_argument("--windowed", action="store_true", help="a window, not the full screen")
    options = parser.parse_args(arguments)
    if sys.stdin is None or sys.stdin.isatty():
        print(tell("needs_program"), file=sys.stderr)  # noqa: T201 - a message to a person
        return 2
    app = make_app()

    def answer(reply: Reply) -> None:
        try:
            sys.stdout.buffer.write(line_of(reply))
            sys.stdout.buffer.flush()
        except OSError:  # the program is gone
            app.quit()

    window = PagesWindow(answer)
    lines = PageReader()
    lines.came.connect(window.show_page)
    lines.ended.connect(window.close)
    if options.windowed:
        fit_to_screen(window)
        window.show()
    else:
        fill_screen(window)
    window.activateWindow()
    lines.start()
    keep_awake()
    return run_loop(app)


if __name__ == "__main__":
    sys.exit(main())
