"""``beltside rebuild``: fills the store again from the sessions' own records."""

from __future__ import annotations

import argparse

from feedback.cli.common.archive import tell_unreadable
from feedback.cli.common.progress_bar import busy
from feedback.journal.writer import sessions_folder
from feedback.records.store import Store
from feedback.records.sync import rebuild
from feedback.storage.settings import read_settings
from feedback.terminal.guard import OK, say
from shared.language import _, _n


def run(_options: argparse.Namespace) -> int:
    """Fill it and say how many sessions there are now. Raises UserError."""
    with Store(read_settings().store) as store, busy(_("Filling the store")):
        synced = rebuild(store, sessions_folder())
    tell_unreadable(synced)
    said = _n(
        "The store now contains {count} session from this computer.",
        "The store now contains {count} sessions from this computer.",
        synced.stored,
    )
    say(said.format(count=synced.stored))
    return OK
