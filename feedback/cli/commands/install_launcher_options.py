"""What can be typed after ``beltside install-launcher``."""

from __future__ import annotations

import argparse

from shared.language import _, mark

HELP = mark("put Beltside into the desktop's menu (Linux)")
EXAMPLES = mark("""\
examples:
  beltside install-launcher             an entry in the menu; prescriptions open with a double click
  beltside install-launcher --remove    take it away again

Only files of your own are written, in the folders of the freedesktop.org specifications. Files that
end in .prescription.toml open in the start window.""")


def add_options(parser: argparse.ArgumentParser) -> None:
    """Its options, on its own parser."""
    parser.add_argument("--remove", action="store_true", help=_("take it out of the menu again"))
