"""Checks on the real start window, driven by keys and mouse; run by :mod:`looking`.

The data folder is one of its own, which the test gives in ``XDG_DATA_HOME``.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

from PyQt6.QtCore import QEvent, Qt
from PyQt6.QtTest import QTest as _QTest
from PyQt6.QtWidgets import (
    QAbstractButton,
    QApplication,
    QComboBox,
    QLineEdit,
    QPlainTextEdit,
    QWidget,
)

from feedback.athlete_files.athletes import own_folder, read_profile
from feedback.journal.writer import sessions_folder
from feedback.screens.start.check_page import CheckPage
from feedback.screens.start.model import Context, PageName, Place
from feedback.screens.start.new_runner_page import NewRunnerPage
from feedback.screens.start.people_page import PeoplePage
from feedback.screens.start.profile_page import ProfilePage
from feedback.screens.start.records_page import RecordsPage
from feedback.screens.start.settings_page import SettingsPage
from feedback.screens.start.way_page import WayPage
from feedback.screens.start.window import StartWindow
from feedback.screens.widgets.application import make_app
from feedback.storage.preferences import read_preferences
from feedback.storage.settings import read_settings
from shared.identity import derived_id
from tests.feedback.records.month import short_session
from tests.feedback.screens.looking import report
from tests.feedback.screens.settings_look import check_monitors_are_chosen_by_name  # noqa: F401

HAND: Any = _QTest
KEY = Qt.Key
PATIENCE_S: Final = 30.0
FILE = """\
# Written by hand.
code_name = "Avocet" # a wader
height_cm = 171
view = "side"
belt_speed_kmh = 9.5

