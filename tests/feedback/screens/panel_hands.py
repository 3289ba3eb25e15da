"""Checks of a panel under hands that are in a hurry: what stops, and that nothing moves away."""

from __future__ import annotations

from typing import Any

from PyQt6.QtCore import QEvent, QPoint, Qt
from PyQt6.QtGui import QKeyEvent
from PyQt6.QtWidgets import (
    QAbstractScrollArea,
    QApplication,
    QDoubleSpinBox,
    QLabel,
    QLineEdit,
    QMenu,
    QScrollBar,
    QWidget,
)

from feedback.screens.clinician.console import ConsoleWindow
from feedback.screens.widgets.stop_keys import GIVE_BACK_MS, KeysBack
from feedback.texts.clinician import say
from feedback.texts.runner import words
from shared.changes import Adjust, Answered, MoveBlock, Note
from shared.flow import BandState
from shared.messages import SessionState
from shared.problems import describe
from shared.targets import Question
from tests.feedback.screens.panel_examples import (
    REMARK,
    STRIKE,
    known,
    readings,
    running,
    states,
    target,
)
from tests.feedback.screens.panel_feed import StillPanelLink, points
from tests.feedback.screens.panel_tools import (
    HAND,
    KEY,
    check_label,
    close_panel,
    open_panel,
    until,
)

WRITE_NOTHING = (
    # Qt::Key (qnamespace.h); presenters send the first five, foot pedals often F13 to F24
    KEY.Key_Escape, KEY.Key_PageUp, KEY.Key_PageDown, KEY.Key_F5, KEY.Key_F12,
    KEY.Key_F13, KEY.Key_F24, KEY.Key_MediaPlay, KEY.Key_MediaTogglePlayPause, KEY.Key_MediaNext,
    KEY.Key_MediaPrevious, KEY.Key_MediaStop, KEY.Key_Back, KEY.Key_Forward, KEY.Key_unknown,
)  # fmt: skip
EDIT_OR_MOVE = (
    KEY.Key_Left, KEY.Key_Right, KEY.Key_Home, KEY.Key_End, KEY.Key_Backspace, KEY.Key_Delete,
    KEY.Key_Insert, KEY.Key_Shift, KEY.Key_CapsLock, KEY.Key_AltGr, KEY.Key_Dead_Acute,
    KEY.Key_Multi_key, KEY.Key_VolumeUp, KEY.Key_Tab,
)  # fmt: skip


def check_keys_that_write_nothing_stop_wherever_the_keys_are() -> None:
    made, link = open_panel("running", 1920, 1080)
    view, expected = made.view, 0
    HAND.keyClicks(view.notes.field, "left foot")
    for widget in (
        view.notes.field, view.targets[0].field, view.table, view.log.list, view.blocks.list,
        view.charts.charts[0], view.ratings.rows[Question.PAIN].buttons[0], view.head.stop, made,
    ):  # fmt: skip
        widget.setFocus()
        shown = view.targets[0].field.value(), view.table.currentRow()
        for key in WRITE_NOTHING:
            widget.setFocus()
            HAND.keyClick(widget, key)
            expected += 1
            assert link.stops == expected, (widget, key)
        HAND.keyClick(widget, KEY.Key_F5, Qt.KeyboardModifier.ShiftModifier)
        HAND.keyClick(widget, KEY.Key_PageDown, Qt.KeyboardModifier.KeypadModifier)
        expected += 2
        assert link.stops == expected, widget
        assert shown == (view.targets[0].field.value(), view.table.currentRow()), "only Stop"
    assert view.notes.field.text() == "left foot", "what is typed stays"
    close_panel(made)


