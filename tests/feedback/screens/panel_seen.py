"""Checks of what a panel shows, in every state and size."""

from __future__ import annotations

import time

import numpy as np
from PyQt6.QtCore import QRect
from PyQt6.QtWidgets import (
    QAbstractButton,
    QLabel,
)

from feedback.screens.clinician.panel import PanelWindow
from feedback.screens.widgets import palette
from feedback.screens.widgets.stop_button import StopButton
from shared.flow import BandState
from tests.feedback.screens.look import _colours
from tests.feedback.screens.panel_examples import known, running, states, target
from tests.feedback.screens.panel_feed import picture, points
from tests.feedback.screens.panel_tools import (
    HAND,
    KEY,
    check_label,
    close_panel,
    has_data,
    open_panel,
    pages,
    shown_in,
    until,
)

SIZES = ((1920, 1080), (1280, 720), (960, 540), (900, 500))


def check_no_text_is_cut_and_nothing_overlaps() -> None:
    for width, height in SIZES:
        for name in states():
            made, _ = open_panel(name, width, height)
            made.view._timer.stop()  # no word changes while they are looked at
            HAND.qWait(30)
            for page in pages(made):
                for widget in shown_in(made, QLabel):
                    check_label(widget, (name, width, page))
                for widget in shown_in(made, QAbstractButton):
                    if isinstance(widget, StopButton):
                        continue
                    needed = widget.fontMetrics().horizontalAdvance(widget.text())
                    assert needed <= widget.width() - 4, (widget.text(), name, width)
                    wanted = widget.minimumSizeHint().height()
                    assert widget.height() >= min(wanted, 34) - 1, (widget.text(), name, width)
            close_panel(made)


def check_stop_stands_at_its_place_in_every_state() -> None:
    for width, height in SIZES:
        places = set()
        for name in states():
            made, _ = open_panel(name, width, height)
            stop = made.view.head.stop
            assert stop.isVisible()
            assert stop.isEnabled() == (name != "stopped"), name
            place = QRect(stop.mapTo(made, stop.rect().topLeft()), stop.size())
            assert made.rect().contains(place), name
            places.add((place.right(), place.width(), place.height()))
            assert abs(place.top() - 20) < 12, (name, place)
            close_panel(made)
        assert len(places) == 1, places


def check_every_state_shows_something_of_its_own() -> None:
    seen = {}
    for name in states():
        made, _ = open_panel(name, 1920, 1080)
        seen[name] = _colours(made.grab().toImage())
        close_panel(made)
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
        made, _ = open_panel("running", 1920, 1080, picture=shot)
        image = _colours(made.view.picture.grab().toImage())[: made.view.picture.height() - 70]
        counts[name] = [
            int((image == int(ink.colour[1:], 16)).sum())
            for ink in (palette.LEFT_LIMB, palette.RIGHT_LIMB)
        ]
        close_panel(made)
    assert min(counts["body"]) > 80, counts
    assert counts["body"][0] > 1.2 * counts["body"][1], "the right one is dashed"
    # the note that nobody is found is written in the left side's orange
    assert counts["nobody"][1] == 0, counts


def check_charts_show_both_sides_target_and_baseline() -> None:
    made, _ = open_panel("running", 1920, 1080)
    until(lambda: all(has_data(made, index) for index in range(2)))
    chart = made.view.charts.charts[1]
    assert chart.measure == "strike_ahead"
    image = _colours(chart.grab().toImage())
    for ink in (palette.LEFT_LINE, palette.RIGHT_LINE, palette.TARGET_BAND):
        assert (image == int(ink.colour[1:], 16)).sum() > 100, ink
    assert (image == int(palette.LEFT_IN_BAND.on[1:], 16)).sum() > 5_000
    close_panel(made)


def check_a_row_that_is_chosen_gets_a_chart() -> None:
    made, link = open_panel("running", 1920, 1080)
    table = made.view.table
    table.setFocus()
    for _ in range(4):
        HAND.keyClick(table, KEY.Key_Down)
    link.points = points(names=("knee_flexion_peak",))
    until(lambda: made.view.charts.charts[2].isVisible())
    assert made.view.charts.charts[2].measure == table_row(made)
    close_panel(made)


def table_row(made: PanelWindow) -> str:
    return made.view.showing.rows[made.view.table.currentRow()].name


def check_charts_look_back_by_key_and_return() -> None:
    made, _ = open_panel("running", 1920, 1080)
    chart = made.view.charts.charts[0]
    HAND.keyClick(chart, KEY.Key_Left)
    HAND.keyClick(chart, KEY.Key_Left)
    (left, right), _ = chart.getPlotItem().viewRange()
    assert (round(left), round(right), chart.looks_back) == (-90, -30, True)
    place = chart.geometry()
    HAND.qWait(400)
    assert chart.geometry() == place, "nothing moves when its title tells that"
    for label in shown_in(made, QLabel):
        check_label(label, ("looking back",))
    HAND.keyClick(chart, KEY.Key_Home)
    (left, right), _ = chart.getPlotItem().viewRange()
    assert (round(left), round(right), chart.looks_back) == (-60, 0, False)
    close_panel(made)


def check_values_grow_old_by_themselves_and_new_again() -> None:
    made, link = open_panel("running", 1920, 1080)
    item = made.view.table.item(1, 1)
    assert item is not None
    assert item.foreground().color().name().upper() == palette.CARD_TEXT.colour.upper()
    link.ages = True
    until(lambda: made.view.showing.old)
    assert item.foreground().color().name().upper() == palette.CARD_OLD.colour.upper()
    assert not made.view.targets[0].more.isEnabled()
    assert made.view.head.stop.isEnabled()
    link.ages = False
    link.known = known(running(number=4_100), picture=picture())
    until(lambda: not made.view.showing.old)
    assert made.view.targets[0].more.isEnabled()
    close_panel(made)


def check_words_change_at_most_four_times_a_second() -> None:
    made, link = open_panel("running", 1920, 1080)
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
    close_panel(made)
