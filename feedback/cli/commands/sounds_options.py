"""What can be typed after ``beltside sounds``."""

from __future__ import annotations

import argparse

from feedback.cli.options import add_volume
from shared.language import mark

HELP = mark("play each sound once, with its meaning")
EXAMPLES = ""


def add_options(parser: argparse.ArgumentParser) -> None:
    """Its options, on its own parser."""
    add_volume(parser)
