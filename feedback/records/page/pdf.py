"""Writes a page as PDF: A4, shrunk until it fits on one sheet."""

from __future__ import annotations

import io
from collections.abc import Callable
from functools import partial
from html import escape
from typing import Any, Final

from reportlab.graphics.shapes import Drawing
from reportlab.lib.colors import Color, black
from reportlab.lib.enums import TA_RIGHT
from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, KeepInFrame, Paragraph, Spacer, Table, TableStyle

from feedback.records.page import fonts
from feedback.records.page.page import ChartPart, Figures, PrintedPage, TextLines, texts_of
from shared.language import _

MARGIN: Final = 14 * mm
RULE: Final = Color(0.7, 0.7, 0.7)


def _style(size: float, **more: Any) -> ParagraphStyle:
    settings = {"fontName": fonts.PLAIN, "fontSize": size, "leading": size * 1.28, **more}
    return ParagraphStyle(f"size {size}", **settings)


TITLE = _style(17.0, fontName=fonts.BOLD)
SUBTITLE = _style(9.0, spaceAfter=2)
HEADING = _style(11.0, fontName=fonts.BOLD, spaceBefore=6, spaceAfter=1)
TEXT = _style(9.5, leftIndent=9, bulletIndent=0)
CELL = _style(8.5)
HEAD = _style(8.5, fontName=fonts.BOLD)
NUMBER = _style(8.5, alignment=TA_RIGHT)
NUMBER_HEAD = _style(8.5, fontName=fonts.BOLD, alignment=TA_RIGHT)
SMALL = _style(7.5)


def as_pdf(page: PrintedPage) -> bytes:
    """The whole file."""
    width, height = A4[0] - 2 * MARGIN, A4[1] - 2 * MARGIN
    story: list[Flowable] = [Paragraph(_written(page.title, TITLE, width), TITLE)]
    story.append(Paragraph(_written(page.subtitle, SUBTITLE, width), SUBTITLE))
    for part in page.parts:
        story += _flow(part, width)
    story.append(Spacer(1, 4))
    small = page.small_print
    if not all(fonts.can_draw(text) for text in texts_of(page)):
        small += (
            _(
                "This computer has no font for some letters of this page (shown as ?). The page in "
                "HTML has them. On Debian: apt install fonts-dejavu-core fonts-wqy-microhei."
            ),
        )
    story += [Paragraph(_written(line, SMALL, width), SMALL) for line in small]
    content = io.BytesIO()
    canvas = Canvas(content, pagesize=A4)
    canvas.setTitle(page.title)
    canvas.setAuthor("Beltside")
    frame = KeepInFrame(width, height, story, mode="shrink", vAlign="TOP")
    _width, used = frame.wrapOn(canvas, width, height)
    frame.drawOn(canvas, MARGIN, A4[1] - MARGIN - used)
    canvas.save()
    return content.getvalue()


class _FullWidth(Flowable):  # type: ignore[misc]
    """What is laid out to all the width there is, also where the whole page is shrunk to fit."""

    def __init__(self, make: Callable[[float], Flowable]) -> None:
        super().__init__()
        self._make = make
        self._made: Flowable = Spacer(0, 0)

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        """Take all of it, in points."""
        self._made = self._make(width)
        return width, self._made.wrap(width, height)[1]

    def draw(self) -> None:
        """Onto the canvas, at this flowable's own origin."""
        self._made.drawOn(self.canv, 0, 0)


def _flow(part: TextLines | Figures | ChartPart, width: float) -> list[Flowable]:
    match part:
        case TextLines(heading=heading, lines=lines):
            room = width - TEXT.leftIndent
            items = [Paragraph(_written(line, TEXT, room), TEXT, bulletText="•") for line in lines]
            return [Paragraph(_written(heading, HEADING, width), HEADING), *items]
        case Figures():
            return _table(part, width)
        case ChartPart(chart=chart):
            return [Spacer(1, 4), _FullWidth(partial(_scaled, chart.drawing()))]


def _scaled(drawing: Drawing, width: float) -> Drawing:
    scaled = drawing.copy()
    scale = width / drawing.width
    scaled.scale(scale, scale)
    scaled.width, scaled.height = width, drawing.height * scale
    return scaled


def _table(part: Figures, width: float) -> list[Flowable]:
    note = [Paragraph(_written(part.note, SMALL, width), SMALL)] if part.note else []
    return [
        Paragraph(_written(part.heading, HEADING, width), HEADING),
        _FullWidth(partial(_rows, part)),
        *note,
    ]


def _rows(part: Figures, width: float) -> Table:
    first = width * 0.37
    others = (width - first) / (len(part.columns) - 1)
    widths = [first] + [others] * (len(part.columns) - 1)
    rows = [
        [
            _cell(cell, room, head=not number, text_column=not column)
            for column, (cell, room) in enumerate(zip(row, widths, strict=True))
        ]
        for number, row in enumerate((part.columns, *part.rows))
    ]
    table = Table(rows, colWidths=widths, hAlign="LEFT")
    table.setStyle(
        TableStyle(
            [
                ("LINEBELOW", (0, 0), (-1, 0), 0.9, black),
                ("LINEBELOW", (0, 1), (-1, -1), 0.3, RULE),
                ("TOPPADDING", (0, 0), (-1, -1), 1),
                ("BOTTOMPADDING", (0, 0), (-1, -1), 1.5),
                ("LEFTPADDING", (0, 0), (-1, -1), 2),
                ("RIGHTPADDING", (0, 0), (-1, -1), 2),
                ("VALIGN", (0, 0), (-1, -1), "BOTTOM"),
            ]
        )
    )
    return table


def _cell(text: str, width: float, *, head: bool, text_column: bool) -> Paragraph:
    style = (HEAD if text_column else NUMBER_HEAD) if head else (CELL if text_column else NUMBER)
    return Paragraph(_written(text, style, width - 4), style)


def _written(text: str, style: ParagraphStyle, width: float) -> str:
    """Text as a paragraph takes it, each letter in a font that has it.

    What is not Western is broken into lines here: lines come before the order of letters (UAX #9).
    """
    if fonts.is_western(text):
        return escape(text)
    lines = fonts.lines_of(text, style.fontName, style.fontSize, width - 1)
    return "<br/>".join(
        "".join(
            f'<font name="{run.font}">{escape(run.text)}</font>'
            for run in fonts.runs(line, style.fontName)
        )
        for line in lines
    )
