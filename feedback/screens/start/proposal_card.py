"""The proposal: drill and plan to choose, every aim beside the runner's own value."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Final

from PyQt6.QtWidgets import (
    QComboBox,
    QDoubleSpinBox,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from feedback.screens.start.proposal import (
    AimRow,
    Proposal,
    change_words,
    propose_targets,
    usable_first,
)
from feedback.screens.start.way_files import WayFound, read_drills, read_plans
from feedback.screens.widgets.style import label, named, on_control
from feedback.texts.training import sessions_of
from shared.language import _
from shared.targets import Drill

_STEP_PERCENT: Final = 0.5
_LEAST_PX: Final = 150
_MOST_PX: Final = 440


class ProposalCard(QWidget):
    """Says whether it can be signed by :attr:`proposal`."""

    def __init__(self) -> None:
        super().__init__()
        self._found: WayFound | None = None
        self._drills: tuple[tuple[Path, Drill], ...] = ()
        self._changes: dict[str, float] = {}
        self.proposal: Proposal | None = None
        self.changed: Callable[[], None] = lambda: None
        """Called when what is proposed has changed."""
        self.drill, self.plan = QComboBox(), QComboBox()
        named(self.drill, _("Drill"))
        named(self.plan, _("Plan"))
        for choice in (self.drill, self.plan):
            choice.setMinimumWidth(_LEAST_PX)
            choice.setMaximumWidth(_MOST_PX)
            choice.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)
        self.drill.currentIndexChanged.connect(self._on_drill)
        self.problem = label(kind="strong", wrap=True)
        self.spins: dict[str, QDoubleSpinBox] = {}
        self._cells: list[QWidget] = []
        self._grid = QGridLayout()
        self._grid.setHorizontalSpacing(16)
        self._grid.setVerticalSpacing(8)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(12)
        choices = QHBoxLayout()
        choices.setSpacing(12)
        choices.addWidget(_above(_("Drill"), self.drill), 1)
        choices.addWidget(_above(_("Plan"), self.plan), 1)
        column.addLayout(choices)
        column.addLayout(self._grid)
        column.addWidget(self.problem)

    def show_for(self, found: WayFound) -> None:
        """Propose to this runner. Without a baseline nothing is proposed."""
        self._found = found
        baseline = found.baseline
        self._drills = (
            () if baseline is None else usable_first(read_drills(), baseline, found.athlete.limits)
        )
        self.drill.blockSignals(True)
        self.drill.clear()
        for path, drill in self._drills:
            self.drill.addItem(on_control(drill.title), path)
        self.drill.blockSignals(False)
        self.plan.clear()
        for path, plan in read_plans():
            title = _("{plan} ({sessions})").format(plan=plan.title, sessions=sessions_of(plan))
            self.plan.addItem(title, path)
        self.plan.addItem(_("No plan: this drill, again and again"), None)
        self._on_drill()

    def words(self) -> tuple[str, ...]:
        """What stands for it after ``prescribe --athlete X``."""
        plan = self.plan.currentData()
        chosen = () if plan is None else ("--plan", str(plan))
        drill = str(self.drill.currentData())
        return ("--drill", drill, *chosen, *change_words(self._changes))

    def _on_drill(self) -> None:
        self._changes = {}
        self._propose()
        self._build()
        self.changed()

    def _on_change(self, name: str, percent: float) -> None:
        own = {aim.name: aim.change_percent for aim in self._drill_now().aims}
        if own.get(name) == percent:
            self._changes.pop(name, None)
        else:
            self._changes[name] = percent
        self._propose()
        self._fill()
        self.changed()

    def _drill_now(self) -> Drill:
        return self._drills[max(0, self.drill.currentIndex())][1]

    def _propose(self) -> None:
        self.proposal = None
        found = self._found
        if found is not None and found.baseline is not None and self._drills:
            self.proposal = propose_targets(
                found.baseline, self._drill_now(), found.athlete.limits, self._changes
            )

    def _build(self) -> None:
        for cell in self._cells:
            self._grid.removeWidget(cell)
            cell.deleteLater()
        self._cells, self.spins = [], {}
        rows = () if self.proposal is None else self.proposal.rows
        heads = (_("Measure"), _("Own value"), _("Change"), _("Target"))
        for column, text in enumerate(heads if rows else ()):
            self._put(label(text, kind="label"), 0, column)
        for number, one in enumerate(rows):
            at = 1 + 2 * number
            self._put(label(one.title, kind="strong", wrap=True), at, 0)
            self._put(label(one.own, wrap=True), at, 1)
            self._put(self._spin(one), at, 2)
            self._put(label(one.aimed, kind="strong", wrap=True), at, 3)
            self._put(label(one.limit, kind="label", wrap=True), at + 1, 2)
            self._put(label(one.by_steps, kind="label", wrap=True), at + 1, 3)
        for column, share in enumerate((3, 3, 3, 4)):
            self._grid.setColumnStretch(column, share)
        self._fill()

    def _fill(self) -> None:
        """New values in the rows that stand; their controls stay, with the keys."""
        proposal = self.proposal
        rows = () if proposal is None else proposal.rows
        for number, one in enumerate(rows):
            for offset, column, text in ((0, 3, one.aimed), (1, 3, one.by_steps)):
                item = self._grid.itemAtPosition(1 + 2 * number + offset, column)
                place = None if item is None else item.widget()
                if isinstance(place, QLabel):
                    place.setText(text)
        if proposal is None:
            self.problem.setText(_("There is no baseline or no drill for this camera position."))
        elif proposal.problem is not None:
            problem = proposal.problem
            self.problem.setText(f"{problem.title} {problem.action}")
        self.problem.setVisible(proposal is None or proposal.problem is not None)

    def _spin(self, one: AimRow) -> QWidget:
        if one.change_percent is None:
            return label(_("set by the drill"))
        spin = QDoubleSpinBox()
        spin.setRange(one.least_percent, one.most_percent)
        spin.setSingleStep(_STEP_PERCENT)
        spin.setDecimals(1)
        spin.setSuffix(" %")
        spin.setValue(one.change_percent)
        spin.setFixedWidth(104)
        named(spin, _("Change of {measure}").format(measure=one.title), one.limit)
        spin.valueChanged.connect(lambda value, name=one.name: self._on_change(name, value))
        self.spins[one.name] = spin
        return spin

    def _put(self, widget: QWidget, line: int, column: int) -> None:
        self._grid.addWidget(widget, line, column)
        self._cells.append(widget)


def _above(name: str, control: QWidget) -> QWidget:
    made = QWidget()
    title = label(name, kind="label")
    title.setBuddy(control)
    column = QVBoxLayout(made)
    column.setContentsMargins(0, 0, 0, 0)
    column.setSpacing(4)
    column.addWidget(title)
    column.addWidget(control)
    return made
