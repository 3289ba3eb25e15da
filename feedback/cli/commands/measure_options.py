"""What can be typed after ``beltside measure``."""

from __future__ import annotations

import argparse
from pathlib import Path

from feedback.cli.options import add_belt_speed, add_own_model, add_view, number

HELP = "measure a video file"
EXAMPLES = """\
examples:
  beltside measure run.mp4 --view side --height-cm 172
  beltside measure run.mp4 --view side --belt-kmh 10 --json > run.jsonl
  beltside measure run.mp4 --view behind --as-live

Values are measured exactly as in a live session: each is known a moment after the step, from
earlier pictures only. Without --height-cm and --belt-kmh, lengths are in % of leg length. If
nothing can be measured, or the camera's view is not the one typed, no values are given; the
reason is shown, and the exit status is 3."""


def add_options(parser: argparse.ArgumentParser) -> None:
    """Its options, on its own parser."""
    parser.add_argument("file", metavar="FILE", help="a video of one person running")
    add_view(parser, required=True, what="camera position, seen from the runner")
    parser.add_argument(
        "--height-cm", type=number(120, 220, "cm"), metavar="H", help="the runner's height"
    )
    add_belt_speed(parser, what="the belt's speed")
    parser.add_argument(
        "--as-live",
        action="store_true",
        help="at the file's own speed; frames that come too fast are dropped, as in a session",
    )
    parser.add_argument(
        "--json", action="store_true", help="one line of JSON for each event and measure"
    )
    parser.add_argument(
        "--out", type=Path, metavar="FILE", help="also write a page on it, .html or .pdf"
    )
    add_own_model(parser)
