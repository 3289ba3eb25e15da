"""A page to print, as its parts; written out as HTML or PDF elsewhere."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from feedback.records.page.changes import ChangePicture
from feedback.records.page.charts import Chart
from shared.plain_text import plain_line

_LONGEST_LINE: Final = 2000
"""Letters of one line of a page."""


@dataclass(frozen=True)
class TextLines:
    """Short sentences, one below the other."""

    heading: str
    lines: tuple[str, ...]

    def __post_init__(self) -> None:
        _make_plain(self, lines=_all_plain(self.lines))


@dataclass(frozen=True)
class Figures:
    """A table; the first column is text, the others are figures."""

    heading: str
    columns: tuple[str, ...]
    rows: Sequence[tuple[str, ...]]
    note: str = ""

    def __post_init__(self) -> None:
        _make_plain(self, rows=[_all_plain(row) for row in self.rows])


@dataclass(frozen=True)
class ChartPart:
    """A chart, or another picture."""

    chart: Chart | ChangePicture


@dataclass(frozen=True)
class PrintedPage:
    """Title, one line below it, parts in order, and small print."""

    title: str
    subtitle: str
    parts: tuple[TextLines | Figures | ChartPart, ...]
    small_print: tuple[str, ...]

    def __post_init__(self) -> None:
        title, subtitle = _all_plain((self.title, self.subtitle))
        _make_plain(self, title=title, subtitle=subtitle)


def texts_of(page: PrintedPage) -> Iterator[str]:
    """Every text on it but those of the pictures."""
    yield from (page.title, page.subtitle, *page.small_print)
    for part in page.parts:
        match part:
            case TextLines(heading=heading, lines=lines):
                yield from (heading, *lines)
            case Figures(heading=heading, columns=columns, rows=rows, note=note):
                yield from (heading, *columns, note)
                for row in rows:
                    yield from row


def _all_plain(texts: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(plain_line(text, _LONGEST_LINE) for text in texts)


def _make_plain(part: TextLines | Figures | PrintedPage, **texts: object) -> None:
    """Whatever a record holds, a page gets plain text: names and notes come from many hands."""
    for field, text in texts.items():
        object.__setattr__(part, field, text)