[[targets]]
measure = "cadence"
unit = "steps/min"
low = 165.0 # mine
high = 175.0
"""


def until(seen: Callable[[], object], what: str) -> None:
    """Let the window work until something is seen."""
    deadline = time.monotonic() + PATIENCE_S
    while not seen():
        assert time.monotonic() < deadline, f"{what} was never seen"
        HAND.qWait(10)


def opened(place: Place | None = None) -> StartWindow:
    window = StartWindow(place)
    window.show()
    window.activateWindow()
    HAND.qWaitForWindowActive(window)
    return window


def put_away(window: StartWindow) -> None:
    window.jobs.end_all()
    window.close()
    window.deleteLater()
    QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)


def typed(text: str) -> None:
    """Type into whatever has the keys."""
    has_keys = QApplication.focusWidget()
    assert has_keys is not None
    HAND.keyClicks(has_keys, text)


def press(key: Qt.Key) -> None:
    has_keys = QApplication.focusWidget()
    assert has_keys is not None
    HAND.keyClick(has_keys, key)


def own_file(text: str = FILE, name: str = "avocet.toml") -> Path:
    path = own_folder() / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")
    return path


def check_a_new_runner_is_saved_with_few_keys_and_no_mouse() -> None:
    window = opened()
    page = window.page
    assert isinstance(page, PeoplePage)
    until(lambda: page.empty.isVisible(), "the empty list")
    page.new.setFocus()
    press(KEY.Key_Space)
    assert isinstance(window.page, NewRunnerPage)
    for text in ("Sandpiper", "172", "10,5"):
        typed(text)
        press(KEY.Key_Return)
    assert window.history.now.page is PageName.WAY
    saved = read_profile(own_folder() / "sandpiper.toml").athlete
    assert (saved.code_name, saved.height_cm, saved.belt_speed_kmh) == ("Sandpiper", 172.0, 10.5)
    assert window.history.now.context.profile == own_folder() / "sandpiper.toml"
    window.back()
    until(lambda: isinstance(window.page, PeoplePage), "the list")
    until(lambda: page.table.rowCount() == 1, "the new runner")
    assert page.table.item(0, 0).text() == "Sandpiper"  # type: ignore[union-attr]
    assert page.table.item(0, 1).text() == "Baseline"  # type: ignore[union-attr]
    put_away(window)
    (own_folder() / "sandpiper.toml").unlink()


def check_other_units_are_typed_and_the_same_is_kept() -> None:
    window = opened(Place(PageName.NEW_RUNNER))
    window.prefer(speed_unit="min/mile", length_unit="ft/in")
    window.page.enter(Context())
    page = window.page
    assert isinstance(page, NewRunnerPage)
    assert "5'8\"" in page.tall.about.text()
    for entry, text in ((page.name, "Knot"), (page.tall, "5'8\""), (page.speed, "8:00")):
        entry.edit.setFocus()
        typed(text)
    HAND.mouseClick(page.only_save, Qt.MouseButton.LeftButton)
    saved = read_profile(own_folder() / "knot.toml").athlete
    # NIST SP 811: 68 in x 2.54 cm; 60 / 8 mph x 1.609344 km
    assert abs(saved.height_cm - 172.7) < 0.06
    assert abs((saved.belt_speed_kmh or 0) - 12.07) < 0.006
    window.prefer(speed_unit="km/h", length_unit="cm")
    put_away(window)
    (own_folder() / "knot.toml").unlink()


def check_what_is_wrong_is_said_beside_its_field_and_nothing_is_saved() -> None:
    window = opened(Place(PageName.NEW_RUNNER))
    page = window.page
    assert isinstance(page, NewRunnerPage)
    page.name.edit.setText("Ruff")
    page.tall.edit.setText("17")
    page.speed.edit.setText("fast")
    HAND.mouseClick(page.save, Qt.MouseButton.LeftButton)
    assert page.tall.is_wrong
    assert "120 to 220" in page.tall.about.text()
    assert page.speed.is_wrong
    assert page.tall.edit.hasFocus()
    assert not (own_folder() / "ruff.toml").exists()
    put_away(window)


def check_people_are_searched_and_broken_profiles_say_why() -> None:
    own_file()
    broken = own_file("code_name = 3\n", "broken.toml")
    window = opened()
    page = window.page
    assert isinstance(page, PeoplePage)
    until(lambda: page.table.rowCount() == 2, "both profiles")
    page.search.setFocus()
    typed("avo")
    assert [page.table.item(row, 0).text() for row in range(page.table.rowCount())] == ["Avocet"]  # type: ignore[union-attr]
    assert page.go_on.isEnabled()
    page.search.clear()
    typed("broken")
    assert page.person is not None
    assert page.person.broken
    assert "code_name" in page.chosen.text()
    assert not page.go_on.isEnabled()
    page.search.clear()
    typed("nobody at all")
    assert page.empty.isVisible()
    put_away(window)
    broken.unlink()


def check_a_profile_is_edited_and_what_was_written_beside_it_stays() -> None:
    path = own_file()
    window = opened(Place(PageName.PROFILE, Context(profile=path, code_name="Avocet")))
    page = window.page
    assert isinstance(page, ProfilePage)
    height = page.forms[0].controls["height_cm"]
    height.setFocus()
    assert isinstance(height, QLineEdit)
    height.selectAll()
    typed("300")
    assert "height_cm" in page.state.text()
    assert not page.save.isEnabled()
    assert not page.leave(), "changes would be lost"
    height.selectAll()
    typed("174")
    assert page.state.text() == ""
    HAND.mouseClick(page.save, Qt.MouseButton.LeftButton)
    assert path.read_text(encoding="utf-8") == FILE.replace("171", "174.0")
    assert page.leave()
    put_away(window)


def check_a_file_changed_elsewhere_is_noticed_and_never_overwritten() -> None:
    path = own_file()
    window = opened(Place(PageName.PROFILE, Context(profile=path, code_name="Avocet")))
    page = window.page
    assert isinstance(page, ProfilePage)
    own_file(FILE.replace("171", "180"))
    until(lambda: _shown(page, "height_cm") == "180", "the change by hand")
    height = page.forms[0].controls["height_cm"]
    assert isinstance(height, QLineEdit)
    height.setFocus()
    height.selectAll()
    typed("160")
    theirs = FILE.replace("171", "165")
    own_file(theirs)
    until(lambda: "elsewhere" in window.told_title.text(), "the warning")
    page.save.setEnabled(True)
    HAND.mouseClick(page.save, Qt.MouseButton.LeftButton)
    assert path.read_text(encoding="utf-8") == theirs
    HAND.mouseClick(page.discard, Qt.MouseButton.LeftButton)
    assert _shown(page, "height_cm") == "165"
    put_away(window)


def _shown(page: ProfilePage, field: str) -> str:
    control = page.forms[0].controls[field]
    assert isinstance(control, QLineEdit)
    return control.text()


def check_targets_are_added_and_taken_away() -> None:
    path = own_file()
    window = opened(Place(PageName.PROFILE, Context(profile=path)))
    page = window.page
    assert isinstance(page, ProfilePage)
    before = len(page.forms)
    page._add()
    assert len(page.forms) == before + 1
    assert "set twice" in page.state.text(), "two targets on cadence"
    measure = page.forms[2].controls["measure"]
    assert isinstance(measure, QComboBox)
    measure.setCurrentIndex(measure.findData("trunk_lean"))
    measure.activated.emit(measure.currentIndex())
    assert "low" in page.state.text(), "165 degrees is no lean"
    page._remove(1)
    assert not page.is_changed or page.state.text() == ""
    page._reread()
    put_away(window)


def check_records_are_shown_and_erased_only_when_asked_twice() -> None:
    for number in (1, 2, 3):
        short_session(sessions_folder(), "Stint", number)
    who = derived_id("Stint")
    context = Context(person_id=who, code_name="Stint")
    window = opened(Place(PageName.RECORDS, context))
    page = window.page
    assert isinstance(page, RecordsPage)
    until(lambda: page.table.rowCount() == 3, "three sessions")
    assert page.session_number == 3, "the newest stands first"
    assert page.measure.count() >= 1
    assert "steps/min" in page.chart.accessibleDescription()
    HAND.mouseClick(page.erase, Qt.MouseButton.LeftButton)
    assert page.card.isVisible()
    assert "3 sessions" in page.card.what.text()
    assert not page.card.go_on.isEnabled()
    typed("Stin")
    press(KEY.Key_Return)
    assert not page.card.really.isVisible()
    typed("t")
    press(KEY.Key_Return)
    assert page.card.really.isVisible()
    assert page.card.cancel.hasFocus(), "Enter again keeps everything"
    assert len(list(sessions_folder().glob("*stint*"))) == 3
    HAND.mouseClick(page.card.really, Qt.MouseButton.LeftButton)
    until(lambda: isinstance(window.page, PeoplePage), "the list of people")
    assert not list(sessions_folder().glob("*stint*"))
    put_away(window)


def check_settings_are_kept_and_a_store_is_tried_first() -> None:
    window = opened(Place(PageName.SETTINGS))
    page = window.page
    assert isinstance(page, SettingsPage)
    page.speed.setFocus()
    press(KEY.Key_Down)
    assert read_preferences().speed_unit == "mph"
    press(KEY.Key_Up)
    page.volume.setFocus()
    press(KEY.Key_PageDown)
    assert read_preferences().volume_percent == 90
    assert "next session" in window.told_title.text()
    press(KEY.Key_PageUp)
    page.store.edit.setText("postgresql://nobody@127.0.0.1:1/none")
    HAND.mouseClick(page.test, Qt.MouseButton.LeftButton)
    until(lambda: page.test.isEnabled(), "the answer")
    assert "cannot be used" in page.tested.text()
    page.store.edit.clear()
    page.days.edit.setText("0")
    HAND.mouseClick(page.save, Qt.MouseButton.LeftButton)
    assert page.days.is_wrong
    page.days.edit.setText("400")
    HAND.mouseClick(page.save, Qt.MouseButton.LeftButton)
    assert read_settings().keep_days == 400
    page.days.edit.clear()
    HAND.mouseClick(page.save, Qt.MouseButton.LeftButton)
    assert read_settings().keep_days is None
    put_away(window)


def check_f1_opens_the_page_that_belongs_to_what_is_shown() -> None:
    window = opened(Place(PageName.SETTINGS))
    HAND.keyClick(window, KEY.Key_F1)
    shown = window.manual.shown
    assert shown is not None
    assert shown.isVisible()
    assert shown.topic == "settings"
    everything = shown.topics.count()
    HAND.keyClicks(shown.search, "pairing code")
    assert 1 <= shown.topics.count() < everything
    HAND.keyClicks(shown.search, " zebra")
    assert shown.topics.count() == 0
    assert shown.none.isVisible()
    HAND.keyClick(shown, KEY.Key_Escape)
    assert not shown.isVisible()
    HAND.keyClick(window, KEY.Key_F1)
    assert shown.isVisible()
    window.close()
    assert not shown.isVisible(), "it would keep the program alive"
    put_away(window)


def check_this_computer_is_looked_at_part_by_part() -> None:
    """Each row comes as its part was looked at; leaving the page ends the looking."""
    window = opened(Place(PageName.SETTINGS))
    settings = window.page
    assert isinstance(settings, SettingsPage)
    HAND.mouseClick(settings.check, Qt.MouseButton.LeftButton)
    page = window.page
    assert isinstance(page, CheckPage)
    assert window.history.section is PageName.SETTINGS
    assert not page.again.isEnabled()
    until(page.standings["clock"].text, "the clock")
    assert page.standings["folder"].text() == "good"
    assert "sessions" in page.found["folder"].text()
    window.back()
    assert window.page is settings
    until(page.again.isEnabled, "its end")
    assert "before every part" in page.said.text()
    assert page.found["bluetooth"].text() == "not looked at"
    assert not window.told.isVisible(), "whoever leaves knows it"
    put_away(window)


def check_sensors_are_off_until_chosen_and_then_kept() -> None:
    """What is chosen goes into the command as it is kept; a cleared name means the first found."""
    context = Context(profile=own_file(), code_name="Avocet")
    window = opened(Place(PageName.WAY, context))
    page = window.page
    assert isinstance(page, WayPage)
    assert read_preferences().sensor_words == ()
    page.sensors.show()  # as for a step with a runner
    box, name = page.sensors.boxes["treadmill"], page.sensors.names["treadmill"]
    tall = page.sensors.sizeHint().height()
    assert not box.isChecked()
    assert not name.isVisible()
    box.setFocus()
    press(KEY.Key_Space)
    assert name.isVisible()
    assert page.sensors.sizeHint().height() == tall
    assert read_preferences().sensor_words == ("--treadmill=any",)
    name.setFocus()
    typed("Belt 7")
    press(KEY.Key_Return)
    assert read_preferences().sensor_words == ("--treadmill=Belt 7",)
    put_away(window)
    window = opened(Place(PageName.WAY, context))
    assert isinstance(window.page, WayPage)
    assert window.page.sensors.names["treadmill"].text() == "Belt 7"
    window.page.sensors.boxes["treadmill"].click()
    assert read_preferences().sensor_words == ()
    put_away(window)


def check_everything_has_a_name_and_the_tab_key_reaches_it() -> None:
    own_file()
    for name in (
        *(PageName.PEOPLE, PageName.NEW_RUNNER, PageName.PROFILE),
        *(PageName.RECORDS, PageName.SETTINGS),
    ):
        context = Context(profile=own_folder() / "avocet.toml", code_name="Avocet")
        window = opened(Place(name, context))
        HAND.qWait(50)
        wanted = {
            one
            for kind in (QAbstractButton, QComboBox, QLineEdit, QPlainTextEdit)
            for one in window.findChildren(kind)
            if one.isVisible() and one.isEnabled() and one.focusPolicy() & Qt.FocusPolicy.TabFocus
        }
        nameless = [one for one in wanted if not (one.accessibleName() or _text(one))]
        assert not nameless, (name, nameless)
        reached: set[QWidget | None] = set()
        for _ in range(250):
            reached.add(QApplication.focusWidget())
            window.focusNextChild()
        missed = [_text(one) or one.accessibleName() for one in wanted - reached]
        assert not missed, (name, missed)
        put_away(window)


def _text(widget: QWidget) -> str:
    return widget.text() if isinstance(widget, QAbstractButton) else ""


def check_a_session_that_is_open_keeps_the_window_open() -> None:
    window = opened()
    ended: list[Any] = []
    window.jobs.run(["drills"], ended.append, holds=True)
    assert not window.close()
    assert "open" in window.told_title.text()
    until(lambda: ended, "its end")
    assert ended[0].ok
    assert window.close()
    window.deleteLater()


def check_a_command_that_fails_is_told_in_its_own_words() -> None:
    window = opened()
    ended: list[Any] = []
    window.jobs.run(["plan", "no-such-file.toml"], ended.append)
    until(lambda: ended, "its end")
    (outcome,) = ended
    assert outcome.code == 1
    assert "no-such-file.toml" in outcome.what
    assert outcome.then
    assert "Traceback" not in " ".join(outcome.errors)
    put_away(window)


CHECKS: Final = {name: check for name, check in globals().items() if name.startswith("check_")}

if __name__ == "__main__":
    made = make_app()
    report(CHECKS)
