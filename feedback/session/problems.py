"""The problems that stand now, and the journal's entries for those that come and go (pure)."""

from __future__ import annotations

from feedback.journal.entries import Entry, ProblemEntry
from shared.flow import View
from shared.problems import Problem, describe


class StandingProblems:
    """Holds what is shown; the gravest first, as it was given."""

    def __init__(self, view: View) -> None:
        self._view = view
        self._shown: dict[str, Problem] = {}

    @property
    def shown(self) -> tuple[Problem, ...]:
        """The problems that stand now."""
        return tuple(self._shown.values())

    def put(
        self, problems: tuple[Problem, ...], codes: tuple[str, ...], fps: float, now_ns: int
    ) -> list[Entry]:
        """Show these ``problems`` and those of these ``codes``, and no others."""
        found = {problem.code: problem for problem in problems}
        for code in codes:
            if code not in found:
                found[code] = describe(code, view=self._view.spoken, fps=round(fps), seconds=1)
        came = [code for code in found if code not in self._shown]
        went = [code for code in self._shown if code not in found]
        entries: list[Entry] = [
            ProblemEntry(at_ns=now_ns, problem=self._shown[code], over=True) for code in went
        ]
        entries += [ProblemEntry(at_ns=now_ns, problem=found[code], over=False) for code in came]
        self._shown = found
        return entries
