"""The panel's head: whose session it is, how it stands, what is wrong, and Stop."""

from __future__ import annotations

from typing import Final

from PyQt6.QtCore import Qt
from PyQt6.QtGui import QFontMetricsF, QResizeEvent
from PyQt6.QtWidgets import (
    QHBoxLayout,
    QSizePolicy,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from feedback.screens.clinician.model import Line, PanelShowing
from feedback.screens.clinician.sensor_trend import SensorTrend
from feedback.screens.clinician.volume import VolumeView
from feedback.screens.widgets.design import BODY_PX
from feedback.screens.widgets.lettering import font
from feedback.screens.widgets.stop_button import StopButton
from feedback.screens.widgets.style import card, dress, label, mark, named, rows_px, tip
from feedback.texts.clinician import say

_STOP_PX: Final = (186, 84)
_PROBLEM_ROWS: Final = 2
_MORE_ROWS: Final = 2
_UNDER_PX: Final = 1
_ROOMY_PX: Final = 1250
_NAME_LETTERS: Final = 14


class Head(QWidget):
    """Always at the top, and Stop always at its right end."""

    def __init__(self) -> None:
        super().__init__()
        card(self)
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        self.name = label("", "head")
        self.state = label("", "head")
        self.more = label(wrap=True)
        """Why it stopped and what the belt does: never cut, so in two rows where it is narrow."""
        self.link = label("", "label")
        self.special = label("", "label")
        mark(self.special, "well", False)
        self.quality = label("", "label")
        self.problem = label(wrap=True)
        self.problem.setFixedHeight(
            round(_PROBLEM_ROWS * QFontMetricsF(font(BODY_PX)).lineSpacing()) + 3
        )
        self.problem.setAlignment(Qt.AlignmentFlag.AlignTop | Qt.AlignmentFlag.AlignLeft)
        self.more.setAlignment(Qt.AlignmentFlag.AlignTop | Qt.AlignmentFlag.AlignLeft)
        self._low = False
        self.stop = StopButton(say("stop_keys"), _STOP_PX, 30)
        first = QHBoxLayout()
        first.setSpacing(18)
        first.addWidget(self.name)
        first.addWidget(self.state, 1)
        second = QHBoxLayout()
        second.setSpacing(18)
        second.addWidget(self.link)
        second.addWidget(self.special)
        second.addWidget(self.quality, 1)
        words = QVBoxLayout()
        words.setSpacing(1)
        words.addLayout(first)
        words.addWidget(self.more)
        words.addLayout(second)
        words.addWidget(self.problem)
        layout = QHBoxLayout(self)
        layout.setContentsMargins(12, 6, 8, 6)
        layout.addLayout(words, 1)
        self.trend = SensorTrend()
        layout.addWidget(self.trend)
        self.tools = QVBoxLayout()
        """Beside Stop: what is always at hand."""
        self.details = QToolButton()
        self.details.setText(say("details"))
        self.details.setCheckable(True)
        self.details.setProperty("plain", "true")
        self.details.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        named(self.details, say("details"), say("details_about"))
        self.tools.addWidget(self.details, 0, Qt.AlignmentFlag.AlignTop)
        self.volume = VolumeView()
        self.tools.addWidget(self.volume)
        self.tools.addStretch(1)
        layout.addLayout(self.tools)
        layout.addWidget(self.stop, 0, Qt.AlignmentFlag.AlignTop)
        self._give_room()

    def keep_low(self, low: bool) -> None:
        """Take no more height than a bar has; what is said before the cautions is short."""
        self._low = low
        self._give_room()

    def resizeEvent(self, event: QResizeEvent | None) -> None:  # noqa: N802 - Qt's name
        """Another number of rows where there is more or less room."""
        super().resizeEvent(event)
        self._give_room()

    def _give_room(self) -> None:
        roomy = self.width() >= _ROOMY_PX
        for line in (self.name, self.state):
            dress(line, "head" if roomy else "strong")
        rows = 1 if self._low or roomy else _MORE_ROWS
        self.more.setFixedHeight(rows_px(rows) + _UNDER_PX)

    def refresh(self, showing: PanelShowing, refused: str = "") -> None:
        """Show how things stand; ``refused``: why the volume was not changed, for a while."""
        self.stop.refresh(stoppable=showing.stoppable)
        short = showing.name[:_NAME_LETTERS].rstrip()
        self.name.setText(showing.name if short == showing.name else say("name_short", name=short))
        self.name.setToolTip(tip(showing.name))
        self.state.setText(showing.state)
        mark(self.state, "well", showing.state_well)
        passing = showing.stoppable and bool(showing.name)  # a session that is over stays so
        mark(self.state, "old", passing and showing.old and showing.state_well)
        self.more.setText(" · ".join(showing.more))
        self.link.setText(showing.link.text if showing.link.well else "")
        self.special.setText(showing.special)
        details = self.details.isChecked() and not showing.old
        self.quality.setText(showing.quality if details else "")
        if not showing.old:
            self.trend.history.take(showing.at_ns, showing.sensors)
        roomy = self.width() >= _ROOMY_PX
        self.trend.refresh(showing.at_ns, roomy=roomy, drawn=self.details.isChecked())
        # a link that is not well takes the place of problems, which are old then: it is long
        problems = showing.problems if showing.link.well else (showing.link, *showing.problems)
        if refused:
            problems = (Line(refused, well=False), *(one for one in problems if not one.well))
        first = problems[0] if problems else None
        # a row each where there is room, else one over both rows
        shown = [line.text for line in problems]
        shown = shown[: _PROBLEM_ROWS if roomy else 1]
        text = "\n".join(shown)
        if len(problems) > len(shown):
            text = f"{text} ({say('problem_more', count=len(problems) - len(shown))})"
        self.problem.setText(text)
        self.problem.setToolTip(tip("\n".join(line.text for line in problems)))
        mark(self.problem, "well", first is None or first.well)
