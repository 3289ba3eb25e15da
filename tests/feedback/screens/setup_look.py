"""Checks on real offscreen windows of the camera check.

``python -m tests.feedback.screens.setup_look`` prints a JSON object: each check with what went
wrong, or an empty text.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from typing import Any

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

from PyQt6.QtCore import QPoint, Qt
from PyQt6.QtTest import QTest as _QTest
from PyQt6.QtWidgets import QApplication, QPushButton, QWidget

from feedback.link.client_state import LinkState, LinkStatus
from feedback.screens.camera_check.model import Going
from feedback.screens.camera_check.window import SMALLEST_PX, SetupWindow
from feedback.screens.camera_check.words import MOST_CAP_SHARE, ROWS, SIGN_SHARE
from feedback.screens.runner.layout import Sight
from feedback.screens.widgets.application import make_app
from feedback.screens.widgets.lettering import fit
from feedback.screens.widgets.stop_keys import KeysBack
from feedback.texts.camera_check import TEXTS
from shared.messages import Request
from shared.pictures import BeltEdges, CheckDone, SetEdges, WatchPictures
from tests.feedback.screens.looking import report
from tests.feedback.screens.setup_examples import (
    EDGES,
    StillSetupLink,
    states,
    window,
)

HAND: Any = _QTest
K = Qt.Key
SIZES = ((1920, 1080), (1366, 768), (1280, 720), SMALLEST_PX)
DESK = (1920, 1080, 1920 / 531)
LAPTOP = (1366, 768, 1366 / 345)
READ = 20.0
"""Minutes of arc at 2 m: best read at 20 to 22 (ISO 9241-3)."""
ADVICE = (
    "no_picture", "stand_still", "faster", "lighter", "darker", "backlit", "clean_lens", "step_in",
    "others_out", "view_side", "view_behind", "view_front", "further", "nearer", "tilt_up",
    "tilt_down", "turn_left", "turn_right", "raise_left", "raise_right", "to_front", "to_back",
    "to_left", "to_right", "draw_edges", "good_more", "good_lines", "was_good_more",
)  # fmt: skip
"""What is shown large, to be read from the belt."""


def check_what_to_do_can_be_read_from_the_belt() -> None:
    for width, height, scale in (DESK, LAPTOP):
        made, _ = _open("nobody", width, height)
        box, sight = made.words, Sight(scale, 2.0)
        for key in ADVICE:
            high, wide = float(box.height()), float(box.width())
            sign = min(0.16 * wide, SIGN_SHARE * high)
            room = wide - 0.1 * high, high - 0.15 * high - sign
            text = fit(TEXTS[key], *room, MOST_CAP_SHARE * high, ROWS, bold=True)
            assert text.cap_px >= sight.px(READ), (key, width, text.cap_px, sight.px(READ))
        made.close()


def check_every_row_of_the_list_is_whole() -> None:
    for width, height in SIZES:
        for name in states():
            made, _ = _open(name, width, height)
            for number in range(made.list.count()):
                item = made.list.item(number)
                assert item is not None
                place = made.list.visualItemRect(item)
                assert place.right() <= made.list.width(), (name, width, item.text())
                metrics = made.list.fontMetrics()
                room = place.width() - 40
                longest = max(item.text().split(), key=metrics.horizontalAdvance)
                assert metrics.horizontalAdvance(longest) <= room, (name, width, longest)
            made.close()


def check_every_button_shows_its_whole_word() -> None:
    for width, height in SIZES:
        for name in ("good", "many"):
            made, _ = _open(name, width, height)
            until(made.go_on.isVisible)
            for button in buttons(made):
                assert button.sizeHint().width() <= button.width() + 1, (button.text(), width)
            made.close()


def check_whoever_can_be_reached_by_tab_has_a_name() -> None:
    made, _ = _open("good")
    seen: list[QWidget] = []
    for _ in range(12):
        HAND.keyClick(made, K.Key_Tab)
        held = QApplication.focusWidget()
        if held is not None and held not in seen:
            seen.append(held)
    names = {widget.accessibleName() for widget in seen}
    wanted = {"Belt: rear end", "Belt: front end", "Checks", "Continue", "Exit"}
    assert wanted <= names, names
    assert "" not in names
    assert all(widget.accessibleDescription() for widget in seen if isinstance(widget, QPushButton))
    made.close()


def check_a_screen_reader_is_told_what_to_do_and_each_check() -> None:
    made, _ = _open("nobody")
    assert made.words.accessibleName() == "Do this next"
    assert made.words.accessibleDescription() == TEXTS["step_in"]
    item = made.list.item(5)
    assert item is not None
    spoken = item.data(Qt.ItemDataRole.AccessibleTextRole)
    assert spoken == f"One person, on the belt: to do: {TEXTS['step_in']}"
    assert "Do this next" in made.windowTitle()
    made.close()


def check_enter_goes_on_once_all_is_well() -> None:
    made, link = _open("good")
    HAND.keyClick(made, K.Key_Return)
    assert _done(link) == [CheckDone(accepted=True)]
    HAND.keyClick(made, K.Key_Return)
    assert len(_done(link)) == 1, "once"
    made.close()


def check_enter_goes_on_though_the_runner_has_walked_to_the_computer() -> None:
    made, link = _open("good_walked_off")
    assert made.showing.going is Going.FREELY
    HAND.keyClick(made, K.Key_Return)
    assert _done(link) == [CheckDone(accepted=True)]
    made.close()


def check_a_moved_camera_takes_it_back() -> None:
    made, link = _open("moved")
    assert made.showing.going is Going.ON_PURPOSE
    HAND.keyClick(made, K.Key_Return)
    assert _done(link) == []
    made.close()


def check_going_on_without_takes_two_keys() -> None:
    made, link = _open("many")
    HAND.keyClick(made, K.Key_A)
    HAND.keyClick(made, K.Key_PageDown)
    assert _done(link) == []
    HAND.keyClick(made, K.Key_Return)
    assert "6 checks have not passed yet" in made.words.said[0], made.words.said
    HAND.keyClick(made, K.Key_A)
    assert _done(link) == [], "not yet read"
    made._since_ns = 0
    HAND.keyClick(made, K.Key_Return)
    assert _done(link) == [], "Enter twice is no purpose"
    HAND.keyClick(made, K.Key_Escape)
    assert made.words.said[0] == "Do this next"
    HAND.keyClick(made, K.Key_Escape)
    assert _done(link) == [], "an Esc that came too late for that page does not leave"
    made._since_ns = 0
    HAND.keyClick(made, K.Key_Return)
    made._since_ns = 0
    HAND.keyClick(made, K.Key_A)
    assert _done(link) == [CheckDone(accepted=True)]
    made.close()


def check_a_key_for_the_page_before_neither_goes_on_nor_leaves() -> None:
    for key in (K.Key_Return, K.Key_PageDown, K.Key_Escape):
        made, link = window("good", 1280, 720)
        made.show()
        HAND.keyClick(made, key)
        assert _done(link) == [], key
        HAND.qWait(750)
        HAND.keyClick(made, key)
        assert _done(link) == [CheckDone(accepted=key is not K.Key_Escape)]
        made.close()


def check_escape_leaves() -> None:
    made, link = _open("nobody")
    HAND.keyClick(made, K.Key_Escape)
    assert _done(link) == [CheckDone(accepted=False)]
    made.close()
    made, link = _open("joining")
    HAND.keyClick(made, K.Key_Escape)
    assert not made.isVisible()
    assert link.closed


def check_lines_are_moved_by_keys() -> None:
    made, link = _open("lines_left")
    HAND.keyClick(made, K.Key_R)
    rear = made.picture.lines.rear
    HAND.keyClick(made.picture.rear, K.Key_Left)
    HAND.keyClick(made.picture.rear, K.Key_Left, Qt.KeyboardModifier.ShiftModifier)
    assert round(rear - made.picture.lines.rear, 4) == 0.011
    HAND.keyClick(made, K.Key_F)
    HAND.keyClick(made.picture.front, K.Key_Right)
    until(lambda: any(isinstance(asked, SetEdges) for asked in link.asked))
    lines = made.picture.lines
    sent = [asked for asked in link.asked if isinstance(asked, SetEdges)][-1]
    assert sent.edges == BeltEdges(rear=round(lines.rear, 4), front=round(lines.front, 4))
    made.close()


def check_lines_are_dragged_and_never_meet() -> None:
    made, link = _open("lines_left")
    place = made.picture.place
    at = QPoint(round(place.x() + made.picture.lines.rear * place.width()), 200)
    HAND.mousePress(made.picture, Qt.MouseButton.LeftButton, pos=at)
    HAND.mouseMove(made.picture, QPoint(at.x() + 40, 200))
    HAND.mouseRelease(made.picture, Qt.MouseButton.LeftButton, pos=QPoint(at.x() + 40, 200))
    moved_by = (made.picture.lines.rear * place.width() + place.x()) - at.x()
    assert abs(moved_by - 40) < 2, moved_by
    for _ in range(120):
        HAND.keyClick(made.picture.rear, K.Key_Right)
    assert abs(made.picture.lines.front - made.picture.lines.rear) >= 0.0499
    until(lambda: any(isinstance(asked, SetEdges) for asked in link.asked))
    made.close()


def check_nothing_goes_on_while_a_line_is_moved() -> None:
    made, link = _open("good")
    place = made.picture.place
    at = QPoint(round(place.x() + made.picture.lines.rear * place.width()), 200)
    HAND.mousePress(made.picture, Qt.MouseButton.LeftButton, pos=at)
    for key in (K.Key_PageDown, K.Key_Return, K.Key_Enter, K.Key_A, K.Key_Escape):
        HAND.keyClick(made, key)
        assert _done(link) == [], key
    HAND.mouseRelease(made.picture, Qt.MouseButton.LeftButton, pos=at)
    assert made.picture.rear.hasFocus()
    before = made.picture.lines.rear
    HAND.keyClick(made.picture.rear, K.Key_PageDown)
    assert _done(link) == []
    assert round(made.picture.lines.rear - before, 4) == 0.05, "it moves the line"
    back = made.picture.rear.findChild(KeysBack)
    assert back is not None
    back.timer.setInterval(50)
    HAND.keyClick(made.picture.rear, K.Key_Right)
    until(lambda: not made.picture.rear.hasFocus())
    HAND.keyClick(QApplication.focusWidget(), K.Key_PageDown)
    assert _done(link) == [CheckDone(accepted=True)], "a presenter's key goes on again"
    made.close()


def check_a_line_at_the_pictures_edge_is_no_end_of_the_belt() -> None:
    for name, key in (("good", K.Key_Left), ("good_behind", K.Key_Down)):
        made, link = _open(name)
        HAND.keyClick(made, K.Key_R)
        for _ in range(100):
            HAND.keyClick(made.picture.rear, key)
        link.asked.clear()
        _until_sent(link, edges=False)
        assert made.help.text() == TEXTS["lines_at_rim"]
        assert not any(isinstance(asked, SetEdges) and asked.edges for asked in link.asked)
        back = K.Key_Right if key is K.Key_Left else K.Key_Up
        for _ in range(3):
            HAND.keyClick(made.picture.rear, back)
        _until_sent(link, edges=True)
        assert made.help.text() == TEXTS["lines_help"]
        made.close()


def check_lines_that_lie_right_take_one_key_and_none_at_all_too() -> None:
    made, link = _open("lines_left")
    HAND.keyClick(made, K.Key_E)
    until(lambda: any(isinstance(asked, SetEdges) for asked in link.asked))
    HAND.keyClick(made, K.Key_N)
    assert link.asked[-1] == SetEdges(edges=None)
    made.close()


def check_lines_from_behind_are_told_as_lengths_of_the_trunk() -> None:
    made, link = _open("good_behind")
    HAND.keyClick(made, K.Key_R)
    HAND.keyClick(made.picture.rear, K.Key_Up)
    until(lambda: any(isinstance(asked, SetEdges) for asked in link.asked))
    sent = [asked for asked in link.asked if isinstance(asked, SetEdges)][-1]
    assert sent.edges is not None
    assert sent.edges.rear > sent.edges.front, "the near end makes the trunk longer"
    made.close()


def check_the_place_of_last_time_is_laid_out_again() -> None:
    made, _ = _open("as_last_time")
    assert (made.picture.lines.rear, made.picture.lines.front) == (EDGES.rear, EDGES.front)
    made.close()


def check_pictures_are_asked_for_once_and_signs_of_life_come() -> None:
    made, link = _open("good")
    HAND.qWait(900)
    assert [asked for asked in link.asked if isinstance(asked, WatchPictures)] == [
        WatchPictures(most_per_s=12.0)
    ]
    assert link.pings >= 2
    made.close()


def check_a_station_that_goes_is_told_and_goodbye_closes() -> None:
    made, link = _open("good")
    link.known = LinkStatus(LinkState.LOST, "broken", None, None, False)
    until(lambda: made.words.said[0] == TEXTS["gone"])
    assert not made.go_on.isEnabled()
    link.known = LinkStatus(LinkState.ENDED, "over", None, None, False)
    until(lambda: not made.isVisible())


def _open(name: str, width: int = 1280, height: int = 720) -> tuple[SetupWindow, StillSetupLink]:
    made, link = window(name, width, height)
    made.show()
    made.resize(width, height)
    HAND.qWaitForWindowExposed(made)
    made.activateWindow()
    made._since_ns = 0  # it has stood long enough
    return made, link


def buttons(made: QWidget) -> list[QPushButton]:
    return [button for button in made.findChildren(QPushButton) if button.isVisible()]


def _until_sent(link: StillSetupLink, *, edges: bool) -> None:
    """Wait until edges were sent, or that there are none."""
    until(lambda: any(isinstance(a, SetEdges) and bool(a.edges) is edges for a in link.asked))


def _done(link: StillSetupLink) -> list[Request]:
    return [asked for asked in link.asked if isinstance(asked, CheckDone)]


def until(check: Callable[[], bool]) -> None:
    deadline = time.monotonic() + 10
    while not check():
        assert time.monotonic() < deadline, "it never came to pass"
        HAND.qWait(10)


CHECKS = {name: value for name, value in globals().items() if name.startswith("check_")}


def main(checks: dict[str, Callable[[], None]]) -> None:
    """Run the checks that are named, or all, whatever the others did."""
    _app = make_app()
    _app.setQuitOnLastWindowClosed(False)
    report(checks)


if __name__ == "__main__":
    main(CHECKS)
