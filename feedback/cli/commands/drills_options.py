"""What can be typed after ``beltside drills``."""

from __future__ import annotations

import argparse

from shared.language import mark

HELP = mark("list the available drills and plans")
EXAMPLES = ""


def add_options(_parser: argparse.ArgumentParser) -> None:
    """It has none."""
