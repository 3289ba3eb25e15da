"""The command line: what can be typed after ``beltside``, and the help for it."""

from __future__ import annotations

import argparse
import importlib
import sys
from collections.abc import Sequence
from typing import cast

from feedback.cli.network_options import add_network, add_networking
from feedback.cli.options import (
    LIMITS,
    Parser,
    add_athlete,
    add_belt_speed,
    add_own_model,
    add_screen,
    add_session,
    add_sound,
    add_source,
    add_view,
    add_volume,
    command,
    number,
)
from feedback.cli.records_options import add_records
from feedback.cli.training_options import add_training
from feedback.terminal.guard import SIGNAL_BASE, guarded, leave_at_once
from shared.flow import View

_WHAT = "Real-time biofeedback for treadmill running, from one ordinary camera."
_MAIN_EXAMPLES = f"""\
to begin:
  beltside demo                      see and hear it, no camera needed
  beltside athletes                  the bundled profiles
  beltside run --athlete NAME --camera 0
  beltside measure run.mp4 --view side --height-cm 172

to train:
  beltside baseline --athlete NAME --camera 0      the runner's baseline, without cues
  beltside prescribe --athlete NAME --drill DRILL --plan PLAN --out NAME.toml
  beltside session NAME.toml --camera 0            the plan's next session, at the clinic
  beltside home NAME.toml                          the same at home, step by step

{LIMITS}

Exit codes: 0 success, 1 a problem (reported in two lines), 2 wrong usage; ended by: 130 Ctrl+C,
143 SIGTERM, 129 the terminal was closed, 141 the pipe was closed."""

_RUN_EXAMPLES = f"""\
examples:
  beltside run --athlete NAME --camera 0
  beltside run --athlete my_runner.toml --stream http://192.168.1.20:8080/video --minutes 20
  beltside run --athlete my_runner.toml --file run.mp4 --view behind --windowed

Stop: any key, the Stop button on the screen, or a hand held over the head.
Number keys rate pain, P pauses.
{LIMITS}"""

_DEMO_EXAMPLES = """\
examples:
  beltside demo                      with screen and sound, where there are any
  beltside demo --headless           every measure and cue as a line, then a summary
  beltside demo --view behind --seconds 60"""

_MEASURE_EXAMPLES = """\
examples:
  beltside measure run.mp4 --view side --height-cm 172
  beltside measure run.mp4 --view side --belt-kmh 10 --json > run.jsonl
  beltside measure run.mp4 --view behind --as-live

Values are measured exactly as in a live session: each is known a moment after the step, from
earlier pictures only. Without --height-cm and --belt-kmh, lengths are in % of leg length. If
nothing can be measured, or the camera's view is not the one typed, no values are given; the
reason is shown, and the exit status is 3."""

_MODEL_EXAMPLES = """\
examples:
  beltside model                     build it if it is missing or damaged, and check it
  beltside model --model my.task     only check that a file of your own can be used

The model is downloaded once; after that everything works without a network."""


def build_parser() -> argparse.ArgumentParser:
    """The whole command line."""
    parser = Parser(
        prog="beltside",
        description=_WHAT,
        epilog=_MAIN_EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    commands = parser.add_subparsers(
        title="commands", metavar="COMMAND", dest="command", required=True, parser_class=Parser
    )
    _add_run(command(commands, "run", "run a session with cues", _RUN_EXAMPLES))
    _add_demo(command(commands, "demo", "try it on a bundled clip", _DEMO_EXAMPLES))
    _add_measure(command(commands, "measure", "measure a video file", _MEASURE_EXAMPLES))
    _add_model(command(commands, "model", "build or check the pose model", _MODEL_EXAMPLES))
    command(commands, "athletes", "list the bundled profiles", "")
    add_training(commands)
    add_records(commands)
    add_networking(commands)
    sounds = command(commands, "sounds", "play each sound once, with its meaning", "")
    add_volume(sounds)
    return parser


def _add_run(parser: argparse.ArgumentParser) -> None:
    add_athlete(parser)
    add_source(parser, required=True)
    add_view(parser)
    parser.add_argument(
        "--minutes", type=number(0.1, 240, "minutes"), metavar="M", help="end automatically after M"
    )
    add_session(parser)
    add_network(parser)
    parser.set_defaults(headless=False)


def _add_demo(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--view",
        choices=[View.SIDE.value, View.BEHIND.value],
        default=View.SIDE.value,
        help="camera position, seen from the runner (default: side)",
    )
    parser.add_argument(
        "--seconds",
        type=number(3, 3600, "seconds"),
        default=30.0,
        metavar="S",
        help="how long it runs (default: 30)",
    )
    parser.add_argument(
        "--headless", action="store_true", help="no window: print every measure and cue"
    )
    add_screen(parser)
    add_sound(parser)
    add_own_model(parser)


def _add_measure(parser: argparse.ArgumentParser) -> None:
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
    add_own_model(parser)


def _add_model(parser: argparse.ArgumentParser) -> None:
    add_own_model(parser)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line; the exit code is 0, 1, 2, or 128 and a signal's number."""

    def work() -> int:
        options = build_parser().parse_args(arguments)
        # Only what is asked for is loaded, so that --help and typing errors answer at once.
        module = importlib.import_module(f"feedback.cli.commands.{options.command}")
        importlib.import_module("feedback.records.private_files").tidy()
        return cast("int", module.run(options))

    is_program = arguments is None
    code = guarded(work, is_program=is_program)
    if is_program and code > SIGNAL_BASE:
        leave_at_once(code)
    return code


if __name__ == "__main__":
    sys.exit(main())
