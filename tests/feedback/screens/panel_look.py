"""Checks on real offscreen windows of panel and console; runs in a process of its own.

``python -m tests.feedback.screens.panel_look`` prints a JSON object: each check with what went
wrong, or an empty text.
"""

from __future__ import annotations

import json
import os
import sys
import time
import traceback
from collections.abc import Callable, Iterator
from typing import Any

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import numpy as np
from PyQt6.QtCore import QRect, Qt
from PyQt6.QtTest import QTest as _QTest
from PyQt6.QtWidgets import (
    QAbstractButton,
    QAbstractScrollArea,
    QApplication,
    QDoubleSpinBox,
    QLabel,
    QLineEdit,
    QScrollArea,
    QTabBar,
    QToolButton,
    QWidget,
)

from feedback.link.screenside import LinkState, LinkStatus
from feedback.screens import palette
from feedback.screens.console import ConsoleWindow
from feedback.screens.panel import PanelWindow, make_app
from feedback.screens.panel_head import StopButton
from feedback.screens.wording_panel import say
from shared.changes import Adjust, Answered, MoveBlock, Note, Undo
from shared.messages import Pause, Rating, SessionState, StopReason
from shared.pictures import WatchPictures
from shared.records import BandState
from shared.targets import Question
from tests.feedback.screens.look import _colours
from tests.feedback.screens.panel_examples import briefing, known, running, states, target
from tests.feedback.screens.panel_feed import S, StillPanelLink, picture, points

HAND: Any = _QTest
"""The library's type hints do not know that its functions are static."""
SIZES = ((1920, 1080), (1280, 720), (960, 540), (900, 500))
KEY = Qt.Key
STALE = "Somebody else changed it meanwhile."


# what is seen


def check_no_text_is_cut_and_nothing_overlaps() -> None:
    for width, height in SIZES:
        for name in states():
            made, _ = _open(name, width, height)
            for page in _pages(made):
                for widget in _seen(made, QLabel):
                    _check_label(widget, (name, width, page))
                for widget in _seen(made, QAbstractButton):
                    if isinstance(widget, StopButton):
                        continue
                    needed = widget.fontMetrics().horizontalAdvance(widget.text())
                    assert needed <= widget.width() - 4, (widget.text(), name, width)
                    wanted = widget.minimumSizeHint().height()
                    assert widget.height() >= min(wanted, 34) - 1, (widget.text(), name, width)
            _close(made)


def check_stop_stands_at_its_place_in_every_state() -> None:
    for width, height in SIZES:
        places = set()
        for name in states():
            made, _ = _open(name, width, height)
            stop = made.view.head.stop
            assert stop.isVisible()
            assert stop.isEnabled() == (name != "stopped"), name
            place = QRect(stop.mapTo(made, stop.rect().topLeft()), stop.size())
            assert made.rect().contains(place), name
            places.add((place.right(), place.width(), place.height()))
            assert abs(place.top() - 20) < 12, (name, place)
            _close(made)
        assert len(places) == 1, places


def check_every_state_shows_something_of_its_own() -> None:
    seen = {}
    for name in states():
        made, _ = _open(name, 1920, 1080)
        seen[name] = _colours(made.grab().toImage())
        _close(made)
    same = [
        (one, other)
        for one in seen
        for other in seen
        if one < other and np.array_equal(seen[one], seen[other])
    ]
    assert same == [], same


def check_landmarks_are_drawn_by_side_and_only_where_somebody_is() -> None:
    counts = {}
    for name, shot in (("body", picture(marks=())), ("nobody", picture(xy=(), marks=()))):
        made, _ = _open("running", 1920, 1080, picture=shot)
        image = _colours(made.view.picture.grab().toImage())[: made.view.picture.height() - 70]
        counts[name] = [
            int((image == int(ink.colour[1:], 16)).sum())
            for ink in (palette.LEFT_LIMB, palette.RIGHT_LIMB)
        ]
        _close(made)
    assert min(counts["body"]) > 80, counts
    assert counts["body"][0] > 1.2 * counts["body"][1], "the right one is dashed"
    # the note that nobody is found is written in the left side's orange
    assert counts["nobody"][1] == 0, counts


