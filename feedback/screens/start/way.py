"""What is done, what is next and why, on one runner's way from camera to report (pure).

Nothing of this is kept: it is worked out anew each time from the files that are there, so that
whoever stops here goes on tomorrow at the same place.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from feedback.athlete_files.next_step import NextKind, NextStep
from feedback.texts.training import reasons_in_words
from shared.language import _


class Stage(StrEnum):
    """The steps, in their order."""

    CAMERA = "camera"
    BASELINE = "baseline"
    TARGETS = "targets"
    SESSION = "session"
    REPORT = "report"


class Standing(StrEnum):
    """How a step stands."""

    DONE = "done"
    NOW = "now"
    LATER = "later"


@dataclass(frozen=True, slots=True)
class Way:
    """Where one runner is."""

    now: Stage
    next: NextStep
    camera_known: bool
    camera_checked: bool
    sessions: int
    """Recorded ones that count, of this prescription."""

    def standing(self, stage: Stage) -> Standing:
        """How a step stands. A camera whose place is not known holds no session."""
        if stage is self.now:
            return Standing.NOW
        if stage is Stage.CAMERA:
            return Standing.DONE
        order = list(Stage)
        reached = {
            NextKind.BASELINE: Stage.BASELINE,
            NextKind.PRESCRIBE: Stage.TARGETS,
            NextKind.FINISHED: Stage.REPORT,
        }.get(self.next.kind, Stage.SESSION)
        if stage is Stage.REPORT:
            return Standing.DONE if self.sessions else Standing.LATER
        return Standing.DONE if order.index(stage) < order.index(reached) else Standing.LATER

    @property
    def has_plan(self) -> bool:
        """Whether there is a prescription that is run session by session."""
        return self.next.prescription is not None

    def heading(self) -> str:
        """What is to be done now."""
        match self.now:
            case Stage.CAMERA:
                return _("Set up the camera")
            case Stage.BASELINE:
                return _("Take the baseline")
            case Stage.TARGETS:
                return _("Choose a drill and its targets")
            case Stage.REPORT:
                return _("The plan is complete")
            case Stage.SESSION:
                return _("Today: {step}").format(step=self.next.words())

    def why(self) -> str:
        """Why that is next."""
        match self.now:
            case Stage.CAMERA if self.camera_known:
                return _("This camera has not passed its check in this place.")
            case Stage.CAMERA:
                return _("Nothing can be measured before a camera sees the whole runner.")
            case Stage.BASELINE:
                return _(
                    "Targets are set from the runner's own values. The runner runs normally for "
                    "about a minute, without cues."
                )
            case Stage.TARGETS:
                return _("There is a baseline. Targets are worked out from it, within the limits.")
            case Stage.REPORT:
                return _("Every session of the plan was held.")
            case Stage.SESSION:
                return self._why_session()

    def _why_session(self) -> str:
        if self.next.reasons:
            reasons = reasons_in_words(self.next.reasons)
            return _("The plan does not go on: {reasons}.").format(reasons=reasons)
        if not self.sessions:
            return _("It is the first session with these targets.")
        return _("The session before went as planned, so this one is next.")


def way_of(step: NextStep, *, camera_known: bool, camera_checked: bool, sessions: int) -> Way:
    """Where a runner is: the next step by the files, with the camera before all that needs it."""
    by_files = {
        NextKind.BASELINE: Stage.BASELINE,
        NextKind.PRESCRIBE: Stage.TARGETS,
        NextKind.FINISHED: Stage.REPORT,
    }.get(step.kind, Stage.SESSION)
    needs_camera = by_files in (Stage.BASELINE, Stage.SESSION)
    # A check is asked for before a first session only: a plan is one button from then on.
    ready = camera_known and (camera_checked or step.kind is NextKind.REPEAT or sessions > 0)
    now = Stage.CAMERA if needs_camera and not ready else by_files
    return Way(now, step, camera_known, camera_checked, sessions)


def stage_title(stage: Stage) -> str:
    """A step's name in the list of steps."""
    match stage:
        case Stage.CAMERA:
            return _("Camera check")
        case Stage.BASELINE:
            return _("Baseline")
        case Stage.TARGETS:
            return _("Drill and targets")
        case Stage.SESSION:
            return _("Session")
        case Stage.REPORT:
            return _("Report")


def standing_title(standing: Standing) -> str:
    """How a step stands, in a word."""
    match standing:
        case Standing.DONE:
            return _("done")
        case Standing.NOW:
            return _("now")
        case Standing.LATER:
            return _("later")
