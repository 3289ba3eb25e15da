"""What can be typed after ``beltside model``."""

from __future__ import annotations

import argparse

from feedback.cli.options import add_own_model
from shared.language import mark

HELP = mark("build or check the pose model")
EXAMPLES = mark(
    """\
examples:
  beltside model                     build it if it is missing or damaged, and check it
  beltside model --model my.task     only check that a file of your own can be used

The model is downloaded once; after that everything works without a network."""
)


def add_options(parser: argparse.ArgumentParser) -> None:
    """Its options, on its own parser."""
    add_own_model(parser)
