"""Checks of the keys of a panel, and of what is asked with them."""

from __future__ import annotations

from PyQt6.QtCore import Qt
from PyQt6.QtWidgets import (
    QAbstractButton,
    QAbstractScrollArea,
    QApplication,
    QDoubleSpinBox,
    QScrollArea,
    QTabBar,
    QToolButton,
    QWidget,
)

from feedback.link.client_state import LinkState, LinkStatus
from feedback.screens.widgets.orphaned import Orphaned
from feedback.texts.clinician import say
from shared.changes import Adjust, Answered, MoveBlock, Note, Undo
from shared.messages import Pause, Rating, SessionState
from shared.pictures import WatchPictures
from shared.targets import Question
from tests.feedback.screens.panel_examples import briefing, known, running, states, target
from tests.feedback.screens.panel_tools import (
    HAND,
    KEY,
    close_panel,
    has_data,
    open_panel,
    until,
)

STALE = "Somebody else changed it meanwhile."


def check_every_control_has_a_name_and_can_be_reached_by_tab() -> None:
    for name in ("running", "out_of_band"):
        made, _ = open_panel(name, 1920, 1080)
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
        close_panel(made)


def check_stop_is_asked_for_by_escape_and_f12_from_everywhere() -> None:
    made, link = open_panel("running", 1920, 1080)
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
    here = QApplication.focusWidget()
    assert here is not None
    here.clearFocus()
    HAND.keyClick(made, KEY.Key_Escape)
    assert link.stops == expected + 1, "although nothing has the keys"
    close_panel(made)


def check_the_stop_button_acts_on_the_press_and_by_space() -> None:
    made, link = open_panel("running", 1280, 720)
    stop = made.view.head.stop
    assert made.focusWidget() is stop, "it has the keys when the panel opens"
    HAND.mousePress(stop, Qt.MouseButton.LeftButton)
    assert link.stops == 1
    HAND.mouseRelease(stop, Qt.MouseButton.LeftButton)
    assert link.stops == 1
    HAND.keyPress(stop, KEY.Key_Space)
    assert link.stops == 2
    HAND.keyRelease(stop, KEY.Key_Space)
    close_panel(made)


def check_letters_in_a_note_stop_nothing() -> None:
    made, link = open_panel("running", 1280, 720)
    HAND.keyClicks(made.view.notes.field, "stop here, space too")
    assert link.stops == 0
    assert made.view.notes.field.text() == "stop here, space too"
    close_panel(made)


def check_a_target_is_moved_in_two_actions() -> None:
    made, link = open_panel("running", 1920, 1080)
    card = made.view.targets[0]
    assert not card.set_button.isEnabled(), "nothing is chosen yet"
    HAND.mouseClick(card.more, Qt.MouseButton.LeftButton)
    HAND.mouseClick(card.set_button, Qt.MouseButton.LeftButton)
    asked = [one for one in link.asked if isinstance(one, Adjust)]
    assert [(one.number, one.revision, one.aim) for one in asked] == [(0, 1, 176.0)]
    assert card.message.text() == say("asked")
    link.answers = (Answered(id=asked[0].id, done=True, from_step=1_104),)
    link.known = known(running(targets=(target(revision=2, aim=176.0, low=172.0, high=180.0),)))
    until(lambda: card.message.text() == "Applies from step 1104")
    until(lambda: card.field.value() == 176.0 and not card.editing)
    assert not card.set_button.isEnabled()
    close_panel(made)


def check_a_typed_value_and_return_set_a_target() -> None:
    made, link = open_panel("running", 1920, 1080)
    field = made.view.targets[0].field
    field.setFocus()
    field.selectAll()
    HAND.keyClicks(field, "172")
    HAND.keyClick(field, KEY.Key_Return)
    HAND.keyClick(field, KEY.Key_Return)
    asked = [one for one in link.asked if isinstance(one, Adjust)]
    assert [(one.revision, one.aim) for one in asked] == [(1, 172.0)], "not twice"
    link.answers = (Answered(id=asked[0].id, done=True, from_step=1_104),)
    until(lambda: not made.view.targets[0].editing)
    assert field.hasFocus(), "the keys stay where they were"
    close_panel(made)


def check_nothing_outside_what_is_allowed_can_be_chosen() -> None:
    made, link = open_panel("running", 1920, 1080)
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
    close_panel(made)


