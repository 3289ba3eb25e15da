"""Checks on real offscreen replay windows; runs in a process of its own, where Qt may live.

``python -m tests.feedback.screens.look_replay`` prints a JSON object: each check with what went
wrong, or an empty text.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from typing import Any

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

from PyQt6.QtCore import QPoint, Qt
from PyQt6.QtGui import QFontMetrics
from PyQt6.QtTest import QTest as _QTest
from PyQt6.QtWidgets import QAbstractButton, QApplication, QDialog, QWidget

from feedback.screens.replay.controls import KEYS
from feedback.screens.replay.look import Do
from feedback.screens.replay.window import ReplayWindow
from feedback.screens.widgets.application import make_app
from shared.changes import Answered
from shared.flow import View
from shared.pictures import AskReplay, ReplayEnd, SaveReplay
from tests.feedback.screens import replay_examples
from tests.feedback.screens.looking import report
from tests.feedback.screens.replay_clip import replay
from tests.feedback.screens.replay_examples import StillStation, states

HAND: Any = _QTest
KEY, MOUSE = Qt.Key, Qt.MouseButton.LeftButton
SHIFT, CONTROL = Qt.KeyboardModifier.ShiftModifier, Qt.KeyboardModifier.ControlModifier
SMALL = (960, 540)
"""A full HD screen at 200 %."""


def opened() -> tuple[ReplayWindow, StillStation]:
    """A window that has just asked, and has the keys."""
    window, station = replay_examples.opened()
    assert HAND.qWaitForWindowActive(window)
    return window, station


def filled(*acts: Do, width: int = 1180, height: int = 860) -> ReplayWindow:
    """A window with a replay of 20 s in it, after some acts, that has the keys."""
    window = replay_examples.filled(View.SIDE, *acts, width=width, height=height)
    assert HAND.qWaitForWindowActive(window)
    return window


def check_it_asks_for_twenty_seconds_and_shows_them() -> None:
    window, station = opened()
    assert station.asked == [AskReplay(id=station.replay_id, seconds=20)]
    window.take(replay(View.SIDE, station.replay_id, 6.0))
    shot = window.view.single.shot
    assert shot.picture is not None
    assert "contact" in shot.caption
    assert "memory only" in window.view.news.text()
    close(window)


def check_keys_that_write_nothing_stop_and_nothing_else_does() -> None:
    for full in (False, True):
        window, station = opened()
        if full:
            window.take(replay(View.SIDE, station.replay_id, 6.0))
        keys = (KEY.Key_Escape, KEY.Key_F12, KEY.Key_PageDown, KEY.Key_F5, KEY.Key_MediaNext)
        for count, key in enumerate(keys, start=1):
            HAND.keyClick(window, key)
            assert station.stops == count, (key, full)
        assert window.isVisible(), "a Stop does not close what somebody looks at"
        for act, name in KEYS.items():
            if act not in (Do.SAVE, Do.ANEW, Do.CANCEL):
                press(window, name)
        HAND.keyClick(window, KEY.Key_Space)
        assert station.stops == len(keys)
        close(window)


def check_stop_works_wherever_the_keys_are_and_while_it_plays() -> None:
    window, station = opened()
    window.take(replay(View.SIDE, station.replay_id, 6.0))
    window.view.do(Do.FIRST)
    window.view.do(Do.PLAY)
    stops = 0
    for widget in window.findChildren(QWidget):
        if widget.focusPolicy() is not Qt.FocusPolicy.NoFocus and widget.isEnabled():
            widget.setFocus()
            HAND.keyClick(widget, KEY.Key_Escape)
            stops += 1
            assert station.stops == stops, widget.accessibleName()
    assert stops > 10
    HAND.mousePress(window.stop_button, MOUSE)
    assert station.stops == stops + 1, "on the press, not on the release"
    HAND.mouseRelease(window.stop_button, MOUSE)
    close(window)


def check_every_key_does_what_its_button_does() -> None:
    window = filled()
    look = window.view.look
    last = look.frame
    press(window, "Left")
    assert window.view.look.frame == last - 1
    press(window, "Home")
    assert window.view.look.frame == 0
    press(window, "L")
    first_left = window.view.look.frame
    assert window.view.single.shot.caption.startswith("Left contact")
    press(window, "R")
    assert window.view.single.shot.caption.startswith("Right contact")
    press(window, "Shift+L")
    assert window.view.look.frame == first_left
    press(window, "End")
    assert window.view.look.frame == 599
    for key, switch in (("M", Do.BODY), ("Z", Do.ZOOM), ("B", Do.BOTH)):
        before = window.view.controls.buttons[switch].isChecked()
        press(window, key)
        assert window.view.controls.buttons[switch].isChecked() is not before, key
    assert all(view.isVisible() for view in window.view.sides.values())
    assert not window.view.single.isVisible()
    press(window, "Up")
    assert window.view.look.pair == 1
    press(window, "Down")
    assert window.view.look.pair == 0
    close(window)


def check_space_plays_and_stays() -> None:
    window = filled()
    press(window, "Home")
    press(window, "1")
    HAND.keyClick(window.view.line, KEY.Key_Space)
    began = time.monotonic()
    places = [button.geometry() for button in window.view.controls.buttons.values()]
    until(lambda: window.view.look.frame >= 30)
    took = time.monotonic() - began
    assert 0.8 < took < 1.6, took
    HAND.keyClick(window.view.line, KEY.Key_Space)
    stays = window.view.look.frame
    HAND.qWait(50)
    assert places == [button.geometry() for button in window.view.controls.buttons.values()], (
        "nothing moves under the hand"
    )
    HAND.qWait(150)
    assert window.view.look.frame == stays
    assert not window.view._timer.isActive(), "nothing ticks while it stands"
    close(window)


def check_a_click_on_a_button_leaves_space_to_play() -> None:
    window = filled()
    window.view.line.setFocus()
    for act in (Do.ZOOM, Do.BACK, Do.HALF):
        HAND.mouseClick(window.view.controls.buttons[act], MOUSE)
    assert QApplication.focusWidget() is window.view.line
    HAND.keyClick(window.view.line, KEY.Key_Space)
    assert window.view.look.playing
    close(window)


def check_every_button_can_be_reached_and_pressed_by_keys() -> None:
    window = filled()
    window.view.line.setFocus()
    reached = set()
    for _ in range(60):
        HAND.keyClick(QApplication.focusWidget() or window, KEY.Key_Tab)
        focus = QApplication.focusWidget()
        if isinstance(focus, QAbstractButton):
            reached.add(focus.accessibleName())
    wanted = {
        button.accessibleName()
        for button in window.findChildren(QAbstractButton)
        if button.isEnabled()
    }
    assert reached == wanted, wanted ^ reached
    zoom = window.view.controls.buttons[Do.ZOOM]
    zoom.setFocus()
    HAND.keyClick(zoom, KEY.Key_Space)
    assert window.view.look.zoom
    assert not window.view.look.playing
    close(window)


def check_pointing_at_the_time_line_goes_there() -> None:
    window = filled()
    line = window.view.line
    start, length = line._span()
    HAND.mouseClick(line, MOUSE, pos=QPoint(round(start + length / 2), 20))
    assert abs(window.view.look.frame - 300) <= 1
    HAND.mouseClick(line, MOUSE, pos=QPoint(0, 20))
    assert window.view.look.frame == 0
    close(window)


def check_every_control_has_a_name_and_says_its_key() -> None:
    window = filled()
    for act, button in window.view.controls.buttons.items():
        assert len(button.accessibleName()) > 1, act
        assert "Key: " in button.toolTip(), act
        key = KEYS.get(act, "Space")
        assert button.toolTip().endswith(key), act
    for view in (window.view.single, *window.view.sides.values(), window.view.line):
        assert view.accessibleName()
        assert view.accessibleDescription() or not view.isVisible()
    names = [button.accessibleName() for button in window.view.controls.buttons.values()]
    assert len(set(names)) == len(names), "none sounds like another"
    close(window)


def check_nothing_is_cut_on_the_smallest_screen() -> None:
    for name, window in states(*SMALL):
        HAND.qWait(30)
        assert window.minimumSizeHint().width() <= SMALL[0], (name, window.minimumSizeHint())
        assert window.minimumSizeHint().height() <= SMALL[1], (name, window.minimumSizeHint())
        for button in window.findChildren(QAbstractButton):
            if button.isVisible():
                metrics = QFontMetrics(button.font())
                assert metrics.horizontalAdvance(button.text()) + 8 <= button.width(), (
                    name,
                    button.text(),
                )
                assert metrics.height() <= button.height(), (name, button.text())
        assert isinstance(window, ReplayWindow)
        for view in (window.view.single, *window.view.sides.values()):
            assert not view.isVisible() or view.height() >= 160, (name, view.height())
        close(window)


def check_it_says_what_is_not_measured_in_every_state() -> None:
    for name, window in states(1180, 860):
        texts = [child.property("text") for child in window.findChildren(QWidget)]
        assert any(text and "Heel tilt" in text and "not measured" in text for text in texts), name
        close(window)


def check_save_tells_where_and_is_not_offered_twice() -> None:
    window, station = opened()
    window.take(replay(View.SIDE, station.replay_id, 6.0))
    HAND.keyClick(window, KEY.Key_S, CONTROL)
    shown = station.replay_id
    assert station.asked[-1] == SaveReplay(id=station.save_id, replay=shown)
    save = window.view.controls.buttons[Do.SAVE]
    assert not save.isEnabled()
    assert window.on_answer(Answered(id=station.save_id, done=False, why="The disk is full."))
    assert "The disk is full." in window.view.news.text()
    assert save.isEnabled(), "it can be tried again"
    HAND.keyClick(window, KEY.Key_S, CONTROL)
    assert window.on_answer(Answered(id=station.save_id, done=True, why="/a/x.replay-1.mp4"))
    assert "/a/x.replay-1.mp4" in window.view.news.text()
    assert not save.isEnabled()
    assert not window.on_answer(Answered(id=3, done=True)), "another's"
    close(window)


def check_a_new_replay_takes_the_place_of_the_old_when_it_is_here() -> None:
    window, station = opened()
    window.take(replay(View.SIDE, station.replay_id, 6.0))
    old = window.view.look.film
    press(window, "N")
    parts = replay(View.SIDE, station.replay_id, 4.0)
    window.take(parts[:60])
    assert window.view.look.film is old, "it can be looked at meanwhile"
    assert "60 of 120" in window.view.news.text()
    window.take(parts[60:])
    film = window.view.look.film
    assert film is not None
    assert film is not old
    assert len(film.pictures) == 120
    close(window)


def check_giving_up_has_no_more_sent() -> None:
    window, station = opened()
    asked = station.replay_id
    window.take(replay(View.SIDE, asked, 6.0)[:40])
    press(window, "G")
    assert station.asked[-1] == AskReplay(id=asked, seconds=0)
    window.take(replay(View.SIDE, asked, 6.0)[40:])
    assert window.view.look.film is None
    assert "Cancelled" in window.view.single.shot.caption
    close(window)


def check_closing_lets_go_of_all_pictures_here_and_at_the_station() -> None:
    window, station = opened()
    shown = station.replay_id
    window.take(replay(View.SIDE, shown, 6.0))
    HAND.keyClick(window, KEY.Key_W, CONTROL)
    assert not window.isVisible()
    assert station.asked[-1] == AskReplay(id=shown, seconds=0)
    assert window.view.look.film is None
    assert window.view.single.shot.picture is None
    assert all(view.shot.picture is None for view in window.view.sides.values())
    window.take(replay(View.SIDE, shown, 6.0))
    assert window.view._arrival is None, "what comes too late is not kept"
    window.open()
    assert station.replay_id != shown
    window.take([ReplayEnd(id=station.replay_id, count=0, marks=())])
    assert "no pictures yet" in window.view.single.shot.caption
    close(window)


def check_it_is_never_a_dialog_and_never_above_others() -> None:
    window, _ = opened()
    assert not isinstance(window, QDialog)
    assert window.windowModality() is Qt.WindowModality.NonModal
    assert not window.windowFlags() & Qt.WindowType.WindowStaysOnTopHint
    assert window.parent() is None
    assert QApplication.activeModalWidget() is None
    close(window)


def check_a_picture_is_drawn_in_time() -> None:
    """Decode and draw the next picture: in processor time, full speed being 33 ms a picture."""
    for acts in ((), (Do.ZOOM,), (Do.BOTH, Do.ZOOM)):
        window = filled(Do.FIRST, *acts, width=1600, height=1000)
        HAND.qWait(100)
        took = []
        for _ in range(60):
            began = time.process_time()
            window.view.do(Do.ON)
            for view in (window.view.single, *window.view.sides.values()):
                if view.isVisible():
                    view.repaint()
            window.view.line.repaint()
            took.append(1e3 * (time.process_time() - began))
        assert sorted(took)[57] < 33, took
        close(window)


def press(window: ReplayWindow, key: str) -> None:
    """A key as it is written in the table."""
    name = key.rsplit("+", maxsplit=1)[-1]
    modifier = Qt.KeyboardModifier.NoModifier
    if key.startswith("Shift+"):
        modifier = SHIFT
    elif key.startswith("Ctrl+"):
        modifier = CONTROL
    HAND.keyClick(window, getattr(KEY, f"Key_{name}"), modifier)


def close(window: QWidget) -> None:
    window.close()
    window.deleteLater()
    HAND.qWait(1)


def until(check: Callable[[], bool]) -> None:
    deadline = time.monotonic() + 10
    while not check():
        assert time.monotonic() < deadline, "it never came to pass"
        HAND.qWait(5)


CHECKS = {name: value for name, value in globals().items() if name.startswith("check_")}


def main() -> None:
    """Run the checks that are named, or all, whatever the others did."""
    _app = make_app()
    report(CHECKS)


if __name__ == "__main__":
    main()
