"""Sessions as tidy CSV and as JSON: every value with its unit, nothing worked out anew."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from datetime import UTC, datetime
from typing import Final

import msgspec

from feedback.records.summary import Digest
from shared.identity import id_of
from shared.plain_text import plain_line

CSV_COLUMNS: Final = (
    "session",
    "code_name",
    "started_utc",
    "view",
    "belt_speed_km_per_h",
    "session_kind",
    "session_number",
    "run_time_s",
    "steps",
    "measure",
    "side",
    "part",
    "unit_of_mean_sd_sem",
    "mean",
    "sd_of_values",
    "standard_error_of_mean",
    "values",
    "athlete_id",
    "counts_as",
)


_BEGINS_FORMULA: Final = frozenset("=+-@\uff1d\uff0b\uff0d\uff20")
"""Also the full-width signs, which some spreadsheets take for the same (OWASP, CSV injection)."""


class Export(msgspec.Struct, frozen=True, kw_only=True):
    """The whole JSON file."""

    format: int = 1
    made_utc: str
    sessions: Sequence[Digest]


def as_csv(digests: Iterable[Digest]) -> str:
    """One line for each mean; answers are lines of their own, in points from 0 to 10."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")  # as RFC 4180 has it
    writer.writerow(CSV_COLUMNS)
    for digest in digests:
        head = (
            digest.uid,
            _harmless(digest.code_name),
            digest.started_utc,
            digest.view.value,
            _number(digest.belt_speed_kmh),
            "" if digest.kind is None else digest.kind.value,
            "" if digest.number is None else digest.number,
            f"{digest.run_s:.1f}",
            digest.steps,
        )
        tail = (id_of(digest), digest.counts_as)
        for mean in digest.means:
            side = "" if mean.side is None else mean.side.value
            figures = (_number(mean.mean), _number(mean.sd), _number(mean.sem), mean.values)
            row = (*head, mean.measure, side, mean.part.value, mean.unit, *figures)
            writer.writerow((*row, *tail))
        for answer in digest.answers:
            part = f"at {answer.at_s:.0f} s"
            rated = ("", part, "points 0 to 10", answer.value, "", "", 1)
            writer.writerow((*head, answer.what.value, *rated, *tail))
    return out.getvalue()


def as_json(digests: Sequence[Digest]) -> bytes:
    """All that is known of the sessions."""
    made = datetime.now(tz=UTC).isoformat(timespec="seconds")
    return msgspec.json.format(msgspec.json.encode(Export(made_utc=made, sessions=digests)))


def _number(value: float | None) -> str:
    return "" if value is None else f"{value:.6g}"


def _harmless(text: str) -> str:
    """A spreadsheet must not take a name for a formula."""
    text = plain_line(text)
    return f"'{text}" if text[:1] in _BEGINS_FORMULA else text
