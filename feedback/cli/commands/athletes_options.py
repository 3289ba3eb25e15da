"""What can be typed after ``beltside athletes``."""

from __future__ import annotations

import argparse

from shared.language import mark

HELP = mark("list the bundled profiles")
EXAMPLES = ""


def add_options(_parser: argparse.ArgumentParser) -> None:
    """It has none."""
