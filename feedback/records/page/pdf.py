"""Writes a page as PDF: A4, shrunk until it fits on one sheet."""

from __future__ import annotations

import io
from html import escape
from typing import Any, Final

from reportlab.lib.colors import Color, black
from reportlab.lib.enums import TA_RIGHT
from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, KeepInFrame, Paragraph, Spacer, Table, TableStyle

from feedback.records.page.page import ChartPart, Figures, PrintedPage, TextLines

MARGIN: Final = 14 * mm
RULE: Final = Color(0.7, 0.7, 0.7)


def _style(size: float, **more: Any) -> ParagraphStyle:
    settings = {"fontName": "Helvetica", "fontSize": size, "leading": size * 1.28, **more}
    return ParagraphStyle(f"size {size}", **settings)


TITLE = _style(17.0, fontName="Helvetica-Bold")
SUBTITLE = _style(9.0, spaceAfter=2)
HEADING = _style(11.0, fontName="Helvetica-Bold", spaceBefore=6, spaceAfter=1)
TEXT = _style(9.5, leftIndent=9, bulletIndent=0)
CELL = _style(8.5)
NUMBER = _style(8.5, alignment=TA_RIGHT)
SMALL = _style(7.5)


def as_pdf(page: PrintedPage) -> bytes:
    """The whole file."""
    width, height = A4[0] - 2 * MARGIN, A4[1] - 2 * MARGIN
    story: list[Flowable] = [Paragraph(_latin(page.title), TITLE)]
    story.append(Paragraph(_latin(page.subtitle), SUBTITLE))
    for part in page.parts:
        story += _flow(part, width)
    story.append(Spacer(1, 4))
    story += [Paragraph(_latin(line), SMALL) for line in page.small_print]
    content = io.BytesIO()
    canvas = Canvas(content, pagesize=A4)
    canvas.setTitle(page.title)
    canvas.setAuthor("Beltside")
    frame = KeepInFrame(width, height, story, mode="shrink", vAlign="TOP")
    _, used = frame.wrapOn(canvas, width, height)
    frame.drawOn(canvas, MARGIN, A4[1] - MARGIN - used)
    canvas.save()
    return content.getvalue()


def _flow(part: TextLines | Figures | ChartPart, width: float) -> list[Flowable]:
    match part:
        case TextLines(heading=heading, lines=lines):
            items = [Paragraph(_latin(line), TEXT, bulletText="•") for line in lines]
            return [Paragraph(_latin(heading), HEADING), *items]
        case Figures():
            return _table(part, width)
        case ChartPart(chart=chart):
            drawing = chart.drawing()
            scale = width / drawing.width
            drawing.scale(scale, scale)
            drawing.width, drawing.height = width, drawing.height * scale
            return [Spacer(1, 4), drawing]


def _table(part: Figures, width: float) -> list[Flowable]:
    head = [Paragraph(f"<b>{_latin(name)}</b>", NUMBER) for name in part.columns]
    head[0] = Paragraph(f"<b>{_latin(part.columns[0])}</b>", CELL)
    rows = [
        [Paragraph(_latin(cell), NUMBER if n else CELL) for n, cell in enumerate(row)]
        for row in part.rows
    ]
    first = width * 0.37
    others = (width - first) / (len(part.columns) - 1)
    table = Table(
        [head, *rows], colWidths=[first] + [others] * (len(part.columns) - 1), hAlign="LEFT"
    )
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
    note = [Paragraph(_latin(part.note), SMALL)] if part.note else []
    return [Paragraph(_latin(part.heading), HEADING), table, *note]


def _latin(text: str) -> str:
    """The built-in fonts know Western European letters only."""
    return escape(text.encode("cp1252", "replace").decode("cp1252"))
