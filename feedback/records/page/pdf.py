"""Writes a page as PDF: A4, shrunk until it fits on one sheet."""

from __future__ import annotations

import io
from html import escape
from typing import Any, Final

from reportlab.graphics import renderPDF
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


class _Picture(Flowable):  # type: ignore[misc]
    """A drawing as wide as the text, also where the whole page is shrunk to fit."""

    def __init__(self, drawing: Drawing) -> None:
        super().__init__()
        self._drawing = drawing

    def wrap(self, width: float, _height: float) -> tuple[float, float]:
        """Take all the width there is."""
        self._scale = width / self._drawing.width
        return width, self._drawing.height * self._scale

    def draw(self) -> None:
        """Onto the canvas, at this flowable's own origin."""
        self.canv.scale(self._scale, self._scale)
        renderPDF.draw(self._drawing, self.canv, 0, 0)


def _flow(part: TextLines | Figures | ChartPart, width: float) -> list[Flowable]:
    match part:
        case TextLines(heading=heading, lines=lines):
            room = width - TEXT.leftIndent
            items = [Paragraph(_written(line, TEXT, room), TEXT, bulletText="•") for line in lines]
            return [Paragraph(_written(heading, HEADING, width), HEADING), *items]
        case Figures():
            return _table(part, width)
        case ChartPart(chart=chart):
            return [Spacer(1, 4), _Picture(chart.drawing())]


def _table(part: Figures, width: float) -> list[Flowable]:
    first = width * 0.37
    others = (width - first) / (len(part.columns) - 1)
    rows = [
        [
            _cell(cell, first if n == 0 else others, head=not number, text_column=n == 0)
            for n, cell in enumerate(row)
        ]
        for number, row in enumerate((part.columns, *part.rows))
    ]
    # In shares of the width that there is, also where the whole page is shrunk to fit.
    shares = [f"{100 * one / width}%" for one in (first, *[others] * (len(part.columns) - 1))]
    table = Table(rows, colWidths=shares, hAlign="LEFT")
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
    note = [Paragraph(_written(part.note, SMALL, width), SMALL)] if part.note else []
    return [Paragraph(_written(part.heading, HEADING, width), HEADING), table, *note]


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
