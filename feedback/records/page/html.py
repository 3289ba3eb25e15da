"""Writes a page as one HTML file that needs nothing else."""

from __future__ import annotations

import html
from typing import Final

from feedback.records.page.charts import as_svg
from feedback.records.page.fonts import read_from_the_right
from feedback.records.page.page import ChartPart, Figures, PrintedPage, TextLines
from shared.language import language

_STYLE: Final = """\
@page { size: A4; margin: 14mm }
body { font: 10.5pt/1.35 Helvetica, Arial, sans-serif; color: #000; background: #fff;
  max-width: 182mm; margin: 8mm auto; padding: 0 4mm }
h1 { font-size: 17pt; margin: 0 } h2 { font-size: 11.5pt; margin: 5mm 0 1mm }
p { margin: 1mm 0 } ul { margin: 1mm 0; padding-left: 5mm }
.sub, .note, footer { color: #333; font-size: 9pt }
figure { margin: 3mm 0; break-inside: avoid } svg { width: 100%; height: auto }
table { border-collapse: collapse; width: 100%; font-size: 9.5pt; break-inside: avoid }
th, td { text-align: right; padding: .6mm 1.5mm; border-bottom: .2mm solid #bbb }
th:first-child, td:first-child { text-align: left }
th { border-bottom: .35mm solid #000; font-weight: bold; vertical-align: bottom }
footer { margin-top: 4mm; border-top: .2mm solid #000; padding-top: 1mm }
@media print { body { margin: 0; padding: 0; max-width: none } }
"""


def escape(text: str) -> str:
    """Text as HTML; words that are read from the right leave the order of ours alone (UAX #9)."""
    before, inner, after = (html.escape(one) for one in read_from_the_right(text))
    return f"{before}<bdi>{inner}</bdi>{after}" if inner else before


def as_html(page: PrintedPage) -> str:
    """The whole file."""
    parts = "\n".join(_part(part) for part in page.parts)
    small = "".join(f"<p>{escape(line)}</p>" for line in page.small_print)
    return (
        f'<!DOCTYPE html>\n<html lang="{language()}">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{html.escape(page.title)}</title>\n<style>\n{_STYLE}</style>\n</head>\n<body>\n"
        f'<h1>{escape(page.title)}</h1>\n<p class="sub">{escape(page.subtitle)}</p>\n'
        f"{parts}\n<footer>{small}</footer>\n</body>\n</html>\n"
    )


def _part(part: TextLines | Figures | ChartPart) -> str:
    match part:
        case TextLines(heading=heading, lines=lines):
            items = "".join(f"<li>{escape(line)}</li>" for line in lines)
            return f"<h2>{escape(heading)}</h2>\n<ul>{items}</ul>"
        case Figures():
            return _table(part)
        case ChartPart(chart=chart):
            name = html.escape(chart.alt, quote=True)
            svg = as_svg(chart.drawing()).replace("<svg", f'<svg role="img" aria-label="{name}"', 1)
            return f"<figure>{svg}</figure>"


def _table(part: Figures) -> str:
    head = "".join(f"<th>{escape(column)}</th>" for column in part.columns)
    rows = "\n".join(
        "<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in row) + "</tr>" for row in part.rows
    )
    note = f'<p class="note">{escape(part.note)}</p>' if part.note else ""
    return (
        f"<h2>{escape(part.heading)}</h2>\n<table><thead><tr>{head}</tr></thead>\n"
        f"<tbody>{rows}</tbody></table>{note}"
    )