def check_charts_show_both_sides_target_and_baseline() -> None:
    made, _ = _open("running", 1920, 1080)
    _until(lambda: all(_data(made, index) for index in range(2)))
    chart = made.view.charts.charts[1]
    assert chart.measure == "strike_ahead"
    image = _colours(chart.grab().toImage())
    for ink in (palette.LEFT_LINE, palette.RIGHT_LINE, palette.TARGET_BAND):
        assert (image == int(ink.colour[1:], 16)).sum() > 100, ink
    assert (image == int(palette.LEFT_IN_BAND.on[1:], 16)).sum() > 5_000
    _close(made)


def check_a_row_that_is_chosen_gets_a_chart() -> None:
    made, link = _open("running", 1920, 1080)
    table = made.view.table
    table.setFocus()
    for _ in range(4):
        HAND.keyClick(table, KEY.Key_Down)
    link.points = points(names=("knee_flexion_peak",))
    _until(lambda: made.view.charts.charts[2].isVisible())
    assert made.view.charts.charts[2].measure == table_row(made)
    _close(made)


def table_row(made: PanelWindow) -> str:
    return made.view.showing.rows[made.view.table.currentRow()].name


def check_charts_look_back_by_key_and_return() -> None:
    made, _ = _open("running", 1920, 1080)
    chart = made.view.charts.charts[0]
    HAND.keyClick(chart, KEY.Key_Left)
    HAND.keyClick(chart, KEY.Key_Left)
    (left, right), _ = chart.getPlotItem().viewRange()
    assert (round(left), round(right), chart.looks_back) == (-90, -30, True)
    HAND.keyClick(chart, KEY.Key_Home)
    (left, right), _ = chart.getPlotItem().viewRange()
    assert (round(left), round(right), chart.looks_back) == (-60, 0, False)
    _close(made)


def check_values_grow_old_by_themselves_and_new_again() -> None:
    made, link = _open("running", 1920, 1080)
    item = made.view.table.item(1, 1)
    assert item is not None
    assert item.foreground().color().name().upper() == palette.CARD_TEXT.colour.upper()
    _until(lambda: made.view.showing.old)
    assert item.foreground().color().name().upper() == palette.CARD_OLD.colour.upper()
    assert not made.view.targets[0].more.isEnabled()
    assert made.view.head.stop.isEnabled()
    link.known = known(running(number=4_100), picture=picture())
    _until(lambda: not made.view.showing.old)
    assert made.view.targets[0].more.isEnabled()
    _close(made)


def check_words_change_at_most_four_times_a_second() -> None:
    made, link = _open("running", 1920, 1080)
    seen: list[str] = []
    began, number = time.monotonic(), 4_001
    while time.monotonic() - began < 2.0:
        number += 1
        inside = number % 2 == 0
        state = BandState.INSIDE if inside else BandState.BELOW
        value = 175.0 if inside else 160.0
        link.known = known(running(number=number, targets=(target(value=value, state=state),)))
        HAND.qWait(15)
        text = made.view.showing.cards[0].value
        if not seen or text != seen[-1]:
            seen.append(text)
    assert 2 <= len(seen) <= 10, len(seen)
    _close(made)


# keys


def check_every_control_has_a_name_and_can_be_reached_by_tab() -> None:
    for name in ("running", "out_of_band"):
        made, _ = _open(name, 1920, 1080)
        made.view.notes.field.setText("a note")
        made.view.targets[0].more.click()
        for row in made.view.ratings.rows.values():
            row.buttons[3].setChecked(True)
        controls = {
            widget
            for widget in made.findChildren(QWidget)
            if widget.isVisible()
            and widget.isEnabled()
            and widget.focusPolicy() & Qt.FocusPolicy.TabFocus
            and not isinstance(widget, QScrollArea | QTabBar)
            # parts of one control
            and not isinstance(widget.parent(), QAbstractScrollArea | QDoubleSpinBox)
        }
        unnamed = [widget for widget in controls if not widget.accessibleName()]
        assert unnamed == [], unnamed
        wordless = [
            widget
            for widget in controls
            if not widget.accessibleDescription() and not isinstance(widget, QToolButton)
        ]
        assert wordless == [], [widget.accessibleName() for widget in wordless]
        reached = set()
        made.view.head.stop.setFocus()
        for _ in range(3 * len(controls)):
            here = QApplication.focusWidget()
            assert here is not None
            reached.add(here)
            HAND.keyClick(here, KEY.Key_Tab)
        missed = [widget.accessibleName() for widget in controls - reached]
        assert missed == [], missed
        _close(made)


