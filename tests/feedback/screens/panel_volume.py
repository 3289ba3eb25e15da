"""Checks of the panel's and the console's control for the volume."""

from __future__ import annotations

from typing import Any

from PyQt6.QtCore import QPoint, QRect, Qt
from PyQt6.QtWidgets import QWidget

from feedback.link.client_state import LinkState
from feedback.screens.clinician.console import ConsoleWindow
from shared.changes import Answered, SetVolume
from shared.messages import SessionState, StopReason
from tests.feedback.screens.panel_examples import known, running
from tests.feedback.screens.panel_feed import S, StillPanelLink
from tests.feedback.screens.panel_tools import (
    HAND,
    KEY,
    check_label,
    close_panel,
    open_panel,
    until,
)

CTRL = Qt.KeyboardModifier.ControlModifier


def asked(link: StillPanelLink) -> list[int]:
    """Which volumes were asked for."""
    return [one.percent for one in link.asked if isinstance(one, SetVolume)]


def answer(link: StillPanelLink, *, why: str = "") -> None:
    """The station's word on all that was asked for."""
    given = [one for one in link.asked if isinstance(one, SetVolume)]
    link.answers += tuple(Answered(id=one.id, done=not why, why=why) for one in given)
    until(lambda: not link.answers)
    HAND.qWait(60)


def check_the_volume_is_turned_by_key_and_button_and_shown_as_the_station_has_it() -> None:
    made, link = open_panel("running", 1366, 768)
    volume = made.view.head.volume
    assert volume.value.text() == "Volume 100 %"
    HAND.mouseClick(volume.more, Qt.MouseButton.LeftButton)
    assert asked(link) == [], "it is as loud as it may be"
    assert volume.more.isEnabled(), "no other control moves under the finger"
    HAND.mouseClick(volume.less, Qt.MouseButton.LeftButton)
    HAND.keyClick(made.view.notes.field, KEY.Key_Minus, CTRL)
    assert asked(link) == [90, 80], "the second goes on from the first, before any answer"
    assert volume.value.text() == "Volume 100 %", "nothing is shown that was only asked for"
    answer(link)
    assert volume.value.text() == "Volume 80 %", "the answer is known before the next snapshot"
    HAND.keyClick(made, KEY.Key_Plus, CTRL)
    assert asked(link) == [90, 80, 90]
    answer(link)
    link.known = known(running(number=4_010, volume_percent=55))
    until(lambda: volume.value.text() == "Volume 55 %")  # a console turned it meanwhile
    HAND.keyClick(made, KEY.Key_Minus, CTRL)
    HAND.keyClick(made, KEY.Key_Equal, CTRL)
    assert asked(link)[3:] == [50, 60]
    assert link.stops == 0
    assert made.view.notes.field.text() == ""
    close_panel(made)


def check_a_volume_that_is_refused_is_told_in_words_and_nothing_moves() -> None:
    for size in ((1366, 768), (900, 500)):
        made, link = open_panel("widest", *size)
        head = made.view.head
        places = _places(head)
        head.volume.less.click()
        answer(link, why="Too many changes came at once. Wait a moment.")
        assert "Too many changes" in head.problem.text()
        check_label(head.problem, size)
        assert _places(head) == places
        assert head.volume.value.text() == "Volume 100 %"
        made.view._refused_ns -= 20 * S
        made.view._worded_ns = 0
        until(lambda: "Too many" not in head.problem.text())  # noqa: B023 - called at once
        close_panel(made)


def check_the_volume_is_let_alone_where_nobody_would_hear_of_it() -> None:
    made, link = open_panel("running", 1366, 768)
    volume = made.view.head.volume
    over = running(state=SessionState.STOPPED, stop_reason=StopReason.TIME, saved=True)
    for status in (known(over), known(running(), LinkState.LOST, "reset", ago_ns=8 * S)):
        link.known = status
        made.view._worded_ns = 0
        until(lambda: not volume.less.isEnabled())
        HAND.keyClick(made, KEY.Key_Minus, CTRL)
        assert asked(link) == []
        link.known = known(running())
        made.view._worded_ns = 0
        until(volume.less.isEnabled)
    close_panel(made)


def check_the_volume_is_whole_in_panel_and_console_at_every_size() -> None:
    for size in ((1920, 1080), (1366, 768), (960, 540), (900, 500)):
        made, _ = open_panel("widest", *size)
        _look_at(made, made.view.head)
        close_panel(made)
    window, link = ConsoleWindow(), StillPanelLink(known(running(volume_percent=40)))
    window.add_station("Treadmill 1", link)
    window.resize(1366, 768)
    window.show()
    HAND.qWait(100)
    head = window.views[0].head
    _look_at(window, head)
    assert head.volume.value.text() == "Volume 40 %"
    head.volume.more.click()
    assert asked(link) == [50]
    window.close()


def _look_at(window: QWidget, head: Any) -> None:
    volume = head.volume
    parts = (head.details, volume.value, volume.less, volume.more, head.stop)
    check_label(volume.value, (window.size(),))
    places = [QRect(one.mapTo(window, QPoint(0, 0)), one.size()) for one in parts]
    inner = QRect(head.mapTo(window, QPoint(0, 0)), head.size())
    for number, place in enumerate(places):
        assert inner.contains(place), (parts[number], place, inner)
        assert min(place.width(), place.height()) >= 15
        assert not any(place.intersects(other) for other in places[number + 1 :]), places
    for key in (volume.less, volume.more):
        assert min(key.width(), key.height()) >= 30
        assert key.accessibleName()
        assert key.accessibleDescription()


def _places(head: Any) -> list[tuple[QPoint, int]]:
    volume = head.volume
    parts = (head.details, volume.value, volume.less, volume.more, head.stop, head.problem)
    return [(one.mapTo(head, QPoint(0, 0)), one.height()) for one in parts]
