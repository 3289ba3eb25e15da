"""``beltside tail``: what a running session tells other programs, line by line."""

from __future__ import annotations

import argparse
import sys

from feedback.feed.lines import schema
from feedback.feed.reader import join, lines_of
from feedback.terminal.guard import OK
from shared.plain_text import plain_lines


def run(options: argparse.Namespace) -> int:
    """Print the lines until the session ends. Raises UserError ``feed_missing``."""
    if options.schema:
        sys.stdout.write(plain_lines(schema().decode()))
        return OK
    for line in lines_of(join(options.session)):
        sys.stdout.write(plain_lines(line + "\n"))
        sys.stdout.flush()
    return OK
