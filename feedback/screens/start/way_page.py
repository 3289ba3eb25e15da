"""One runner's way: camera check, baseline, drill and targets, session, report."""

from __future__ import annotations

import time
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Final

from PyQt6.QtCore import QUrl
from PyQt6.QtGui import QDesktopServices, QIcon, QResizeEvent
from PyQt6.QtWidgets import (
    QBoxLayout,
    QCheckBox,
    QHBoxLayout,
    QPushButton,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from feedback.screens.start.actions import Outcome
from feedback.screens.start.camera_model import title_of
from feedback.screens.start.later import Later
from feedback.screens.start.model import NOTHING, Context, PageName
from feedback.screens.start.page import Page, Shell
from feedback.screens.start.parts import button, group, row
from feedback.screens.start.proposal_card import ProposalCard
from feedback.screens.start.sensor_choice import SensorChoice
from feedback.screens.start.way import Stage, Standing, Way, stage_title, standing_title
from feedback.screens.start.way_files import WayFound, read_way
from feedback.screens.widgets.icons import icon
from feedback.screens.widgets.style import label, named, on_control
from shared.identity import id_of
from shared.language import _
from shared.problems import UserError

_SHORTEN: Final = "20"
_STAGES_PX: Final = 250
_NARROW_PX: Final = 860
"""Narrower than that, the steps stand below what is next."""
_ICONS: Final = {Standing.DONE: "check", Standing.NOW: "next"}


class WayPage(Page):
    """The steps at the left, what is next and why at the right."""

    def __init__(self, shell: Shell) -> None:
        super().__init__(shell)
        self._context = NOTHING
        self.found: WayFound | None = None
        self._asked: Stage | None = None
        """A step that was gone back to."""
        self.reports: tuple[Path, ...] = ()
        """Of the session that was held just now."""
        self._later = Later[WayFound](self._on_found, self._on_failed)
        self.stages: dict[Stage, QPushButton] = {}
        self.why = label(kind="strong", wrap=True)
        self.camera = label(kind="label", wrap=True)
        self.proposal = ProposalCard()
        self.proposal.changed = self._on_proposal
        self.panel = QCheckBox(_("Open the clinician's panel too"))
        named(self.panel, self.panel.text())
        self.sensors = SensorChoice(shell)
        self.trial = QCheckBox(_("As a trial: much shorter, and it does not count"))
        named(self.trial, self.trial.text(), _("Every part takes a twentieth of its time"))
        self.go_on = button("", self._go, first=True)
        self.folder = button(_("Show it in its folder"), self._show_folder)
        self.other = button(_("Camera"), self._open_camera)
        self.stop = button(
            _("Stop here"), self._stop_here, _("All that is done is kept; go on at any time")
        )
        self.progress = label(kind="strong", wrap=True)
        self.progress.hide()
        self._lay_out()

    @property
    def title(self) -> str:
        """What stands over it."""
        name = self._context.code_name or _("Next step")
        found, stage = self.found, self.stage
        if found is None or stage is None:
            return name
        return _("{name}: {step}").format(name=name, step=self._heading(found.way, stage))

    def enter(self, context: Context) -> None:
        """Read where this runner is: files may have changed meanwhile."""
        if context.profile != self._context.profile:
            self.found, self.reports = None, ()
        self._context = context
        self._asked = None
        self.sensors.show_kept()
        self._read()

    def first_control(self) -> QWidget | None:
        """What is next."""
        return self.go_on

    @property
    def stage(self) -> Stage | None:
        """The step that is shown."""
        if self.found is None:
            return None
        return self._asked or self.found.way.now

    # ---- what comes in

    def _read(self) -> None:
        profile = self._context.profile
        if profile is not None:
            now_s = int(time.time())
            self._later.ask(lambda: read_way(profile, now_s))
        self._show()

    def _on_found(self, found: WayFound) -> None:
        self.found = found
        if self.stage is Stage.TARGETS:
            self.proposal.show_for(found)
        self._show()
        if self.isVisible() and self.go_on.isEnabled():
            self.go_on.setFocus()

    def _on_failed(self, error: UserError) -> None:
        self.shell.tell(error.problem.title, f"{error.problem.meaning} {error.problem.action}")

    # ---- what is shown

    def _show(self) -> None:
        found, stage = self.found, self.stage
        if self.isVisible():
            self.shell.retitle()
        if found is None or stage is None:
            self._show_only(None)
            return
        way = found.way
        for one, made in self.stages.items():
            standing = way.standing(one)
            made.setText(
                on_control(
                    _("{step}: {state}").format(
                        step=stage_title(one), state=standing_title(standing)
                    )
                )
            )
            named(made, made.text())
            made.setIcon(icon(_ICONS[standing]) if standing in _ICONS else QIcon())
            made.setEnabled(standing is not Standing.LATER)
            made.setChecked(one is stage)
        self.why.setText(self._why(way, stage))
        self.camera.setText(
            _("No camera is chosen yet.")
            if found.camera is None
            else _("Camera: {camera}").format(camera=title_of(found.camera))
        )
        self.go_on.setText(on_control(self._button(stage)))
        named(self.go_on, self._button(stage))
        self._show_only(stage)

    def _show_only(self, stage: Stage | None) -> None:
        runs = stage in (Stage.BASELINE, Stage.SESSION)
        self.proposal.setVisible(stage is Stage.TARGETS)
        self.panel.setVisible(runs)
        self.sensors.setVisible(runs)
        self.trial.setVisible(stage is Stage.SESSION)
        self.camera.setVisible(runs)
        self.other.setVisible(runs)
        self.folder.setVisible(stage is Stage.REPORT and bool(self.reports))
        self.go_on.setVisible(stage is not None)
        self.why.setVisible(stage is not None)
        self._on_proposal()

    def _heading(self, way: Way, stage: Stage) -> str:
        if stage is Stage.REPORT and self.reports:
            return _("The session was held, and its report is ready")
        return way.heading() if stage is way.now else stage_title(stage)

    def _why(self, way: Way, stage: Stage) -> str:
        if stage is Stage.REPORT and self.reports:
            return _("What was measured, cued and felt, to read, print or send.")
        if stage is way.now:
            return way.why()
        return _("This step is done. It can be done again: what was kept before stays.")

    def _button(self, stage: Stage) -> str:
        match stage:
            case Stage.CAMERA:
                return _("Choose and check the camera")
            case Stage.BASELINE:
                return _("Start the baseline")
            case Stage.TARGETS:
                return _("Sign these targets")
            case Stage.SESSION:
                return _("Start the session")
            case Stage.REPORT:
                return _("Open the report") if self.reports else _("Records")

    def _on_proposal(self) -> None:
        busy = self.shell.jobs.held
        stage = self.stage
        proposal = self.proposal.proposal
        ready = stage is not Stage.TARGETS or (proposal is not None and proposal.can_be_signed)
        self.go_on.setEnabled(ready and not busy)

    # ---- what is done

    def _choose_stage(self, stage: Stage) -> None:
        found = self.found
        if found is None:
            return
        self._asked = None if stage is found.way.now else stage
        if stage is Stage.TARGETS:
            self.proposal.show_for(found)
        self._show()
        self.go_on.setFocus()

    def _go(self) -> None:
        match self.stage:
            case Stage.CAMERA:
                self._open_camera()
            case Stage.BASELINE:
                self._run_baseline()
            case Stage.TARGETS:
                self._prescribe()
            case Stage.SESSION:
                self._run_session()
            case Stage.REPORT if self.reports:
                QDesktopServices.openUrl(QUrl.fromLocalFile(str(self.reports[0])))
            case Stage.REPORT:
                self.shell.open(PageName.RECORDS, self._here())

    def _here(self) -> Context:
        found = self.found
        if found is None:
            return self._context
        return Context(
            profile=self._context.profile,
            person_id=id_of(found.athlete),
            code_name=found.athlete.code_name,
            prescription=found.way.next.prescription,
            view=found.view,
        )

    def _open_camera(self) -> None:
        self.shell.open(PageName.CAMERA, self._here())

    def _run_baseline(self) -> None:
        found = self.found
        if found is None or self._context.profile is None:
            return
        if found.camera is None:
            self._open_camera()
            return
        words = ["baseline", "--athlete", str(self._context.profile)]
        words += ["--view", found.athlete.view.value, *found.camera.words, "--ask-cautions"]
        self._hold(words, self._on_baseline)

    def _on_baseline(self, outcome: Outcome) -> None:
        if outcome.ok:
            self.shell.note(_("The baseline is kept."))

    def _prescribe(self) -> None:
        profile = self._context.profile
        if profile is None:
            return
        words = ["prescribe", "--athlete", str(profile), *self.proposal.words()]
        self._begin(_("Signing the targets."))
        self.shell.jobs.run(words, partial(self._ended, self._on_prescribed))

    def _on_prescribed(self, outcome: Outcome) -> None:
        if outcome.ok:
            self.shell.note(_("The targets are signed and kept."))

    def _run_session(self) -> None:
        found = self.found
        if found is None or found.way.next.prescription is None:
            return
        if found.camera is None:
            self._open_camera()
            return
        words = ["session", str(found.way.next.prescription), *found.camera.words]
        words += ["--on-screen", "--ask-cautions"]
        if self.trial.isChecked():
            words += ["--shorten", _SHORTEN]
        self._hold(words, self._on_session)

    def _on_session(self, outcome: Outcome) -> None:
        self.reports = reports_in(outcome.lines)
        if self.reports:
            self._asked = Stage.REPORT

    def _hold(self, words: list[str], done: Callable[[Outcome], None]) -> None:
        """Somebody runs meanwhile."""
        if self.panel.isChecked():
            words.append("--panel")
        words += self.shell.preferences.sensor_words
        self.progress.show()
        self._begin(_("The runner's screen is open. It says what to do, and ends automatically."))
        self.shell.jobs.run(
            words, partial(self._ended, done), on_line=self.progress.setText, holds=True
        )
        self._on_proposal()

    def _begin(self, text: str) -> None:
        self.shell.note("")
        self.shell.busy(text)
        self.progress.setText("")
        for part in (*self.stages.values(), self.go_on, self.other, self.stop):
            part.setEnabled(False)

    def _ended(self, done: Callable[[Outcome], None], outcome: Outcome) -> None:
        self.shell.busy("")
        self.progress.hide()
        self._asked = None
        for part in (self.other, self.stop):
            part.setEnabled(True)
        done(outcome)
        if not outcome.ok and not outcome.cancelled:
            self.shell.tell(outcome.what, outcome.then)
        self._read()

    def _stop_here(self) -> None:
        self.shell.back()
        self.shell.note(_("All that is done is kept. Go on whenever you like."))

    def _show_folder(self) -> None:
        if self.reports:
            QDesktopServices.openUrl(QUrl.fromLocalFile(str(self.reports[0].parent)))

    def _lay_out(self) -> None:
        side = QWidget()
        side.setFixedWidth(_STAGES_PX)
        steps = QVBoxLayout(side)
        steps.setContentsMargins(0, 0, 0, 0)
        steps.setSpacing(8)
        for stage in Stage:
            made = button(stage_title(stage), partial(self._choose_stage, stage))
            made.setCheckable(True)
            made.setStyleSheet("text-align: left;")
            self.stages[stage] = made
            steps.addWidget(made)
        steps.addStretch(1)
        main = group(
            self.why,
            self.proposal,
            self.camera,
            self.panel,
            self.sensors,
            self.trial,
            self.progress,
            row(self.go_on, self.folder, self.other, self.stop),
        )
        main.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Maximum)
        right = QVBoxLayout()
        right.addWidget(main)
        right.addStretch(1)
        line = self._line = QHBoxLayout(self)
        line.setContentsMargins(0, 0, 0, 0)
        line.setSpacing(20)
        line.addWidget(side)
        line.addLayout(right, 1)

    def resizeEvent(self, event: QResizeEvent | None) -> None:  # noqa: N802 - Qt's name
        """What is next stays whole where there is less room."""
        super().resizeEvent(event)
        narrow = self.width() < _NARROW_PX
        way = QBoxLayout.Direction.BottomToTop if narrow else QBoxLayout.Direction.LeftToRight
        if self._line.direction() is not way:
            self._line.setDirection(way)


def reports_in(lines: tuple[str, ...]) -> tuple[Path, ...]:
    """The reports that a command says it has written: the page to look at first."""
    found = [Path(rest) for line in lines if (rest := line.partition(": ")[2])]
    pages = [path for path in found if path.suffix in (".html", ".pdf") and path.is_file()]
    return tuple(sorted(pages, key=lambda path: path.suffix != ".html"))
