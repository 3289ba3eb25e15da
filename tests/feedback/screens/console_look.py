"""Checks of the console's window."""

from __future__ import annotations

from PyQt6.QtCore import QTimer
from PyQt6.QtWidgets import QApplication, QPushButton

from feedback.link.address import Address
from feedback.link.client_state import LinkState
from feedback.link.consoles import KnownStation
from feedback.link.sightings import FoundStation
from feedback.screens.clinician.console import ConsoleWindow
from feedback.screens.widgets.application import run_loop
from feedback.texts.clinician import say
from shared.clock import now_ns
from shared.messages import SessionState, StopReason
from shared.pictures import WatchPictures
from shared.problems import describe
from tests.feedback.screens.panel_examples import known, running, states
from tests.feedback.screens.panel_feed import S, StillPanelLink, StillStations, points, station
from tests.feedback.screens.panel_tools import (
    HAND,
    KEY,
    until,
)


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
    assert "no connection" in window.line_texts(2)[1], window.line_texts(2)
    window.stop_button(1).click()
    HAND.qWait(50)
    assert [link.stops for link in links] == [0, 1, 0]
    HAND.keyClick(window.views[0], KEY.Key_Escape)
    assert [link.stops for link in links] == [1, 1, 0]
    button = next(one for one in window.findChildren(QPushButton) if one.text() == "Treadmill 2")
    button.setFocus()
    HAND.keyClick(button, KEY.Key_Escape)
    assert [link.stops for link in links] == [2, 1, 0], "from the list: the one that is open"
    window.tabs.setCurrentIndex(2)
    HAND.keyClick(window.views[2].head.stop, KEY.Key_F12)
    assert [link.stops for link in links] == [2, 1, 1]
    assert not window.views[0].blocks.go_on_button.isVisible(), "a console sets nothing going"
    watching = [
        [one.most_per_s for one in link.asked if isinstance(one, WatchPictures)][-1:]
        for link in links[:2]
    ]
    until(lambda: links[0].asked[-1] == WatchPictures(most_per_s=0))
    assert watching[1] == [], "pictures of the open station only"
    window.close()
    assert all(link.closed for link in links)


def check_a_console_opens_what_is_paired_and_pairs_with_the_rest() -> None:
    window, stations, opened = _joining()
    page = window.joining
    assert page is not None
    page.list.setFocus()
    HAND.keyClick(page.list, KEY.Key_Return)
    assert [one.name for one in opened] == ["Treadmill 1"]
    assert window.tabs.currentWidget() is window.views[0]
    assert page.list.count() == 2, "what is open is not offered again"
    window.tabs.setCurrentWidget(page)
    page.list.setCurrentRow(1)
    assert not page.open.isEnabled(), "it is not paired"
    for digits in ("12345", "12345x"):
        page.code.setText(digits)
        assert not page.pair.isEnabled(), digits
    page.code.setText("123 456")
    page.pair.click()
    until(lambda: len(opened) == 2)
    assert stations.asked == [((Address("192.0.2.9", 47820),), "123456", "Office")]
    assert opened[1].name == "Treadmill 3"
    assert page.message.text().startswith("Paired with Treadmill 3")
    assert [window.tabs.tabText(at) for at in range(3)][2] == say("join_page")
    window.close()


def check_a_station_is_paired_with_at_a_typed_address_and_a_failure_is_told() -> None:
    window, stations, opened = _joining()
    page = window.joining
    assert page is not None
    stations.problem = describe("pairing_failed", why="the code is wrong", do="Try again.")
    page.address.setText("room 2")
    page.code.setText("000000")
    assert not page.pair.isEnabled(), "no address"
    page.address.setText("192.0.2.4:4000")
    HAND.keyClick(page.code, KEY.Key_Return)
    until(lambda: "the code is wrong" in page.message.text())
    assert "Try again." in page.message.text()
    assert stations.asked == [((Address("192.0.2.4", 4000),), "000000", "Office")]
    assert opened == []
    until(page.pair.isEnabled)
    window.close()


def check_false_stations_do_not_push_the_paired_ones_off_the_list() -> None:
    window, stations, _ = _joining()
    page = window.joining
    assert page is not None
    page.list.setCurrentRow(2)
    stations.false = tuple(
        FoundStation(f"A {number}", 16 * "d", 2, (f"198.51.100.{number}",), 4001)
        for number in range(200)
    )
    stations.let_go = 30
    page.look()
    texts = [item.text() for row in range(page.list.count()) if (item := page.list.item(row))]
    assert [text.split(" · ")[:2] for text in texts[:2]] == [
        ["Treadmill 1", "paired, on the network"],
        ["Treadmill 2", "paired, not found now"],
    ]
    assert texts[-1].startswith("and 30 more")
    assert page.chosen is not None
    assert page.chosen.text.startswith("Treadmill 3"), "what was chosen stays chosen"
    page.code.setText("123456")
    stations.paired = [*stations.paired, station("Treadmill 3", "c")]  # it is found no more
    page.look()
    assert not page.pair.isEnabled(), "the code must not go to another one"
    assert page.list.currentRow() == -1
    window.close()


def _joining() -> tuple[ConsoleWindow, StillStations, list[KnownStation]]:
    window, stations = ConsoleWindow(), StillStations()
    opened: list[KnownStation] = []

    def link_to(known_one: KnownStation) -> StillPanelLink:
        opened.append(known_one)
        return StillPanelLink(states()["running"], points())

    window.let_join(stations, "Office", link_to)
    window.resize(1280, 720)
    window.show()
    HAND.qWaitForWindowExposed(window)
    return window, stations, opened


def check_a_console_keeps_open_what_a_station_said_last() -> None:
    window = ConsoleWindow()
    link = StillPanelLink(states()["running"])
    window.add_station("Treadmill 1", link)
    window.resize(1280, 720)
    window.show()
    over = running(state=SessionState.STOPPED, stop_reason=StopReason.TIME, saved=True)
    link.known = known(over, LinkState.ENDED, ago_ns=3 * S)
    until(lambda: window.views[0].head.state.text() == say("state_stopped"))
    assert window.isVisible()
    window.close()


def check_a_console_stays_when_a_station_is_gone_and_looks_for_it() -> None:
    window = ConsoleWindow()
    link = StillPanelLink(states()["running"])
    window.add_station("Treadmill 1", link)
    window.resize(1280, 720)
    window.show()
    long_ago_ns = now_ns() - 60 * S
    link.known = known(running(), LinkState.LOST, "reset", ago_ns=60 * S, lost_ns=long_ago_ns)
    until(lambda: "Reconnecting" in window.views[0].head.problem.text())
    HAND.qWait(500)
    assert window.isVisible()
    window.close()


def check_what_fails_inside_the_loop_is_raised_outside() -> None:
    app = QApplication.instance()
    assert isinstance(app, QApplication)
    QTimer.singleShot(0, lambda: 1 // 0)
    try:
        run_loop(app)
    except ZeroDivisionError:
        return
    raise AssertionError("nothing was raised")
