"""Checks on real offscreen windows; runs in a process of its own, where Qt may live.

``python -m tests.feedback.screens.look`` prints a JSON object: each check with what went wrong,
or an empty text.
"""

from __future__ import annotations

import math
import os
import string
import sys
import time
from collections.abc import Callable
from typing import Any

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import numpy as np
from numpy.typing import NDArray
from PyQt6.QtCore import QEvent, Qt
from PyQt6.QtGui import QImage, QKeyEvent
from PyQt6.QtTest import QTest as _QTest
from PyQt6.QtWidgets import QApplication

from feedback.link.client_state import LinkState, LinkStatus
from feedback.screens.runner.layout import Sight, arrange, px_per_mm
from feedback.screens.runner.model import Button, Showing, show
from feedback.screens.runner.paint import message_rows, number_cap_px
from feedback.screens.runner.window import News, RunnerWindow
from feedback.screens.widgets import palette
from feedback.screens.widgets.lettering import fit
from feedback.screens.widgets.orphaned import Orphaned
from feedback.texts import runner as wording
from shared.clock import now_ns
from shared.messages import Confirm, GoOn, Pause, Rating, SessionState, StopReason
from shared.problems import PROBLEMS, describe
from shared.problems.unmeasured import UNMEASURED
from shared.targets import Question
from tests.feedback.link.examples import snapshot
from tests.feedback.screens.examples import CADENCE, StillLink, heard, states, window
from tests.feedback.screens.looking import report

HAND: Any = _QTest
"""Presses keys and buttons; the library's type hints do not know that these are static."""
SIZES = ((1920, 1080), (1280, 720), (2560, 1080), (800, 600), (600, 1000), (320, 240), (160, 120))
DESK = (1920, 1080, 1920 / 531)
LAPTOP = (1366, 768, 1366 / 345)
IN_A_RUN = {
    *("no_runner", "second_person", "wrong_view", "body_cut_off", "not_running", "scale_doubt"),
    *("quality_low", "camera_moved", "picture_lost", "worker_failed", "worker_stalled"),
    *UNMEASURED,
}
"""Problems that take the number's place while somebody runs."""


SENT = (
    "Space", "Escape", "PageUp", "PageDown", "Left", "Right", "Up", "Down", "B", "Period", "F5",
    "Return", "Enter", "Tab", "Backtab", "Home", "End", "A", "W", "Slash", "F13", "F24",
    "MediaNext", "MediaPlay", "Backspace", "Delete", "unknown",
)  # fmt: skip
"""Presenters: Page Up and Down, arrows, B, full stop, F5, Esc, Return, Tab (common practice, no
source); pedals: letters, Space, F13 to F24; remotes for music."""


def check_no_picture_runs_out_of_its_window() -> None:
    for width, height in SIZES:
        for name in states():
            image = _colours(_grab(window(states()[name], width, height)[0]))
            edges = (image[0], image[-1], image[:, 0], image[:, -1])
            found = {int(colour) for edge in edges for colour in np.unique(edge)}
            assert found == {_number(palette.ground())}, (name, width, height, found)


def check_every_state_shows_something_of_its_own() -> None:
    for width, height in SIZES[:2]:
        pictures = {
            name: _colours(_grab(window(states()[name], width, height)[0])) for name in states()
        }
        same = [
            (one, other)
            for one in pictures
            for other in pictures
            if one < other and np.array_equal(pictures[one], pictures[other])
        ]
        assert same == [], same


def check_number_and_every_line_can_be_read_at_two_metres() -> None:
    for width, height, scale in (DESK, LAPTOP):
        sight = Sight(scale, 2.0)
        places = arrange(width, height, sight)
        for name in ("inside", "below", "above", "inside_degrees"):
            cap = number_cap_px(show(states()[name], now_ns()), places)
            assert cap >= sight.px(60), (name, width, cap)
        for key, text in wording.TEXTS.items():
            if key.startswith(("cue_", "line_")):
                box = places.line
                line = fit(text, box.width, box.height, places.line_cap_px, 2, bold=True)
                assert line.cap_px >= sight.px(40) * 0.995, (text, width, line.cap_px)