def check_stop_is_asked_for_by_escape_and_f12_from_everywhere() -> None:
    made, link = _open("running", 1920, 1080)
    view = made.view
    expected = 0
    row = view.ratings.rows[Question.PAIN]
    for widget in (
        view.head.stop, view.notes.field, view.targets[0].field, view.table, view.log.list,
        view.charts.charts[0], row.buttons[0], view.blocks.next_button,
    ):  # fmt: skip
        for key in (KEY.Key_Escape, KEY.Key_F12):
            widget.setFocus()
            HAND.keyClick(widget, key)
            expected += 1
            assert link.stops == expected, (widget, key)
    _close(made)


def check_the_stop_button_acts_on_the_press_and_by_space() -> None:
    made, link = _open("running", 1280, 720)
    stop = made.view.head.stop
    assert made.focusWidget() is stop, "it has the keys when the panel opens"
    HAND.mousePress(stop, Qt.MouseButton.LeftButton)
    assert link.stops == 1
    HAND.mouseRelease(stop, Qt.MouseButton.LeftButton)
    assert link.stops == 1
    HAND.keyPress(stop, KEY.Key_Space)
    assert link.stops == 2
    HAND.keyRelease(stop, KEY.Key_Space)
    _close(made)


def check_letters_in_a_note_stop_nothing() -> None:
    made, link = _open("running", 1280, 720)
    HAND.keyClicks(made.view.notes.field, "stop here, space too")
    assert link.stops == 0
    assert made.view.notes.field.text() == "stop here, space too"
    _close(made)


# asking


def check_a_target_is_moved_in_two_actions() -> None:
    made, link = _open("running", 1920, 1080)
    card = made.view.targets[0]
    assert not card.set_button.isEnabled(), "nothing is chosen yet"
    HAND.mouseClick(card.more, Qt.MouseButton.LeftButton)
    HAND.mouseClick(card.set_button, Qt.MouseButton.LeftButton)
    asked = [one for one in link.asked if isinstance(one, Adjust)]
    assert [(one.number, one.revision, one.aim) for one in asked] == [(0, 1, 176.0)]
    assert card.message.text() == say("asked")
    link.answers = (Answered(id=asked[0].id, done=True, from_step=1_104),)
    link.known = known(running(targets=(target(revision=2, aim=176.0, low=172.0, high=180.0),)))
    _until(lambda: card.message.text() == "Holds from step 1104")
    _until(lambda: card.field.value() == 176.0 and not card.editing)
    assert not card.set_button.isEnabled()
    _close(made)


def check_a_typed_value_and_return_set_a_target() -> None:
    made, link = _open("running", 1920, 1080)
    field = made.view.targets[0].field
    field.setFocus()
    field.selectAll()
    HAND.keyClicks(field, "172")
    HAND.keyClick(field, KEY.Key_Return)
    asked = [one for one in link.asked if isinstance(one, Adjust)]
    assert [(one.revision, one.aim) for one in asked] == [(1, 172.0)]
    _close(made)


def check_nothing_outside_what_is_allowed_can_be_chosen() -> None:
    made, link = _open("running", 1920, 1080)
    card = made.view.targets[0]
    for _ in range(9):
        card.more.click()
    assert card.field.value() == 177.0
    for _ in range(19):
        card.less.click()
    assert card.field.value() == 167.0
    card.field.selectAll()
    HAND.keyClicks(card.field, "300")
    HAND.keyClick(card.field, KEY.Key_Return)
    for one in link.asked:
        if isinstance(one, Adjust):
            assert 167.0 <= one.aim <= 177.0
    _close(made)


def check_what_changed_meanwhile_is_told_and_never_overwritten_unseen() -> None:
    made, link = _open("running", 1920, 1080)
    card = made.view.targets[0]
    card.more.click()
    moved = target(revision=2, aim=172.0, low=168.0, high=176.0, beat_spm=172.0)
    link.known = known(running(targets=(moved,)))
    _until(lambda: card.message.text().startswith("Changed meanwhile"))
    assert "168 to 176" in card.message.text()
    card.set_button.click()
    asked = next(one for one in link.asked if isinstance(one, Adjust))
    assert asked.revision == 1, "the one that was seen when the value was chosen"
    link.answers = (Answered(id=asked.id, done=False, why=STALE, target=moved),)
    _until(lambda: card.message.text().startswith("Not done"))
    assert "It is 168 to 176 steps/min now." in card.message.text()
    assert card.field.value() == 172.0
    assert not card.editing
    card.more.click()
    card.set_button.click()
    assert [one.revision for one in link.asked if isinstance(one, Adjust)] == [1, 2]
    _close(made)


