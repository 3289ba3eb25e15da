"""``beltside export``: an athlete's sessions as CSV, JSON or FHIR."""

from __future__ import annotations

import argparse

from feedback.commands.archive import code_name_like, open_archive, settings_to_read_with
from feedback.commands.waiting import busy
from feedback.guard import OK, say
from feedback.records.digest import Digest
from shared.files import save_atomically


def run(options: argparse.Namespace) -> int:
    """Write the file. Raises UserError when there are no sessions or it cannot be saved."""
    kind = options.format or ("csv" if options.out.suffix.lower() == ".csv" else "json")
    out = options.out.expanduser()
    with open_archive(settings_to_read_with()) as store, busy("Reading the sessions") as tell:
        digests = store.digests(code_name_like(store, options.athlete))
        tell(f"{len(digests)}, writing them")
        save_atomically(out, _content(kind, digests))
    say(f"Written: {out} ({len(digests)} sessions). It holds health data.")
    return OK


def _content(kind: str, digests: tuple[Digest, ...]) -> bytes:
    if kind == "fhir":
        from feedback.records.fhir import as_fhir

        return as_fhir(digests).encode()
    from feedback.records.export import as_csv, as_json

    # With the mark that makes spreadsheets read it as UTF-8.
    return as_csv(digests).encode("utf-8-sig") if kind == "csv" else as_json(digests)