def check_the_digits_on_the_glass_are_an_arc_degree_high() -> None:
    """Measured in the picture, at the size that the screen says it has."""
    for name in ("inside", "below", "inside_degrees", "widest", "baseline", "block_warm_up"):
        made, _ = window(states()[name], 1920, 1080)
        screen = made.screen()
        assert screen is not None
        scale = px_per_mm(screen.size().width(), screen.physicalSize().width())
        picture = _grab(made)
        dots, box = picture.devicePixelRatio(), made.places.number
        image = _colours(picture)[int(dots * box.y) : int(dots * (box.y + box.height))]
        inks = [_number(ink.colour) for ink in (palette.NUMBER, palette.NUMBER_OUTSIDE)]
        rows = np.flatnonzero(np.isin(image, inks).sum(axis=1) > 2)
        high_mm = (rows[-1] - rows[0] + 1) / dots / scale
        arcmin = 60 * math.degrees(2 * math.atan(high_mm / 2_000 / 2.0))
        assert arcmin >= 59.5, (name, arcmin)  # the outermost row may be half a dot's shade


def check_every_problem_can_be_read_at_two_metres() -> None:
    """16 arcmin at least; those that come up in a run 20 (ISO 9241-3)."""
    assert set(PROBLEMS) >= IN_A_RUN
    for width, height, scale in (DESK, LAPTOP):
        sight = Sight(scale, 2.0)
        places = arrange(width, height, sight)
        for code, problem in PROBLEMS.items():
            parts = (problem.title, problem.meaning, problem.action)
            names = {
                name for text in parts for _, name, _, _ in string.Formatter().parse(text) if name
            }
            made = describe(code, **dict.fromkeys(names, "sample 12"))
            showing = show(heard(snapshot(focus=None, problems=(made,))), now_ns())
            if showing.heading == made.title:
                least = min(fitted.cap_px for fitted, _, _ in message_rows(showing, places))
                wanted = 20 if code in IN_A_RUN else 16
                assert least >= sight.px(wanted), (code, width, least / sight.px(1))


def check_a_screen_that_is_too_small_says_so_before_the_run() -> None:
    for state in ("cautions", "ready", "ready_problem"):
        made, _ = window(states()[state], 1920, 1080)
        assert not any("too small" in text for text in made.showing.small_print)
        made.close()
        link = StillLink(states()[state])
        far = RunnerWindow(link, News(), distance_m=5.0)
        far.resize(800, 600)
        far.show()
        _see_small(far, link)
        far.close()


def check_no_dialog_comes_up_in_any_state() -> None:
    for name in states():
        made, _ = _open(name)
        before_the_run = made.showing.action is Button.CONFIRM
        for key in (Qt.Key.Key_P, Qt.Key.Key_Y, Qt.Key.Key_C, Qt.Key.Key_7, Qt.Key.Key_F1):
            HAND.keyClick(made, key)
        HAND.qWait(5)
        shown = {one for one in QApplication.topLevelWidgets() if one.isVisible()}
        # Before anybody runs F1 is for the help; from then on it stops, as any key does.
        helped = {made.manual.shown} if before_the_run else set()
        assert shown in ({made, *helped}, set()), (name, shown)
        assert QApplication.activeModalWidget() is None
        assert QApplication.activePopupWidget() is None
        made.close()


def check_every_text_fits_its_place() -> None:
    for width, height in SIZES:
        for scale in (2.0, 4.0, 8.0):
            places = arrange(width, height, Sight(scale, 2.0))
            for key, text in wording.TEXTS.items():
                box, rows = (places.line, 2) if key.startswith("cue_") else (places.message, 4)
                fitted = fit(text, box.width, box.height, places.line_cap_px, rows, bold=True)
                assert fitted.width <= box.width + 0.01, (text, width)
                assert fitted.height <= box.height + 0.01, (text, height)
                assert len(fitted.rows) <= rows
                assert " ".join(fitted.rows).split() == text.split()


def check_marker_tells_the_state_by_place_and_shape() -> None:
    for name, side in (("below", -1), ("inside_degrees", 0), ("above", 1)):
        made, _ = window(states()[name], 1920, 1080)
        picture = _grab(made)
        dots, box = picture.devicePixelRatio(), made.places.gauge
        rows = slice(int(dots * box.y), int(dots * (box.y + 0.62 * box.height)))
        image = _colours(picture)[rows]
        band = np.flatnonzero((image == _number(palette.BAND.colour)).any(axis=0))
        ink = palette.MARKER_INSIDE if side == 0 else palette.MARKER_OUTSIDE
        heights = (image == _number(ink.colour)).sum(axis=0)
        marker = np.flatnonzero(heights)
        assert band.size, name
        assert marker.size, name
        middle = (marker[0] + marker[-1]) / 2
        place = -1 if middle < band[0] else 1 if middle > band[-1] else 0
        assert place == side, (name, place)
        aside = round(0.1 * marker.size)
        first, last = int(heights[marker[0] + aside]), int(heights[marker[-1] - aside])
        way = 1 if first < last / 2 else -1 if last < first / 2 else 0
        assert way == side, "a wedge points at the band, a disc is the same on both sides"


