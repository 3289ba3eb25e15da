"""Checks of windows that are given text as somebody would send it who means harm."""

from __future__ import annotations

from collections.abc import Iterator

import msgspec
from PyQt6.QtCore import Qt
from PyQt6.QtWidgets import QAbstractButton, QLabel, QListWidget, QTabBar, QWidget

from feedback.link.client_state import LinkStatus, ScreenSide
from feedback.screens.clinician.console import ConsoleWindow
from shared.changes import Remark
from shared.messages import PROTOCOL, Role, Welcome
from shared.problems import Problem
from tests.feedback.outside import WICKED, assert_fit
from tests.feedback.screens.panel_examples import known, running
from tests.feedback.screens.panel_feed import AT_NS, StillPanelLink, points
from tests.feedback.screens.panel_tools import HAND


def check_a_console_shows_text_and_nothing_else() -> None:
    window = ConsoleWindow()
    link = StillPanelLink(_as_received(WICKED), points())
    window.add_station("Treadmill <b>1</b> & 2", link)
    window.add_station("Treadmill 2", StillPanelLink(_as_received("Heron"), points()))
    window.resize(1600, 900)
    window.show()
    HAND.qWait(600)
    texts = list(_texts(window))
    for text in texts:
        assert_fit(text)
    assert sum("<b>bold</b>" in text for text in texts) > 5, "it is shown as it was written"
    assert not [one for one in window.findChildren(QLabel) if _reads_markup(one)]
    tips = [one.toolTip() for one in window.findChildren(QWidget) if "bold" in one.toolTip()]
    assert len(tips) >= 2
    assert all("&lt;b&gt;bold" in tip for tip in tips), tips
    bar = window.tabs.tabBar()
    assert bar is not None
    assert bar.tabText(0).startswith("Treadmill <b>1</b> && 2: a"), "an & makes no key"
    opens = [one.text() for one in window.findChildren(QAbstractButton) if "1</b>" in one.text()]
    assert "Treadmill <b>1</b> && 2" in opens
    window.close()


def check_names_read_from_the_right_leave_our_words_alone() -> None:
    window = ConsoleWindow()
    window.add_station("דנה", StillPanelLink(_as_received("שרה"), points()))
    window.add_station("Treadmill 2", StillPanelLink(_as_received("Heron"), points()))
    window.resize(1600, 900)
    window.show()
    HAND.qWait(600)
    bar = window.tabs.tabBar()
    assert bar is not None
    assert bar.tabText(0) == "\u2068דנה\u2069: \u2068שרה\u2069"  # FSI and PDI of UAX #9
    assert bar.tabText(1) == "Treadmill 2: Heron"
    said = [text for text in _texts(window) if "\u2068שרה\u2069: \u2068שרה\u2069" in text]
    assert said, "a note and who wrote it"
    window.close()


def _as_received(text: str) -> LinkStatus:
    """A session in which every text is this one, as it comes out of the link."""
    side = ScreenSide("", Role.CONSOLE)
    side.on_bytes(msgspec.msgpack.encode(Welcome(protocol=PROTOCOL, station=text)))
    told = running(
        code_name=text,
        problems=(Problem("no_runner", text, text, text),),
        remarks=(Remark(at_ns=AT_NS, who=text, text=text),),
        consoles=(text,),
    )
    side.on_bytes(msgspec.msgpack.encode(told))
    assert side.newest is not None
    return known(side.newest)


def _texts(window: ConsoleWindow) -> Iterator[str]:
    yield window.windowTitle()
    for widget in window.findChildren(QWidget):
        yield from (widget.toolTip(), widget.accessibleName(), widget.accessibleDescription())
        match widget:
            case QLabel() | QAbstractButton():
                yield widget.text()
            case QListWidget():
                for row in range(widget.count()):
                    item = widget.item(row)
                    if item is not None:
                        yield item.text()
            case QTabBar():
                yield from (widget.tabText(at) for at in range(widget.count()))


def _reads_markup(label: QLabel) -> bool:
    return "<" in label.text() and label.textFormat() is not Qt.TextFormat.PlainText
