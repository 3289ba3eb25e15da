"""``beltside store``: which store is used, and whether another one answers."""

from __future__ import annotations

import argparse

from feedback.records.database import default_file
from feedback.records.store import Store
from feedback.storage.settings import read_settings
from feedback.terminal.guard import OK, say
from feedback.terminal.output import read_line
from shared.language import _, _n


def run(options: argparse.Namespace) -> int:
    """Open it once. Raises UserError ``store_unreachable`` with the reason."""
    url = read_line().strip() if options.test else read_settings().store
    with Store(url) as store:
        count = len(store.sessions())
    where = _("the PostgreSQL server") if url else str(default_file())
    said = _n("{count} session in it.", "{count} sessions in it.", count).format(count=count)
    say(_("The store answers: {where}. {sessions}").format(where=where, sessions=said))
    return OK
