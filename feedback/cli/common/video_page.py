"""A page on a measured video file: what was measured, how often, and what stood in the way."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from pathlib import Path

from feedback.cli.common.tell import plain
from feedback.cli.measure_lines import MeanRow
from feedback.records.page.page import Figures, PrintedPage, TextLines
from feedback.texts.measures import full_title, unit_text
from feedback.texts.runner import side_name
from shared.catalogue import CATALOGUE
from shared.flow import View
from shared.language import _


def video_page(
    file: Path, view: View, rows: Sequence[MeanRow], lines: Sequence[str], reasons: Sequence[str]
) -> PrintedPage:
    """The page; ``lines`` say how much was seen, ``reasons`` why nothing was measured, if so."""
    parts: list[TextLines | Figures] = []
    if reasons:
        parts.append(TextLines(_("Nothing was measured"), tuple(reasons)))
    else:
        parts.append(
            Figures(
                _("Measures"),
                (_("measure"), _("side"), _("mean"), _("spread"), _("values"), _("unit")),
                [_row(row) for row in rows],
                _("Mean of single values; spread is their standard deviation."),
            )
        )
    parts.append(TextLines(_("The video"), tuple(lines)))
    day = f"{datetime.now().astimezone():%Y-%m-%d}"
    return PrintedPage(
        title=_("Video: {name}").format(name=file.name),
        subtitle=_("Camera: {view}. Measured on {day}.").format(view=view.spoken, day=day),
        parts=tuple(parts),
        small_print=(
            _(
                "Measured from one camera with pose landmarks. The camera's own error is not "
                "included. Values are valid for this view and belt speed only."
            ),
            _("Training information. It is not a diagnosis and does not predict injury."),
        ),
    )


def _row(row: MeanRow) -> tuple[str, ...]:
    decimals = CATALOGUE[row.measure].decimals
    return (
        full_title(row.measure),
        "" if row.side is None else side_name(row.side),
        plain(row.mean, decimals),
        "" if row.sd is None else plain(row.sd, decimals),
        str(row.n),
        unit_text(row.unit),
    )
