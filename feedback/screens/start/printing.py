"""Prints a PDF on the system's printer, page by page."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from PyQt6.QtCore import QSize
from PyQt6.QtGui import QPainter
from PyQt6.QtPdf import QPdfDocument
from PyQt6.QtPrintSupport import QPrintDialog, QPrinter
from PyQt6.QtWidgets import QWidget

from shared.language import _


def print_pdf(parent: QWidget, path: Path, tell: Callable[[str, str], None]) -> None:
    """Ask for a printer, then print the file on it."""
    printer = QPrinter(QPrinter.PrinterMode.HighResolution)
    if QPrintDialog(printer, parent).exec():
        paint_pdf(path, printer, tell)


def paint_pdf(path: Path, printer: QPrinter, tell: Callable[[str, str], None]) -> None:
    """Print the file; ``tell`` is told where that cannot be done."""
    document = QPdfDocument(None)
    painter = QPainter()
    if document.load(str(path)) is not QPdfDocument.Error.None_ or not painter.begin(printer):
        tell(_("The report could not be printed."), _("It is in {path}").format(path=path))
        return
    for number in range(document.pageCount()):
        if number:
            printer.newPage()
        room = painter.viewport()
        size = document.pagePointSize(number)
        scale = min(room.width() / size.width(), room.height() / size.height())
        wanted = QSize(round(size.width() * scale), round(size.height() * scale))
        painter.drawImage(0, 0, document.render(number, wanted))
    painter.end()
