"""What can be typed after ``beltside measure``."""

from __future__ import annotations

import argparse

from feedback.cli.options import add_belt_speed, add_own_model, add_view, number

HELP = "measure a video file"
EXAMPLES = """\
examples:
  beltside measure run.mp4 --view side --height-cm 172
  beltside measure run.mp4 --view side --belt-kmh 10 --json > run.jsonl
  beltside measure run.mp4 --view behind --as-live

The values come from the very same steps as in a live session: each is known a moment after
the step, from earlier pictures only. Without --height-cm and --belt-kmh lengths are given in
% of leg length. Where nothing could be measured, or the camera looks from another view than
was typed, no value is given; why is told, and the exit status is 3."""


def add_options(parser: argparse.ArgumentParser) -> None:
    """Its options, on its own parser."""
    parser.add_argument("file", metavar="FILE", help="a video of one person running")
    add_view(parser, required=True, what="where the camera stood, seen from the runner")
    parser.add_argument(
        "--height-cm", type=number(120, 220, "cm"), metavar="H", help="the runner's height"
    )
    add_belt_speed(parser, what="the belt's speed")
    parser.add_argument(
        "--as-live",
        action="store_true",
        help="at the file's own pace; pictures that come too fast are dropped, as in a session",
    )
    parser.add_argument(
        "--json", action="store_true", help="one line of JSON for each event and measure"
    )
    add_own_model(parser)