def check_undo_next_block_pause_and_notes_are_asked_for() -> None:
    made, link = _open("out_of_band", 1920, 1080)
    view = made.view
    view.targets[0].undo_button.click()
    view.blocks.next_button.click()
    view.blocks.pause_button.click()
    assert not view.blocks.go_on_button.isEnabled()
    HAND.keyClicks(view.notes.field, "  left foot turns out  ")
    HAND.keyClick(view.notes.field, KEY.Key_Return)
    asked = [one for one in link.asked if not isinstance(one, WatchPictures)]
    ids = [one.id for one in asked if isinstance(one, Undo | MoveBlock | Note)]
    assert asked == [
        Undo(id=ids[0], number=0, revision=2),
        MoveBlock(id=ids[1], now=2, to=3),
        Pause(),
        Note(id=ids[2], text="left foot turns out"),
    ]
    assert view.notes.field.text(), "a note stays until it is on record"
    link.answers = (Answered(id=ids[2], done=True),)
    _until(lambda: not view.notes.field.text())
    _close(made)


def check_every_rating_is_reached_by_key() -> None:
    made, link = _open("running", 1920, 1080)
    for question, row in made.view.ratings.rows.items():
        for value in range(11):
            row.buttons[0].setFocus()
            HAND.keyClick(QApplication.focusWidget(), KEY.Key_Home)
            for _ in range(value):
                HAND.keyClick(QApplication.focusWidget(), KEY.Key_Right)
            HAND.keyClick(QApplication.focusWidget(), KEY.Key_Return)
            assert link.asked[-1] == Rating(what=question, value=value)
            assert row.chosen is None
        row.buttons[0].setFocus()
        HAND.keyClick(QApplication.focusWidget(), KEY.Key_7)
        assert row.chosen == 7
        HAND.keyClick(QApplication.focusWidget(), KEY.Key_End)
        assert row.chosen == 10
    _close(made)


def check_without_a_link_only_stop_can_be_pressed_and_it_is_told() -> None:
    made, link = _open("lost", 1920, 1080)
    usable = [
        widget
        for kind in (QAbstractButton, QDoubleSpinBox)
        for widget in made.findChildren(kind)
        if widget.isVisible() and widget.isEnabled()
    ]
    assert usable == [made.view.head.stop], usable
    link.known = states()["lost_stop"]
    HAND.keyClick(made, KEY.Key_Escape)
    assert link.stops == 1
    assert made.view.head.state.text() == say("state_stop_unsent")
    _close(made)


def check_a_stopped_session_cannot_be_stopped_or_changed() -> None:
    made, link = _open("stopped", 1920, 1080)
    HAND.keyClick(made, KEY.Key_Escape)
    assert link.stops == 0
    assert not made.view.targets[0].more.isEnabled()
    assert not made.view.blocks.next_button.isEnabled()
    _close(made)


def check_pictures_are_asked_for_while_they_are_seen() -> None:
    made, link = _open("running", 1280, 720)
    asked = [one for one in link.asked if isinstance(one, WatchPictures)]
    assert [one.most_per_s for one in asked] == [15.0]
    made.hide()
    _until(lambda: link.asked[-1] == WatchPictures(most_per_s=0))
    made.show()
    _until(lambda: link.asked[-1] == WatchPictures(most_per_s=15.0))
    _close(made)


def check_another_run_of_the_station_begins_with_an_empty_chart() -> None:
    made, link = _open("running", 1920, 1080)
    _until(lambda: _data(made, 0))
    link.known = known(running(cues=(), changes=(), remarks=()), briefing=briefing(run="run two"))
    _until(lambda: not _data(made, 0))
    assert made.view.log.list.count() == 0
    _close(made)


def check_signs_of_life_come_and_closing_is_no_stop() -> None:
    made, link = _open("running", 1280, 720)
    HAND.qWait(900)
    assert link.pings >= 2
    _close(made)
    assert link.closed
    assert link.stops == 0


def check_it_closes_when_the_station_says_goodbye() -> None:
    made, link = _open("running", 1280, 720)
    link.known = LinkStatus(LinkState.ENDED, "over", running(), 0, stop_asked=False)
    _until(lambda: not made.isVisible())
    assert link.closed


# the console


