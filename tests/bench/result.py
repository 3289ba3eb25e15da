"""What a bench found: lines asked and found, all figures, and how busy the computer was."""

from __future__ import annotations

import os
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import ArrayLike
from rich.console import Console
from rich.table import Table

NS_PER_MS = 1e6


@dataclass(frozen=True)
class Line:
    """One claim: what was asked and what was found."""

    what: str
    found: str
    asked: str = ""
    """Empty where nothing was asked for: the figure is only told."""
    holds: bool | None = None
    """None where nothing was asked for."""


@dataclass(frozen=True)
class Result:
    """All that one bench has to tell."""

    bench: str
    lines: list[Line]
    figures: dict[str, Any] = field(default_factory=dict)
    """Everything behind the lines, for the JSON file."""
    load_before: float = 0.0
    """Load average of the last minute before the bench began: what others did."""
    load_after: float = 0.0
    """The same at its end, with the bench's own work in it."""

    def as_json(self) -> dict[str, Any]:
        lines = [
            {"what": one.what, "asked": one.asked, "found": one.found, "holds": one.holds}
            for one in self.lines
        ]
        return {
            "bench": self.bench,
            "load_before": self.load_before,
            "load_after": self.load_after,
            "lines": lines,
            "figures": self.figures,
        }


def load() -> float:
    """Load average of the last minute."""
    return round(os.getloadavg()[0], 2)


def at_most(what: str, found: float, asked: float, unit: str = "", digits: int = 2) -> Line:
    """A line that holds where ``found`` does not pass ``asked``."""
    return Line(
        what=what,
        found=f"{found:.{digits}f} {unit}".strip(),
        asked=f"<= {asked:g} {unit}".strip(),
        holds=bool(found <= asked),
    )


def at_least(what: str, found: float, asked: float, unit: str = "", digits: int = 1) -> Line:
    """A line that holds where ``found`` is not under ``asked``."""
    return Line(
        what=what,
        found=f"{found:.{digits}f} {unit}".strip(),
        asked=f">= {asked:g} {unit}".strip(),
        holds=bool(found >= asked),
    )


def spread_ms(spans_ns: ArrayLike) -> dict[str, float]:
    """Median, 99th percentile, largest and standard deviation, in ms, and how many there were."""
    spans = np.asarray(spans_ns, dtype=np.float64) / NS_PER_MS
    if spans.size == 0:
        nothing = float("nan")
        return {"p50": nothing, "p99": nothing, "max": nothing, "sd": nothing, "n": 0}
    p50, p99, largest = np.percentile(spans, [50, 99, 100])
    return {
        "p50": round(float(p50), 2),
        "p99": round(float(p99), 2),
        "max": round(float(largest), 2),
        "sd": round(float(spans.std()), 2),
        "n": int(spans.size),
    }


def told(spread: dict[str, float]) -> str:
    """A spread in words."""
    return (
        f"p50 {spread['p50']:.1f}, p99 {spread['p99']:.1f}, worst {spread['max']:.1f} ms "
        f"(n {spread['n']})"
    )


def print_table(results: list[Result]) -> None:
    """One table for all benches, for people."""
    table = Table(title="Beltside benches", title_justify="left")
    for heading in ("bench", "what", "asked", "found", "holds"):
        table.add_column(heading, overflow="fold")
    marks = {None: "", True: "yes", False: "NO"}
    for result in results:
        for number, line in enumerate(result.lines):
            name = result.bench if number == 0 else ""
            table.add_row(name, line.what, line.asked, line.found, marks[line.holds])
        loads = f"{result.load_before} before, {result.load_after} at the end"
        table.add_row("", "load average", "", loads, "", end_section=True)
    Console(width=None if os.isatty(1) else 120).print(table)