def check_keys_and_button_ask_for_stop() -> None:
    for key in (Qt.Key.Key_Space, Qt.Key.Key_Escape):
        made, link = _open("inside")
        HAND.keyClick(made, key)
        assert link.stops == 1, key
        made.close()
    made, link = _open("inside")
    button = made.stop_button
    HAND.mousePress(button, Qt.MouseButton.LeftButton)
    assert link.stops == 1, "on the press, not on the release"
    HAND.mouseRelease(button, Qt.MouseButton.LeftButton)
    assert link.stops == 1
    made.close()


def check_whatever_a_presenter_or_pedal_sends_stops() -> None:
    plain, shift = Qt.KeyboardModifier.NoModifier, Qt.KeyboardModifier.ShiftModifier
    keys = [(getattr(Qt.Key, f"Key_{name}"), plain) for name in SENT]
    for state in ("cautions", "ready", "inside", "paused", "near_edge", "problem_runner"):
        made, link = _open(state)
        for count, (key, modifier) in enumerate([*keys, (Qt.Key.Key_F5, shift)], start=1):
            HAND.keyClick(made, key, modifier)
            assert (link.stops, link.asked) == (count, []), (state, key)
        made.close()


def check_the_few_keys_with_another_meaning_never_stop() -> None:
    made, link = _open("inside")
    for key in (Qt.Key.Key_Shift, Qt.Key.Key_VolumeUp, Qt.Key.Key_Y, Qt.Key.Key_C):
        HAND.keyClick(made, key)
    HAND.keyClick(made, Qt.Key.Key_Tab, Qt.KeyboardModifier.AltModifier)
    assert (link.stops, link.asked) == (0, [])
    HAND.keyClick(made, Qt.Key.Key_4)
    HAND.keyClick(made, Qt.Key.Key_7, Qt.KeyboardModifier.KeypadModifier)
    HAND.keyClick(made, Qt.Key.Key_P)
    pain = Question.PAIN
    assert link.asked == [Rating(what=pain, value=4), Rating(what=pain, value=7), Pause()]
    assert link.stops == 0
    HAND.keyClick(made, Qt.Key.Key_1)
    HAND.keyClick(made, Qt.Key.Key_0)
    assert link.asked[-1] == Rating(what=pain, value=10)
    HAND.keyClick(made, Qt.Key.Key_1)
    _until(lambda: link.asked[-1] == Rating(what=pain, value=1))
    link.known = heard(snapshot(asked=Question.EFFORT))
    _until(lambda: made.showing.rates is Question.EFFORT)
    HAND.keyClick(made, Qt.Key.Key_8)
    assert link.asked[-1] == Rating(what=pain, value=1), "meant for what was asked before"
    HAND.qWait(750)
    HAND.keyClick(made, Qt.Key.Key_3)
    assert link.asked[-1] == Rating(what=Question.EFFORT, value=3)
    made.close()


def check_cautions_and_pause_are_ended_by_their_key_or_button() -> None:
    for state, key, request in (
        ("cautions", Qt.Key.Key_Y, Confirm()),
        ("paused", Qt.Key.Key_C, GoOn()),
    ):
        made, link = _open(state)
        made._since_ns = now_ns()
        HAND.keyClick(made, key)
        assert link.asked == [], "so soon it was meant for the page before"
        HAND.qWait(750)
        HAND.keyClick(made, key)
        HAND.mouseClick(made.action_button, Qt.MouseButton.LeftButton)
        assert link.asked == [request, request]
        assert link.stops == 0
        made.close()
    made, _ = _open("inside")
    assert not made.action_button.isVisible()
    made.close()


def check_stop_is_shown_at_once_and_stays_until_closed() -> None:
    made, link = _open("inside")
    link.known = heard(snapshot(), stop_asked=True)
    HAND.keyClick(made, Qt.Key.Key_Space)
    assert made.showing.heading == "Stopping"
    link.known = states()["stopped"]
    _until(lambda: made.showing.heading == "Stopped")
    assert made.stop_button.kind is Button.CLOSE
    HAND.keyClick(made, Qt.Key.Key_Escape)
    assert made.isVisible(), "a second press right away must not hide the answer"
    HAND.qWait(1_100)
    HAND.keyClick(made, Qt.Key.Key_Space)
    assert made.isVisible(), "Space never closes"
    held = QKeyEvent(
        QEvent.Type.KeyPress, Qt.Key.Key_Escape, Qt.KeyboardModifier.NoModifier, "", True
    )
    QApplication.sendEvent(made, held)
    assert made.isVisible(), "a key held down never closes"
    HAND.keyClick(made, Qt.Key.Key_Escape)
    assert not made.isVisible()
    assert link.closed


