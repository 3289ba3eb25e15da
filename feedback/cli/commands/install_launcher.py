"""``beltside install-launcher``: an entry in the desktop's menu, and prescriptions tied to it."""

from __future__ import annotations

import argparse
import sys

from feedback.cli.common.launcher import install, remove
from feedback.terminal.guard import OK, say
from shared.language import _
from shared.problems import UserError


def run(options: argparse.Namespace) -> int:
    """Write the files, or take them away. Raises UserError."""
    if sys.platform in ("win32", "darwin"):
        raise UserError("launcher_elsewhere")
    if options.remove:
        gone = remove()
        for path in gone:
            say(_("Removed: {path}").format(path=path))
        if not gone:
            say(_("There was nothing to remove."))
        return OK
    for path in install():
        say(_("Written: {path}").format(path=path))
    say(_("Beltside is in the menu now. Files that end in .prescription.toml open with it."))
    return OK
