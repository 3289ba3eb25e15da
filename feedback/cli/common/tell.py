"""What the terminal is told while a session runs, and at its end."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
from rich.table import Table

from feedback.athlete_files.signatures import short
from feedback.cueing.cue_table import CUES
from feedback.journal.entries import CueEntry, Entry, MeasureEntry, ProblemEntry, StateEntry
from feedback.station.setup import SessionOutcome
from feedback.terminal.guard import OK, PROBLEM, SIGNAL_BASE, say, tell
from feedback.terminal.tables import PlainConsole
from feedback.texts.measures import full_title
from feedback.texts.numbers import general
from feedback.texts.runner import words
from shared.catalogue import CADENCE, CATALOGUE
from shared.flow import Cue, Measure
from shared.language import _
from shared.messages import SessionState, StopReason
from shared.problems import Problem, describe
from shared.targets import Prescription, Voucher
from shared.units import NS_PER_MS, NS_PER_S


def note(problem: Problem) -> None:
    """Say, as part of the account, that something is missing that can be done without."""
    say(_("Note: {title} {meaning}").format(title=problem.title, meaning=problem.meaning))


def voucher_lines(voucher: Voucher, prescription: Prescription) -> tuple[str, ...]:
    """Who stands behind a prescription, for the terminal."""
    groups = short(prescription.signed_by)
    match voucher:
        case Voucher.UNSIGNED:
            return (
                _(
                    "NOT SIGNED, but accepted: there is no proof of who set its speeds, limits\n"
                    "and cautions. The program's own upper limits still apply."
                ),
            )
        case Voucher.FIRST:
            return (
                _("Signed with the key {groups}, the first one used on this computer.").format(
                    groups=groups
                ),
                _(
                    "Your clinic's 'beltside clinics' shows its own four groups: check that they "
                    "match."
                ),
                _("After the first run, only prescriptions signed with this key run here."),
            )
        case Voucher.OWN:
            return (_("Signed by this station: {groups}.").format(groups=groups),)
        case Voucher.KNOWN:
            return (_("Signed with a known key: {groups}.").format(groups=groups),)


def tell_unmeasured(problems: Sequence[Problem]) -> None:
    """Say, as part of the account, why nothing was measured and what to do about it."""
    say(_("Nothing was measured."))
    for problem in problems:
        say(f"{problem.title} {problem.meaning}\n  {problem.action}")


class LineByLine:
    """Prints every measure, cue and problem as it comes; seconds count from the start."""

    def __init__(self) -> None:
        self._zero_ns: int | None = None

    def __call__(self, entry: Entry) -> None:
        """Print one entry, if it is for people."""
        if isinstance(entry, StateEntry) and entry.state is SessionState.RUNNING:
            self._zero_ns = entry.at_ns
        match entry:
            case MeasureEntry(measure=measure):
                self.line(measure.at_ns, "", _measure_words(measure))
            case CueEntry(cue=cue):
                self.line(cue.decided_ns, "CUE", _cue_words(cue))
            case ProblemEntry(at_ns=at_ns, problem=problem, over=over):
                text = f"{problem.title} {problem.meaning} {problem.action}"
                text = problem.title if over else text
                self.line(at_ns, "OVER" if over else "NOTE", text)

    def line(self, at_ns: int, mark: str, text: str) -> None:
        """Print one line with its time and a mark."""
        zero_ns = at_ns if self._zero_ns is None else self._zero_ns
        say(f"{(at_ns - zero_ns) / NS_PER_S:8.2f} s  {mark:6} {text}")


def band_words(low: float | None, high: float | None) -> str:
    """A band in words, without its unit."""
    least = "" if low is None else general(low)
    most = "" if high is None else general(high)
    if low is None:
        return _("up to {high}").format(high=most)
    if high is None:
        return _("at least {low}").format(low=least)
    return _("{low} to {high}").format(low=least, high=most)


def plain(value: float, decimals: int) -> str:
    """A rounded number, never "-0.0"."""
    return f"{round(value, decimals) + 0.0:.{decimals}f}"


def _measure_words(measure: Measure) -> str:
    spec = CATALOGUE[measure.name]
    title = full_title(measure.name, measure.side)
    value = plain(measure.value, spec.decimals)
    return f"{title:40} {value:>7} {measure.unit} (+/- {plain(measure.uncertainty, spec.decimals)})"


def _cue_words(cue: Cue) -> str:
    where = "" if cue.measure is None else f": {full_title(cue.measure, cue.side)}"
    line = f' - "{words(cue.words)}"' if cue.words else ""
    return f"{_(CUES[cue.kind].title)}{where}{line}"


def tell_outcome(outcome: SessionOutcome, record: Path | None) -> int:
    """Print the summary of a session; problems go to stderr. Returns the exit code."""
    console = PlainConsole()
    tally = outcome.tally
    console.print(f"\n{words(f'reason_{outcome.reason.value}')}")
    cadence = next((m for m in tally.measures if m.name == CADENCE), None)
    if cadence is not None:
        console.print(
            _("Mean cadence {value:.1f} {unit} over {steps} values.").format(
                value=cadence.value, unit=cadence.unit, steps=cadence.steps
            )
        )
    if tally.measures:
        console.print(_table(tally.measures))
    elif tally.unmeasured:
        tell_unmeasured(tally.unmeasured)
    else:
        console.print(_("No values were good enough to count."))
    counts = ", ".join(f"{count} {_(CUES[kind].title)}" for kind, count in tally.cues.items())
    console.print(_("Cues: {value}.").format(value=counts or "none"))
    if tally.decisions_ns:
        median, late = percentiles_ms(tally.decisions_ns)
        console.print(
            _(
                "Frame arrival to decision: median {median:.1f} ms, 99 % within {late:.1f} ms."
            ).format(median=median, late=late)
        )
    console.print(
        _("{frames} frames measured, {dropped} dropped.").format(
            frames=tally.frames, dropped=outcome.dropped
        )
    )
    if record is not None and outcome.saved:
        console.print(_("Saved as"), str(record), soft_wrap=True)
    return _exit_code(outcome)


def _exit_code(outcome: SessionOutcome) -> int:
    if outcome.problem is not None:
        tell(outcome.problem)
        return PROBLEM
    if outcome.reason is StopReason.SCREEN_LOST:
        tell(describe("screen_lost"))
        return PROBLEM
    if outcome.save_problem is not None:
        tell(outcome.save_problem)
        return PROBLEM
    return OK if outcome.signal_number is None else SIGNAL_BASE + outcome.signal_number


def percentiles_ms(spans_ns: Sequence[int]) -> tuple[float, float]:
    """Median and 99th percentile, in ms, of one or more spans in ns."""
    median, late = np.percentile(np.asarray(spans_ns), [50, 99]) / NS_PER_MS
    return float(median), float(late)


def _table(measures: tuple[Measure, ...]) -> Table:
    table = Table(title=_("Means over the session"))
    for heading, justify in (("measure", "left"), ("side", "left"), ("mean", "right")):
        table.add_column(heading, justify=justify)  # type: ignore[arg-type]
    table.add_column("unit")
    table.add_column("values", justify="right")
    for measure in measures:
        spec = CATALOGUE[measure.name]
        table.add_row(
            full_title(measure.name),
            measure.side or "",
            plain(measure.value, spec.decimals),
            measure.unit,
            str(measure.steps),
        )
    return table