def check_a_press_that_began_as_stop_does_not_close() -> None:
    made, link = _open("inside")
    HAND.mousePress(made.stop_button, Qt.MouseButton.LeftButton)
    link.known = states()["stopped"]
    _until(lambda: made.stop_button.kind is Button.CLOSE)
    HAND.qWait(1_100)
    HAND.mouseRelease(made.stop_button, Qt.MouseButton.LeftButton)
    assert made.isVisible()
    HAND.mouseClick(made.stop_button, Qt.MouseButton.LeftButton)
    assert not made.isVisible()


def check_closing_the_window_asks_for_stop_first() -> None:
    made, link = _open("inside")
    made.close()
    assert (link.stops, link.closed) == (1, True)
    made, link = _open("stopped")
    made.close()
    assert (link.stops, link.closed) == (0, True)


def check_goodbye_closes_the_window() -> None:
    made, link = _open("stopped")
    over = snapshot(state=SessionState.STOPPED, stop_reason=StopReason.TIME)
    link.known = LinkStatus(LinkState.ENDED, "done", over, now_ns(), False)
    _until(lambda: not made.isVisible())


def check_a_station_that_is_gone_leaves_no_window() -> None:
    made, link = _open("inside")
    made._orphaned = Orphaned(stays_ns=400_000_000)
    link.known = LinkStatus(LinkState.LOST, "", snapshot(focus=CADENCE), now_ns(), False)
    _until(lambda: made.showing.heading == wording.words("gone_title"))
    assert made.isVisible(), "first it says what has happened"
    _until(lambda: not made.isVisible())


def check_changes_are_slow_enough_to_read_and_never_flash() -> None:
    made, link = _open("inside")
    seen: list[Showing] = []
    began, number = time.monotonic(), 0
    while time.monotonic() - began < 2.0:
        number += 1
        link.known = heard(snapshot(number, focus=CADENCE if number % 2 else None))
        made.news.tell()
        HAND.qWait(20)
        if not seen or made.showing != seen[-1]:
            seen.append(made.showing)
    assert number > 30
    assert 3 <= len(seen) <= 2.0 * 4 + 2, len(seen)
    made.close()


def check_a_sign_of_life_comes_from_the_event_loop_only() -> None:
    made, link = _open("inside")
    HAND.qWait(1_200)
    assert link.pings >= 2, link.pings
    before = link.pings
    time.sleep(0.8)  # the window hangs
    assert link.pings == before
    made.close()


def check_a_stale_number_goes_by_itself() -> None:
    made, link = _open("inside")
    assert made.showing.number == "9.8"
    _until(lambda: made.showing.number == wording.words("no_value"))
    _until(lambda: made.showing.heading == wording.words("gone_title"))
    link.known = heard(snapshot(2))
    _until(lambda: made.showing.number == "9.8")
    assert made.stop_button.kind is Button.STOP
    made.close()


def _see_small(far: RunnerWindow, link: StillLink) -> None:
    _until(lambda: any("From 5 m" in text for text in far.showing.small_print))
    link.known = states()["inside"]
    _until(lambda: far.showing.number != "")
    assert far.showing.small_print == ()


def _open(name: str) -> tuple[RunnerWindow, StillLink]:
    made, link = window(states()[name], 1280, 720)
    made.show()
    HAND.qWaitForWindowExposed(made)
    made._since_ns = 0  # it has stood long enough
    return made, link


def _until(check: Callable[[], bool]) -> None:
    deadline = time.monotonic() + 10
    while not check():
        assert time.monotonic() < deadline, "it never came to pass"
        HAND.qWait(10)


def _grab(made: RunnerWindow) -> QImage:
    image = made.grab().toImage()
    made.close()
    return image


def _colours(image: QImage) -> NDArray[np.uint32]:
    """(height, width) colours as 0xRRGGBB."""
    image = image.convertToFormat(QImage.Format.Format_RGB32)
    bits = image.constBits()
    assert bits is not None
    dots = np.frombuffer(bits.asstring(image.sizeInBytes()), np.uint32) & np.uint32(0xFFFFFF)
    return dots.reshape(image.height(), image.bytesPerLine() // 4)[:, : image.width()]


def _number(colour: str) -> int:
    return int(colour[1:], 16)


CHECKS = {name: value for name, value in globals().items() if name.startswith("check_")}


def main() -> None:
    """Run the checks that are named, or all, whatever the others did."""
    _app = QApplication(sys.argv[:1])
    report(CHECKS)


if __name__ == "__main__":
    main()