def check_what_changed_meanwhile_is_told_and_never_overwritten_unseen() -> None:
    made, link = open_panel("running", 1920, 1080)
    card = made.view.targets[0]
    card.more.click()
    moved = target(revision=2, aim=172.0, low=168.0, high=176.0, beat_spm=172.0)
    link.known = known(running(targets=(moved,)))
    until(lambda: card.message.text().startswith("Changed in the meantime"))
    assert "168 to 176" in card.message.text()
    card.set_button.click()
    asked = next(one for one in link.asked if isinstance(one, Adjust))
    assert asked.revision == 1, "the one that was seen when the value was chosen"
    link.answers = (Answered(id=asked.id, done=False, why=STALE, target=moved),)
    until(lambda: card.message.text().startswith("Not done"))
    assert "The target is 168 to 176 steps/min now." in card.message.text()
    assert card.field.value() == 172.0
    assert not card.editing
    card.more.click()
    card.set_button.click()
    assert [one.revision for one in link.asked if isinstance(one, Adjust)] == [1, 2]
    close_panel(made)


def check_undo_next_block_pause_and_notes_are_asked_for() -> None:
    made, link = open_panel("out_of_band", 1920, 1080)
    view = made.view
    view.targets[0].undo_button.click()
    view.blocks.next_button.click()
    view.blocks.next_button.click()
    view.blocks.pause_button.setFocus()
    HAND.keyClick(view.blocks.pause_button, KEY.Key_Space)
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
    until(lambda: not view.notes.field.text())
    close_panel(made)


def check_every_rating_is_reached_by_key() -> None:
    made, link = open_panel("running", 1920, 1080)
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
    close_panel(made)


def check_without_a_link_only_stop_can_be_pressed_and_it_is_told() -> None:
    made, link = open_panel("lost", 1920, 1080)
    usable = [
        widget
        for kind in (QAbstractButton, QDoubleSpinBox)
        for widget in made.findChildren(kind)
        if widget.isVisible() and widget.isEnabled()
    ]
    asking = [widget for widget in usable if widget is not made.view.head.details]
    assert asking == [made.view.head.stop], asking
    link.known = states()["lost_stop"]
    HAND.keyClick(made, KEY.Key_Escape)
    assert link.stops == 1
    assert made.view.head.state.text() == say("state_stop_unsent")
    close_panel(made)


def check_a_stopped_session_cannot_be_stopped_or_changed() -> None:
    made, link = open_panel("stopped", 1920, 1080)
    HAND.keyClick(made, KEY.Key_Escape)
    assert link.stops == 0
    assert not made.view.targets[0].more.isEnabled()
    assert not made.view.blocks.next_button.isEnabled()
    close_panel(made)


def check_pictures_are_asked_for_while_they_are_seen() -> None:
    made, link = open_panel("running", 1280, 720)
    asked = [one for one in link.asked if isinstance(one, WatchPictures)]
    assert [one.most_per_s for one in asked] == [15.0]
    made.hide()
    until(lambda: link.asked[-1] == WatchPictures(most_per_s=0))
    made.show()
    until(lambda: link.asked[-1] == WatchPictures(most_per_s=15.0))
    close_panel(made)


def check_another_run_of_the_station_begins_with_an_empty_chart() -> None:
    made, link = open_panel("running", 1920, 1080)
    until(lambda: has_data(made, 0))
    link.known = known(running(cues=(), changes=(), remarks=()), briefing=briefing(run="run two"))
    until(lambda: not has_data(made, 0) and made.view.log.list.count() == 0)
    close_panel(made)


def check_signs_of_life_come_and_closing_is_no_stop() -> None:
    made, link = open_panel("running", 1280, 720)
    HAND.qWait(900)
    assert link.pings >= 2
    close_panel(made)
    assert link.closed
    assert link.stops == 0


def check_it_closes_when_the_station_says_goodbye() -> None:
    made, link = open_panel("running", 1280, 720)
    link.known = LinkStatus(LinkState.ENDED, "over", running(), 0, stop_asked=False)
    until(lambda: not made.isVisible())
    assert link.closed


def check_it_closes_some_time_after_the_station_is_gone() -> None:
    made, link = open_panel("running", 1280, 720, orphaned=Orphaned(stays_ns=400_000_000))
    link.known = known(running(), LinkState.LOST, "reset")
    until(lambda: made.view.head.problem.text() == say("link_gone"))
    assert made.isVisible(), "first it says what has happened"
    until(lambda: not made.isVisible())
    assert (link.closed, link.stops) == (True, 0)


def check_a_second_press_after_pause_does_not_go_on() -> None:
    made, link = open_panel("running", 1920, 1080)
    pause = made.view.blocks.pause_button
    pause.setFocus()
    HAND.keyClick(pause, KEY.Key_Space)
    link.known = known(running(state=SessionState.PAUSED))
    until(lambda: not pause.isEnabled())
    here = made.focusWidget()
    assert here is not made.view.blocks.go_on_button
    HAND.keyClick(here, KEY.Key_Space)
    assert [one for one in link.asked if not isinstance(one, WatchPictures)] == [Pause()]
    close_panel(made)
