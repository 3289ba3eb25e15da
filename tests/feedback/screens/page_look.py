"""Checks on real offscreen windows of the pages that lead through a session at home.

``python -m tests.feedback.screens.page_look`` prints a JSON object: each check with what went
wrong, or an empty text.
"""

from __future__ import annotations

from typing import Any

from PyQt6.QtCore import QEvent, Qt
from PyQt6.QtGui import QKeyEvent
from PyQt6.QtWidgets import QApplication

from feedback.screens.home.pages import RatingScale, Reply, What, YesNo
from shared.clock import now_ns
from tests.feedback.screens import page_examples
from tests.feedback.screens.setup_look import HAND, K, buttons, main


def check_every_page_fits_at_every_size() -> None:
    for width, height in ((1920, 1080), (1280, 720), (640, 420)):
        for name in page_examples.pages():
            made, _ = _page(name, width, height)
            blocks = made.words.blocks()
            high = sum(block.height for block in blocks)
            assert high <= made.words.height(), (name, width)
            assert all(block.width <= made.words.width() for block in blocks), (name, width)
            assert blocks[0].cap_px >= 9, (name, width, blocks[0].cap_px)
            for button in buttons(made):
                if isinstance(page_examples.pages()[name], RatingScale | YesNo):
                    # of most faces a capital is over 0.7 of the size of type
                    assert blocks[0].cap_px > 0.75 * button.font().pixelSize(), (name, width)
                assert button.sizeHint().width() <= button.width() + 1, (name, button.text(), width)
            made.close()


def check_all_eleven_numbers_can_be_reached_by_digits() -> None:
    for value in range(11):
        made, replies = _page("pain")
        for digit in str(value):
            HAND.keyClick(made, getattr(K, f"Key_{digit}"))
        HAND.keyClick(made, K.Key_Return)
        assert replies == [Reply(number=7, what=What.VALUE, value=value)], (value, replies)
        made.close()


def check_all_eleven_numbers_can_be_reached_by_arrows_and_mouse() -> None:
    for value in range(11):
        made, replies = _page("effort")
        HAND.keyClick(made, K.Key_Home)
        for _ in range(value):
            HAND.keyClick(made, K.Key_Right)
        HAND.keyClick(made, K.Key_Enter)
        assert replies[0].value == value
        made.close()
        made, replies = _page("effort")
        HAND.mouseClick(made.numbers[value], Qt.MouseButton.LeftButton)
        HAND.mouseClick(made.buttons["next"], Qt.MouseButton.LeftButton)
        assert replies[0].value == value
        made.close()


def check_nothing_is_rated_without_choosing_and_escape_leaves_it_out() -> None:
    made, replies = _page("awkwardness")
    HAND.keyClick(made, K.Key_Return)
    assert replies == []
    HAND.keyClick(made, K.Key_Escape)
    assert replies == [Reply(number=7, what=What.SKIPPED)]
    made.close()


def check_yes_and_no_take_their_keys_and_nothing_else() -> None:
    for key, what in ((K.Key_Y, What.YES), (K.Key_N, What.NO), (K.Key_Escape, What.LEFT)):
        made, replies = _page("morning")
        HAND.keyClick(made, K.Key_Return)
        assert replies == [], "no answer is given by accident"
        HAND.keyClick(made, key)
        assert replies == [Reply(number=7, what=what)]
        HAND.keyClick(made, key)
        assert len(replies) == 1
        made.close()


def check_a_key_meant_for_the_page_before_does_not_count() -> None:
    wanted = {
        "today": (K.Key_Return, What.NEXT),
        "morning": (K.Key_Y, What.YES),
        "effort": (K.Key_Escape, What.SKIPPED),
        "pain": (K.Key_L, What.SKIPPED),
    }
    for name, (key, what) in wanted.items():
        made, replies = page_examples.window(name)
        made.show()
        shown_ns = now_ns()
        made.show_page(page_examples.shown(name, 7))
        while now_ns() - shown_ns < 600_000_000:  # 0.7 s are asked for
            HAND.keyClick(made, key)
            HAND.keyClick(made, K.Key_5)
            assert replies == [], name
            HAND.qWait(20)
        HAND.qWait(150)
        assert made.chosen is None, "nor was a number chosen"
        QApplication.sendEvent(made, _held(key))
        assert replies == [], "nor one that is held down"
        HAND.keyClick(made, key)
        assert replies == [Reply(number=7, what=what)]
        made.close()


def check_escape_never_skips_the_question_of_pain() -> None:
    made, replies = _page("pain")
    assert set(made.buttons) == {"next", "leave_out"}
    for key in (K.Key_Escape, K.Key_Return, K.Key_PageDown, K.Key_Space, K.Key_S):
        HAND.keyClick(made, key)
        QApplication.sendEvent(made, _held(key))
        assert replies == [], key
    HAND.mouseClick(made.buttons["leave_out"], Qt.MouseButton.LeftButton)
    assert replies == [Reply(number=7, what=What.SKIPPED)]
    made.close()


def check_closing_the_window_leaves_and_says_so_once() -> None:
    made, replies = _page("effort")
    made.close()
    assert replies == [Reply(number=7, what=What.LEFT)]
    made, replies = _page("result")
    HAND.keyClick(made, K.Key_Escape)
    made.close()
    assert replies == [Reply(number=7, what=What.NEXT)]


def check_progress_goes_on_without_a_new_page_and_can_be_cancelled() -> None:
    made, replies = _page("getting")
    button = made.buttons["cancel"]
    made.show_page(page_examples.shown("getting", 8))
    assert made.buttons["cancel"] is button
    HAND.keyClick(made, K.Key_Escape)
    assert replies == [Reply(number=8, what=What.LEFT)]
    made.close()


def check_every_control_of_every_page_has_a_name() -> None:
    for name, page in page_examples.pages().items():
        made, _ = _page(name)
        assert made.words.accessibleName() == page.heading
        assert page.heading in made.windowTitle()
        for button in buttons(made):
            assert button.accessibleName(), (name, button.text())
            assert button.accessibleDescription(), (name, button.text())
        numbers = [button for button in made.numbers if button.isVisible()]
        assert len(numbers) == (11 if isinstance(page, RatingScale) else 0)
        made.close()


def _held(key: Qt.Key) -> QKeyEvent:
    """A key that repeats while it is held down."""
    return QKeyEvent(QEvent.Type.KeyPress, key, Qt.KeyboardModifier.NoModifier, "", True)


def _page(name: str, width: int = 1280, height: int = 720) -> tuple[Any, list[Reply]]:
    made, replies = page_examples.window(name, width, height)
    made.show()
    HAND.qWaitForWindowExposed(made)
    made._since_ns = 0
    return made, replies


CHECKS = {name: value for name, value in globals().items() if name.startswith("check_")}

if __name__ == "__main__":
    main(CHECKS)
