"""A page to print, as its parts; written out as HTML or PDF elsewhere."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from feedback.records.charts import Chart


@dataclass(frozen=True)
class Lines:
    """Short sentences, one below the other."""

    heading: str
    lines: tuple[str, ...]


@dataclass(frozen=True)
class Figures:
    """A table; the first column is text, the others are figures."""

    heading: str
    columns: tuple[str, ...]
    rows: Sequence[tuple[str, ...]]
    note: str = ""


@dataclass(frozen=True)
class Picture:
    """A chart."""

    chart: Chart


@dataclass(frozen=True)
class Page:
    """Title, one line below it, parts in order, and small print."""

    title: str
    subtitle: str
    parts: tuple[Lines | Figures | Picture, ...]
    small_print: tuple[str, ...]