def check_what_is_typed_and_how_one_moves_about_stops_nothing() -> None:
    made, link = open_panel("running", 1920, 1080)
    for key in EDIT_OR_MOVE:
        made.view.notes.field.setFocus()
        HAND.keyClick(made.view.notes.field, key)
    for held in ("ControlModifier", "AltModifier", "MetaModifier"):
        HAND.keyClick(made.view.notes.field, KEY.Key_PageDown, Qt.KeyboardModifier[held])
    letters = "b. stop? 1 \u00e9\u00df\u0416\u65e5"
    made.view.notes.field.setFocus()
    for letter in letters:  # as a keyboard of any language sends them
        for kind in (QEvent.Type.KeyPress, QEvent.Type.KeyRelease):
            code = KEY.Key_unknown if ord(letter) > 127 else KEY(ord(letter.upper()))
            event = QKeyEvent(kind, code, Qt.KeyboardModifier.NoModifier, letter)
            QApplication.sendEvent(made.view.notes.field, event)
    assert made.view.notes.field.text() == letters
    assert link.stops == 0
    close_panel(made)


def check_a_key_that_is_held_down_stops_once() -> None:
    made, link = open_panel("running", 1920, 1080)
    field = made.view.targets[0].field
    for again in (False, True, True):
        event = QKeyEvent(
            QEvent.Type.KeyPress, KEY.Key_PageUp, Qt.KeyboardModifier.NoModifier, "", again
        )
        QApplication.sendEvent(field, event)
    assert link.stops == 1
    assert not made.view.targets[0].editing, "and sets nothing while it is held"
    close_panel(made)


def check_a_stop_gets_through_an_open_menu_and_closes_it() -> None:
    made, link = open_panel("running", 1920, 1080)
    field: QLineEdit = made.view.notes.field
    menu: QMenu | None = field.createStandardContextMenu()
    assert menu is not None
    menu.popup(field.mapToGlobal(QPoint(5, 5)))
    until(menu.isVisible)
    HAND.keyClick(menu, KEY.Key_Escape)
    assert link.stops == 1
    until(lambda: not menu.isVisible())
    close_panel(made)


def check_a_window_hears_its_own_keys_alone() -> None:
    made, link = open_panel("running", 1280, 720)
    other, other_link = open_panel("running", 1280, 720)
    HAND.keyClick(other.view.notes.field, KEY.Key_PageDown)
    assert (link.stops, other_link.stops) == (0, 1)
    close_panel(other)
    QApplication.processEvents()
    HAND.keyClick(made.view.notes.field, KEY.Key_PageDown)
    assert (link.stops, other_link.stops) == (1, 1)
    close_panel(made)


def check_in_a_console_the_station_that_has_the_keys_is_stopped() -> None:
    window, links = ConsoleWindow(), []
    for number in (1, 2):
        links.append(StillPanelLink(states()["running"], points()))
        window.add_station(f"Treadmill {number}", links[-1])
    window.resize(1600, 900)
    window.show()
    window.tabs.setCurrentIndex(1)
    HAND.qWait(300)
    HAND.keyClick(window.views[1].notes.field, KEY.Key_PageUp)
    HAND.keyClick(window.stop_button(0), KEY.Key_F5)
    assert [link.stops for link in links] == [0, 2], "from the list: the one that is open"
    window.close()


def check_a_text_field_gives_the_keys_back_to_stop() -> None:
    assert GIVE_BACK_MS == 5_000
    made, link = open_panel("running", 1920, 1080)
    view = made.view
    notes = view.notes.keys_back
    assert notes is not None
    assert notes.timer.interval() == GIVE_BACK_MS
    notes.timer.setInterval(300)
    view.notes.field.setFocus()
    for letter in "left foot":  # slower than one letter in the time, all told
        HAND.keyClicks(view.notes.field, letter)
        HAND.qWait(60)
    assert view.notes.field.hasFocus(), "while somebody types it has them"
    until(view.head.stop.hasFocus)
    assert view.notes.field.text() == "left foot", "the note stays"
    until(lambda: say("note_keys_gone") in _texts(made))
    HAND.keyClick(QApplication.focusWidget(), KEY.Key_Space)
    assert link.stops == 1, "a pedal's Space stops again"
    view.notes.field.setFocus()
    until(lambda: say("note_keys_gone") not in _texts(made))
    aim = view.targets[0].field.findChild(KeysBack)
    assert aim is not None, "the number of a target is a text field too"
    aim.timer.setInterval(100)
    view.targets[0].field.setFocus()
    until(view.head.stop.hasFocus)
    close_panel(made)


def check_nothing_moves_when_something_is_told() -> None:
    for size in ((1920, 1080), (1366, 768), (1280, 720)):
        _look_for_moves(size)


