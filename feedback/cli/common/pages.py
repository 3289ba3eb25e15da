"""Where a page is written to, as HTML and as PDF, and what is said of it."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Final

from feedback.cli.common.progress_bar import busy
from feedback.records.page.page import PrintedPage
from feedback.storage.folders import make_private
from feedback.terminal.guard import say
from shared.files import save_atomically
from shared.language import _
from shared.problems import UserError

PAGE_ENDINGS: Final = (".html", ".htm", ".pdf")


def check_ending(path: Path | None, endings: Sequence[str], what: str) -> None:
    """See that a file's name says what will be in it. Raises UserError ``ending_unknown``."""
    if path is None or path.suffix.lower() in endings:
        return
    *some, last = endings
    possible = _("{some} or {last}").format(some=", ".join(some), last=last) if some else last
    raise UserError("ending_unknown", path=str(path), what=what, possible=possible)


def save_page(page: PrintedPage, out: Path | None, stem: Path) -> None:
    """Write a page as asked for and say where. Raises UserError ``save_failed``."""
    with busy(_("Writing the page")):
        written = write_page(page, out, stem)
    for target in written:
        say(_("Written: {path}").format(path=target))


def write_page(page: PrintedPage, out: Path | None, stem: Path) -> tuple[Path, ...]:
    """Write a page to ``out``, or both as HTML and as PDF to ``stem``; returns what was written.

    Raises UserError ``save_failed``.
    """
    from feedback.records.page.html import as_html
    from feedback.records.page.pdf import as_pdf

    if out is None:
        make_private(stem.parent)
        targets = [stem.with_name(f"{stem.name}{ending}") for ending in (".html", ".pdf")]
    else:
        targets = [out.expanduser()]
    for target in targets:
        pdf = target.suffix.lower() == ".pdf"
        save_atomically(target, as_pdf(page) if pdf else as_html(page).encode())
    return tuple(targets)