def check_a_console_shows_each_station_and_stops_the_right_one() -> None:
    window = ConsoleWindow()
    links = []
    for number, name in enumerate(("running", "out_of_band", "lost"), start=1):
        links.append(StillPanelLink(states()[name], points()))
        window.add_station(f"Treadmill {number}", links[-1])
    window.resize(1600, 900)
    window.show()
    HAND.qWait(600)
    assert [window.line_texts(number)[0] for number in range(3)] == ["Heron"] * 3
    assert "below" in window.line_texts(1)[2]
    assert "no link" in window.line_texts(2)[1]
    window.stop_button(1).click()
    HAND.qWait(50)
    assert [link.stops for link in links] == [0, 1, 0]
    HAND.keyClick(window.views[0], KEY.Key_Escape)
    assert [link.stops for link in links] == [1, 1, 0]
    window.tabs.setCurrentIndex(2)
    HAND.keyClick(window.views[2].head.stop, KEY.Key_F12)
    assert [link.stops for link in links] == [1, 1, 1]
    assert not window.views[0].blocks.go_on_button.isVisible(), "a console sets nothing going"
    watching = [
        [one.most_per_s for one in link.asked if isinstance(one, WatchPictures)][-1:]
        for link in links[:2]
    ]
    _until(lambda: links[0].asked[-1] == WatchPictures(most_per_s=0))
    assert watching[1] == [], "pictures of the open station only"
    window.close()
    assert all(link.closed for link in links)


def check_a_console_keeps_open_what_a_station_said_last() -> None:
    window = ConsoleWindow()
    link = StillPanelLink(states()["running"])
    window.add_station("Treadmill 1", link)
    window.resize(1280, 720)
    window.show()
    over = running(state=SessionState.STOPPED, stop_reason=StopReason.TIME, saved=True)
    link.known = known(over, LinkState.ENDED, ago_ns=3 * S)
    _until(lambda: window.views[0].head.state.text() == say("state_stopped"))
    assert window.isVisible()
    window.close()


# tools


def _open(name: str, width: int, height: int, **changes: Any) -> tuple[PanelWindow, StillPanelLink]:
    status = states()[name]
    if changes:
        status = LinkStatus(**(_fields(status) | changes))
    with_points = status.snapshot is not None and bool(status.snapshot.readings)
    link = StillPanelLink(status, points() if with_points else ())
    made = PanelWindow(link)
    made.resize(width, height)
    made.show()
    HAND.qWaitForWindowExposed(made)
    made.activateWindow()
    HAND.qWait(60)
    return made, link


def _fields(status: LinkStatus) -> dict[str, Any]:
    return {name: getattr(status, name) for name in status.__dataclass_fields__}


def _close(made: PanelWindow) -> None:
    made.close()
    made.deleteLater()


def _pages(made: PanelWindow) -> Iterator[int]:
    """Turn to every page of a narrow window, one after the other."""
    bar = next((one for one in made.findChildren(QTabBar) if one.isVisible()), None)
    for page in range(1 if bar is None else bar.count()):
        if bar is not None:
            bar.setCurrentIndex(page)
            HAND.qWait(40)
        yield page


def _seen(made: PanelWindow, kind: Any) -> list[Any]:
    return [one for one in made.findChildren(kind) if one.isVisible()]


def _check_label(label: QLabel, where: tuple[object, ...]) -> None:
    text = label.text()
    if not text or isinstance(label.parent(), QLineEdit | QAbstractScrollArea):
        return
    flags = Qt.TextFlag.TextWordWrap if label.wordWrap() else Qt.TextFlag.TextSingleLine
    room = QRect(0, 0, label.width(), 10_000)
    needed = label.fontMetrics().boundingRect(room, flags.value, text)
    assert needed.width() <= label.width() + 1, (text, label.width(), needed.width(), where)
    assert needed.height() <= label.height() + 1, (text, label.height(), needed.height(), where)


def _data(made: PanelWindow, index: int) -> bool:
    """Whether any line of a chart has a point."""
    return bool(made.view.charts.charts[index].sides)


def _until(check: Callable[[], bool]) -> None:
    deadline = time.monotonic() + 10
    while not check():
        assert time.monotonic() < deadline, "it never came to pass"
        HAND.qWait(10)


CHECKS = {name: value for name, value in globals().items() if name.startswith("check_")}


def main() -> None:
    """Run the checks that are named, or all, whatever the others did."""
    _app = make_app()
    results = {}
    for name in sys.argv[1:] or CHECKS:
        try:
            CHECKS[name]()
        except Exception:  # noqa: BLE001 - told in the report
            results[name] = traceback.format_exc()
        else:
            results[name] = ""
    print(json.dumps(results))


if __name__ == "__main__":
    main()
