"""From a report of the checks to what the camera check shows, without any drawing (pure)."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from feedback.link.client_state import LinkState, LinkStatus
from feedback.texts.camera_check import TEXTS, tell
from shared.flow import View
from shared.pictures import Check, CheckReport, CheckState

HELD_NS: Final = 1_500_000_000
"""All must have passed for so long before it counts."""
EDGES: Final = "belt_edges"
"""Set at the computer, so they may be missing while the runner stands on the belt."""
BREAKERS: Final = frozenset({"camera", "still"})
"""Whoever walks to the computer leaves the place that was checked; only a camera that was moved,
or gives no picture, makes the check void."""


class Going(StrEnum):
    """Whether one can go on."""

    NO = "no"
    """Not joined yet, or gone."""
    ON_PURPOSE = "on_purpose"
    """Some checks are not good: only after a second key."""
    FREELY = "freely"


@dataclass(frozen=True, slots=True)
class CheckRow:
    """One line of the list."""

    key: str
    title: str
    standing: CheckState
    advice: str
    value: str

    @property
    def spoken(self) -> str:
        """For a screen reader."""
        parts = (self.title, tell(f"standing_{self.standing}"), self.advice or self.value)
        return ": ".join(part for part in parts if part)


@dataclass(frozen=True, slots=True)
class CheckShowing:
    """One picture of the screen, in words."""

    heading: str
    text: str
    rows: tuple[CheckRow, ...] = ()
    going: Going = Going.NO
    standing: CheckState = CheckState.UNKNOWN
    """Of the whole."""
    roll_deg: float | None = None
    open_count: int = 0
    """Checks that have not passed."""


class Memory:
    """Remembers that all was well, while the runner walks from the belt to the computer."""

    def __init__(self) -> None:
        self._good_since_ns: int | None = None
        self._was_good = False

    @property
    def was_good(self) -> bool:
        """Camera and runner were well placed, and the camera has not been moved since."""
        return self._was_good

    def show(self, status: LinkStatus) -> CheckShowing:
        """What to show now."""
        report = status.report
        if status.state not in (LinkState.JOINED, LinkState.CONNECTING):
            return CheckShowing(tell("gone"), tell("gone_more"))
        if report is None:
            return CheckShowing(tell("joining"), tell("joining_more"))
        self._remember(report)
        return self._showing(report)

    def _remember(self, report: CheckReport) -> None:
        failed = {check.key for check in report.checks if check.standing is CheckState.TO_DO}
        if failed & BREAKERS:
            self._was_good = False
        if not all(_passes(check) for check in report.checks if check.key != EDGES):
            self._good_since_ns = None
        elif self._good_since_ns is None:
            self._good_since_ns = report.at_ns
        elif report.at_ns - self._good_since_ns >= HELD_NS:
            self._was_good = True

    def _showing(self, report: CheckReport) -> CheckShowing:
        rows = tuple(_row(check, report.view) for check in report.checks)
        edges_missing = any(c.key == EDGES and not _passes(c) for c in report.checks)
        level = next((check for check in report.checks if check.key == "level"), None)
        standing, heading, text = self._what_now(report, edges_missing=edges_missing)
        return CheckShowing(
            heading=heading,
            text=text,
            rows=rows,
            going=Going.FREELY if self._was_good and not edges_missing else Going.ON_PURPOSE,
            standing=standing,
            roll_deg=None if level is None else level.value,
            open_count=sum(not _passes(check) for check in report.checks),
        )

    def _what_now(self, report: CheckReport, *, edges_missing: bool) -> tuple[CheckState, str, str]:
        """How it stands, heading and text: what to do first, or that all is well."""
        if self._was_good:
            on_belt = self._good_since_ns is not None
            if edges_missing:
                text = tell("good_lines" if on_belt else "draw_edges")
            else:
                text = tell("good_more" if on_belt else "was_good_more")
            return CheckState.PASS, tell("good"), text
        to_do = [check for check in report.checks if check.standing is CheckState.TO_DO]
        first = next((check for check in to_do if check.key != EDGES), None)
        if first is None:
            return CheckState.UNKNOWN, tell("wait"), tell("wait_more")
        return CheckState.TO_DO, tell("next"), tell(first.advice)


def _passes(check: Check) -> bool:
    """Nothing is to be done; what only the eye can tell stands in nobody's way."""
    by_eye = check.standing is CheckState.UNKNOWN and check.advice != ""
    return check.standing is CheckState.PASS or by_eye


def _row(check: Check, view: View) -> CheckRow:
    key = f"check_{check.key}"
    if key not in TEXTS:
        across = "side" if view is View.SIDE else "across"
        key = f"{key}_{view}" if f"{key}_{view}" in TEXTS else f"{key}_{across}"
    value = ""
    if check.value is not None:
        shown = f"{check.value:+.0f}" if check.unit == "deg" else f"{check.value:.0f}"
        value = tell(f"value_{check.unit}", value="0" if shown in ("+0", "-0") else shown)
    advice = tell(check.advice) if check.advice else ""
    return CheckRow(check.key, tell(key), check.standing, advice, value)
