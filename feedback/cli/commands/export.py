"""``beltside export``: an athlete's sessions as CSV, JSON or FHIR."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path
from typing import Final

from feedback.cli.common.archive import check_ending, open_archive, settings_to_read_with
from feedback.cli.common.progress_bar import busy
from feedback.records.people import People
from feedback.records.summary import Digest
from feedback.terminal.guard import OK, say
from shared.files import save_atomically
from shared.plain_text import number_of

ENDING_OF: Final = {"csv": ".csv", "json": ".json", "fhir": ".json"}
KIND_OF: Final = {".csv": "csv", ".json": "json"}


def run(options: argparse.Namespace) -> int:
    """Write the file. Raises UserError when there are no sessions or it cannot be saved."""
    out = options.out.expanduser()
    kind = _kind(options.format, out)
    with open_archive(settings_to_read_with()) as store, busy("Reading sessions") as tell:
        digests = store.digests(People(store).find(options.athlete).athlete_id)
        tell(f"{len(digests)}, writing them")
        save_atomically(out, _content(kind, digests))
    say(f"Written: {out} ({_counts(digests)}). It contains health data.")
    if kind == "fhir" and (left := sum(one.trial or one.demo for one in digests)):
        said = number_of(left, "record")
        say(f"Left out: {said} of trials and simulated runners, which are not a patient's.")
    return OK


def _kind(wanted: str | None, out: Path) -> str:
    """What is to be written: as asked for, or as the name ends."""
    if wanted is None:
        check_ending(out, tuple(KIND_OF), "an export")
        return KIND_OF[out.suffix.lower()]
    if out.suffix:  # whoever names the format may leave the ending out
        check_ending(out, (ENDING_OF[wanted],), f"an export as {wanted.upper()}")
    return wanted


def _counts(digests: Sequence[Digest]) -> str:
    """What is in it; baselines and trials are no sessions."""
    kinds = [one.counts_as for one in digests]
    counts = {kind: kinds.count(kind) for kind in ("session", "baseline", "trial")}
    said = [number_of(count, kind) for kind, count in counts.items() if count]
    if empty := kinds.count("nothing"):
        said.append(f"{number_of(empty, 'record')} without steps")
    return ", ".join(said) or number_of(0, "session")


def _content(kind: str, digests: tuple[Digest, ...]) -> bytes:
    if kind == "fhir":
        from feedback.records.fhir import as_fhir

        return as_fhir(digests).encode()
    from feedback.records.export import as_csv, as_json

    # With the mark that makes spreadsheets read it as UTF-8.
    return as_csv(digests).encode("utf-8-sig") if kind == "csv" else as_json(digests)
