"""The command line: what can be typed after ``beltside``, and the help for it."""

from __future__ import annotations

import argparse
import importlib
import math
import sys
from collections.abc import Callable, Sequence
from typing import NoReturn, cast

from feedback.guard import WRONG_USAGE, guarded
from shared.records import View

_WHAT = "Real-time biofeedback for treadmill running, from one ordinary camera."
_LIMITS = """\
The program never drives the belt. Stop on its screen ends cues and session, not the belt:
clip the treadmill's safety key on. It makes no diagnosis and foretells no injury."""

_MAIN_EXAMPLES = f"""\
to begin:
  beltside demo                      see and hear it at work, no camera needed
  beltside athletes                  the profiles that come with it
  beltside run --athlete NAME --camera 0
  beltside measure run.mp4 --view side --height-cm 172

{_LIMITS}

Exit codes: 0 all well, 1 a problem (told in two lines), 2 wrong usage, 130 interrupted."""

_RUN_EXAMPLES = f"""\
examples:
  beltside run --athlete NAME --camera 0
  beltside run --athlete my_runner.toml --stream http://192.168.1.20:8080/video --minutes 20
  beltside run --athlete my_runner.toml --file run.mp4 --view behind --windowed

Stop: space, Esc, or the Stop button on the screen.
{_LIMITS}"""

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

The values come from the very same steps as in a live session: each is known a moment after
the step, from earlier pictures only. Without --height-cm and --belt-kmh lengths are given in
% of leg length."""

_MODEL_EXAMPLES = """\
examples:
  beltside model                     build it if it is missing or damaged, and check it
  beltside model --model my.task     only check that a file of your own can be used