def _look_for_moves(size: tuple[int, int]) -> None:
    made, link = open_panel("running", *size)
    view = made.view
    places = _places(view)
    HAND.keyClicks(view.notes.field, "left foot")
    HAND.keyClick(view.notes.field, KEY.Key_Return)
    view.targets[0].more.click()
    view.targets[0].set_button.click()
    view.blocks.next_button.click()
    until(lambda: say("asked") in _texts(made))
    assert _places(view) == places, "asked"
    for why in (None, *(text for key, text in _answers())):
        for one in link.asked:
            if isinstance(one, Note | Adjust | MoveBlock):
                moved = target(aim=176.0, low=172.25, high=180.25)
                link.answers += (
                    Answered(
                        id=one.id,
                        done=why is None,
                        why=why or "",
                        target=moved if isinstance(one, Adjust) else None,
                    ),
                )
        until(lambda: not link.answers)
        HAND.qWait(20)
        assert _places(view) == places, (why, places, _places(view))
        for row in made.findChildren(type(view.notes._message)):
            if row.isVisible():
                check_label(row, (why, size))
        view.notes._add("again")
        view.targets[0]._adjust(0, 1, 176.0)
        view.blocks._next_block(2, 3)
    before = _geometries(made)
    for news in (
        running(asked=Question.PAIN),
        running(asked=Question.EFFORT, pain=3),
        running(targets=(target(value=181.0, state=BandState.ABOVE, in_focus=False), STRIKE)),
        running(targets=(target(by_hand=True, can_undo=True, beat_spm=None), STRIKE)),
        running(problems=(describe("camera_moved"), describe("sound_missing")), sound_on=False),
        running(state=SessionState.PAUSED, focus=None),
        running(readings=readings(quality=0.2, age_ms=9_000.0), consoles=("Consulting room 2",)),
        running(cues=(), remarks=(REMARK, REMARK)),
    ):
        link.known = known(news)
        made.view._worded_ns = 0
        HAND.qWait(60)
        now = _geometries(made)
        moved_ones = [
            (before[one], now[one]) for one in before if now.get(one, before[one]) != before[one]
        ]
        assert moved_ones == [], (size, moved_ones)
        assert _places(view)[:2] == places[:2]
    close_panel(made)


def _answers() -> list[tuple[str, str]]:
    """All that the station may answer to a change, a block or a note."""
    keys = (
        "answer_stopped", "answer_no_target", "answer_changed_meanwhile", "answer_note_empty",
        "answer_nothing_to_undo", "answer_out_of_range", "answer_no_block",
        "answer_block_meanwhile",
    )  # fmt: skip
    places = {"least": "167.25", "most": "177.25", "unit": "steps/min"}
    return [(key, words(key, **places)) for key in keys]


def _places(view: Any) -> list[QPoint]:
    parts: list[QWidget] = [
        view.targets[0], view.targets[0].field, view.notes.field, view.ratings,
        *view.ratings.rows.values(), view.blocks.next_button,
    ]  # fmt: skip
    return [part.mapTo(view, QPoint(0, 0)) for part in parts]


def _geometries(made: Any) -> dict[QWidget, tuple[str, tuple[int, ...]]]:
    """Where each widget stands that can be seen: cards, controls and lines of words."""
    found: dict[QWidget, tuple[str, tuple[int, ...]]] = {}
    for widget in made.findChildren(QWidget):
        if isinstance(widget, QLabel) and not widget.text():
            continue  # nothing is seen of it
        inner = isinstance(widget.parent(), QAbstractScrollArea | QScrollBar | QDoubleSpinBox)
        if widget.isVisible() and not inner and not isinstance(widget, QScrollBar):
            at = widget.mapTo(made, QPoint(0, 0))
            name = f"{type(widget).__name__} {widget.accessibleName()}"
            # a line of words may grow to the right, where nothing stands
            wide = 0 if isinstance(widget, QLabel) else widget.width()
            found[widget] = (name, (at.x(), at.y(), wide, widget.height()))
    return found


def _texts(made: Any) -> list[str]:
    return [row.text() for row in made.findChildren(type(made.view.notes._message))]
