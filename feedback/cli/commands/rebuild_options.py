"""What can be typed after ``beltside rebuild``."""

from __future__ import annotations

import argparse

from shared.language import mark

HELP = mark("fill the store from the records")
EXAMPLES = mark("""\
examples:
  beltside rebuild                   fill the store again from the sessions' own records""")


def add_options(_parser: argparse.ArgumentParser) -> None:
    """It has none."""