The model is fetched once; after that everything works without a network."""


class _Parser(argparse.ArgumentParser):
    """Says wrong usage in one line and leaves with exit code 2."""

    def error(self, message: str) -> NoReturn:
        sys.stderr.write(f"{self.prog}: {message}. Try '{self.prog} --help'.\n")
        raise SystemExit(WRONG_USAGE)


def _number(low: float, high: float, unit: str) -> Callable[[str], float]:
    """A type for argparse: a number from ``low`` to ``high``."""

    def parse(text: str) -> float:
        try:
            value = float(text)
        except ValueError:
            value = math.nan
        if not low <= value <= high:
            raise argparse.ArgumentTypeError(f"{text!r} is not from {low:g} to {high:g} {unit}")
        return value

    return parse


def _camera_number(text: str) -> int:
    if not (text.isascii() and text.isdigit() and len(text) <= 3):
        raise argparse.ArgumentTypeError(f"{text!r} is not a camera number such as 0 or 1")
    return int(text)


def _address(text: str) -> str:
    scheme, colon, rest = text.partition("://")
    if not colon or scheme.lower() not in {"http", "https", "rtsp"} or not rest.strip("/"):
        raise argparse.ArgumentTypeError(f"{text!r} is not an address such as http://host/video")
    return text


def _view(text: str) -> View:
    try:
        return View(text)
    except ValueError:
        choices = ", ".join(view.value for view in View)
        raise argparse.ArgumentTypeError(f"{text!r} is not one of {choices}") from None


def build_parser() -> argparse.ArgumentParser:
    """The whole command line."""
    parser = _Parser(
        prog="beltside",
        description=_WHAT,
        epilog=_MAIN_EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    commands = parser.add_subparsers(
        title="commands", metavar="COMMAND", dest="command", required=True, parser_class=_Parser
    )
    _add_run(_command(commands, "run", "run a session with cues", _RUN_EXAMPLES))
    _add_demo(_command(commands, "demo", "see it at work on a bundled clip", _DEMO_EXAMPLES))
    _add_measure(_command(commands, "measure", "measure a video file", _MEASURE_EXAMPLES))
    _add_model(_command(commands, "model", "build or check the pose model", _MODEL_EXAMPLES))
    _command(commands, "athletes", "list the profiles that come with it", "")
    sounds = _command(commands, "sounds", "play each sound once, with its meaning", "")
    _add_volume(sounds)
    return parser


def _command(
    commands: argparse._SubParsersAction[_Parser], name: str, what: str, examples: str
) -> argparse.ArgumentParser:
    return commands.add_parser(
        name,
        help=what,
        description=what[0].upper() + what[1:] + ".",
        epilog=examples,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )


def _add_run(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--athlete", required=True, metavar="NAME|FILE", help="a bundled profile or a TOML file"
    )
    source = parser.add_mutually_exclusive_group(required=True)
    source.add_argument("--camera", type=_camera_number, metavar="N", help="camera number, from 0")
    source.add_argument("--stream", type=_address, metavar="URL", help="a network camera (MJPEG)")
    source.add_argument("--file", metavar="PATH", help="a video, played as if live")
    parser.add_argument(
        "--view",
        type=_view,
        metavar="{side,behind,front}",
        help="where the camera stands, seen from the runner (default: as in the profile)",
    )
    parser.add_argument(
        "--minutes", type=_number(0.1, 240, "minutes"), metavar="M", help="end by itself after M"
    )
    parser.add_argument(
        "--cautions-read",
        action="store_true",
        help="start without asking whether the cautions were read",
    )
    _add_screen(parser)
    _add_sound(parser)
    _add_own_model(parser)


def _add_demo(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--view",
        choices=[View.SIDE.value, View.BEHIND.value],
        default=View.SIDE.value,
        help="where the camera stands, seen from the runner (default: side)",
    )
    parser.add_argument(
        "--seconds",
        type=_number(3, 3600, "seconds"),
        default=30.0,
        metavar="S",
        help="how long it runs (default: 30)",
    )
    parser.add_argument(
        "--headless", action="store_true", help="no window: print every measure and cue"
    )
    _add_screen(parser)
    _add_sound(parser)
    _add_own_model(parser)


def _add_measure(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", metavar="FILE", help="a video of one person running")
    parser.add_argument(
        "--view",
        type=_view,
        required=True,
        metavar="{side,behind,front}",
        help="where the camera stood, seen from the runner",
    )
    parser.add_argument(
        "--height-cm", type=_number(120, 220, "cm"), metavar="H", help="the runner's height"
    )
    parser.add_argument(
        "--belt-kmh", type=_number(3, 25, "km/h"), metavar="V", help="the belt's speed"
    )
    parser.add_argument(
        "--as-live",
        action="store_true",
        help="at the file's own pace; pictures that come too fast are dropped, as in a session",
    )
    parser.add_argument(
        "--json", action="store_true", help="one line of JSON for each event and measure"
    )
    _add_own_model(parser)


def _add_model(parser: argparse.ArgumentParser) -> None:
    _add_own_model(parser)


def _add_screen(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--windowed", action="store_true", help="a window, not the whole screen")
    parser.add_argument(
        "--distance-m",
        type=_number(0.5, 5, "m"),
        default=2.0,
        metavar="D",
        help="from the runner's eyes to the screen (default: 2)",
    )


def _add_sound(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--no-sound", action="store_true", help="cues on the screen only")
    _add_volume(parser)


def _add_volume(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--volume",
        type=_number(0, 1, "(0 is silent, 1 is full)"),
        metavar="V",
        help="loudness from 0 to 1",
    )


def _add_own_model(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--model", metavar="FILE", help="a pose model (.task) of your own")


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line; the exit code is 0, 1, 2, or 128 and a signal's number."""

    def work() -> int:
        options = build_parser().parse_args(arguments)
        # Only what is asked for is loaded, so that --help and typing errors answer at once.
        command = importlib.import_module(f"feedback.commands.{options.command}")
        return cast("int", command.run(options))

    return guarded(work)


if __name__ == "__main__":
    sys.exit(main())
