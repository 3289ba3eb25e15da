"""``beltside export``: an athlete's sessions as CSV, JSON or FHIR."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Final

from feedback.cli.common.archive import open_archive, settings_to_read_with
from feedback.cli.common.pages import check_ending
from feedback.cli.common.progress_bar import busy
from feedback.records.people import People
from feedback.records.summary import Digest
from feedback.records.wording import counted
from feedback.terminal.guard import OK, say
from shared.files import save_atomically
from shared.language import _, _n

ENDING_OF: Final = {"csv": ".csv", "json": ".json", "fhir": ".json"}
KIND_OF: Final = {".csv": "csv", ".json": "json"}


def run(options: argparse.Namespace) -> int:
    """Write the file. Raises UserError when there are no sessions or it cannot be saved."""
    out = options.out.expanduser()
    kind = _kind(options.format, out)
    with open_archive(settings_to_read_with()) as store, busy(_("Reading sessions")) as tell:
        digests = store.digests(People(store).find(options.athlete).athlete_id)
        tell(_("{count}, writing them").format(count=len(digests)))
        save_atomically(out, _content(kind, digests))
    say(
        _("Written: {path} ({counts}). It contains health data.").format(
            path=out, counts=counted(digests)
        )
    )
    if kind == "fhir" and (left := sum(one.trial or one.demo for one in digests)):
        said = _n(
            "Left out: {count} record of trials and simulated runners, which are not a patient's.",
            "Left out: {count} records of trials and simulated runners, which are not a patient's.",
            left,
        )
        say(said.format(count=left))
    return OK


def _kind(wanted: str | None, out: Path) -> str:
    """What is to be written: as asked for, or as the name ends."""
    if wanted is None:
        check_ending(out, tuple(KIND_OF), _("an export"))
        return KIND_OF[out.suffix.lower()]
    if out.suffix:  # whoever names the format may leave the ending out
        check_ending(
            out, (ENDING_OF[wanted],), _("an export as {format}").format(format=wanted.upper())
        )
    return wanted


def _content(kind: str, digests: tuple[Digest, ...]) -> bytes:
    if kind == "fhir":
        from feedback.records.fhir import as_fhir

        return as_fhir(digests).encode()
    from feedback.records.export import as_csv, as_json

    # With the mark that makes spreadsheets read it as UTF-8.
    return as_csv(digests).encode("utf-8-sig") if kind == "csv" else as_json(digests)
