"""Parts of the command line that several commands share: their types and their options."""

from __future__ import annotations

import argparse
import ipaddress
import math
import sys
from collections.abc import Callable
from pathlib import Path
from typing import NoReturn, cast

from feedback.link.address import DEFAULT_PORT
from feedback.link.quota import plain_address
from feedback.safety.hazards import EDGES_APART
from feedback.terminal.guard import WRONG_USAGE
from feedback.terminal.program_name import as_called
from shared.flow import View
from shared.language import _, mark
from shared.plain_text import fault_in, plain_line, plain_lines
from shared.targets import Question

LIMITS = mark(
    """\
The program never drives the belt. Stop on its screen ends cues and session, not the belt:
clip the treadmill's safety key on. It makes no diagnosis and does not predict injury."""
)


class Parser(argparse.ArgumentParser):
    """Says wrong usage in one line and leaves with exit code 2."""

    def error(self, message: str) -> NoReturn:
        """One line on stderr, then the end."""
        sys.stderr.write(
            plain_lines(
                as_called(
                    _("{prog}: {message}. Try '{prog} --help'.").format(
                        prog=self.prog, message=message
                    )
                    + "\n"
                )
            )
        )
        raise SystemExit(WRONG_USAGE)


def number(low: float, high: float, unit: str) -> Callable[[str], float]:
    """A type for argparse: a number from ``low`` to ``high``."""

    def parse(text: str) -> float:
        try:
            value = float(text)
        except ValueError:
            value = math.nan
        if not low <= value <= high:
            raise argparse.ArgumentTypeError(
                _("{text!r} is not from {low:g} to {high:g} {unit}").format(
                    text=text, low=low, high=high, unit=_(unit)
                )
            )
        return value

    return parse


class BeltEdgesAction(argparse.Action):
    """Two shares of the picture, far enough apart: the belt's rear and front edge."""

    def __call__(
        self,
        parser: argparse.ArgumentParser,
        namespace: argparse.Namespace,
        values: object,
        option_string: str | None = None,
    ) -> None:
        """Keep them as (rear, front)."""
        rear, front = cast("list[float]", values)
        if abs(rear - front) < EDGES_APART:
            parser.error(
                _("argument {option_string}: the two edges are at the same place").format(
                    option_string=option_string
                )
            )
        setattr(namespace, self.dest, (rear, front))


def camera_number(text: str) -> int:
    """A type for argparse: a camera's number."""
    if not (text.isascii() and text.isdigit() and len(text) <= 3):
        raise argparse.ArgumentTypeError(
            _("{text!r} is not a camera number such as 0 or 1").format(text=text)
        )
    return int(text)


def address(text: str) -> str:
    """A type for argparse: a network camera's address."""
    scheme, colon, rest = text.partition("://")
    if not colon or scheme.lower() not in {"http", "https", "rtsp"} or not rest.strip("/"):
        raise argparse.ArgumentTypeError(
            _("{text!r} is not an address such as http://host/video").format(text=text)
        )
    return text


def view(text: str) -> View:
    """A type for argparse: where the camera stands."""
    try:
        return View(text)
    except ValueError:
        choices = ", ".join(view.value for view in View)
        raise argparse.ArgumentTypeError(
            _("{text!r} is not one of {choices}").format(text=text, choices=choices)
        ) from None


def rating(text: str) -> int:
    """A type for argparse: what a runner answers, 0 to 10."""
    if not (text.isascii() and text.isdigit() and len(text) < 4 and int(text) <= 10):
        raise argparse.ArgumentTypeError(
            _("{text!r} is not a whole number from 0 to 10").format(text=text)
        )
    return int(text)


def _answer(text: str) -> tuple[Question, int]:
    name, equals, value = text.partition("=")
    if not equals or name not in list(Question):
        known = ", ".join(f"{question}=..." for question in Question)
        raise argparse.ArgumentTypeError(
            _("{text!r} is not one of {known}").format(text=text, known=known)
        )
    return Question(name), rating(value)


def whole_number(most: int) -> Callable[[str], int]:
    """A type for argparse: a whole number from 1 to ``most``, which no typing error comes near."""

    def parse(text: str) -> int:
        if not (text.isascii() and text.isdigit() and len(text) < 7 and 1 <= int(text) <= most):
            raise argparse.ArgumentTypeError(
                _("{text!r} is not a whole number from 1 on").format(text=text)
            )
        return int(text)

    return parse


def network_name(text: str) -> str:
    """A type for argparse: a name as others on the network see it."""
    if why := fault_in(text):
        raise argparse.ArgumentTypeError(
            _("{text!r} is not a name: {why}").format(text=text, why=why)
        )
    name = plain_line(text)
    if len(name) > 40 or text != text.strip():
        raise argparse.ArgumentTypeError(
            _("{text!r} is not a name of 1 to 40 letters").format(text=text)
        )
    return name


def _port(text: str) -> int:
    if not (text.isascii() and text.isdigit() and len(text) < 6 and 0 < int(text) < 65536):
        raise argparse.ArgumentTypeError(
            _("{text!r} is not a port from 1 to 65535").format(text=text)
        )
    return int(text)


def _address(text: str) -> str:
    plain = plain_address(text)
    try:
        ipaddress.ip_address(plain)
    except ValueError:
        raise argparse.ArgumentTypeError(
            _("{text!r} is not an address such as 192.168.1.7").format(text=text)
        ) from None
    return plain


def add_athlete(parser: argparse.ArgumentParser) -> None:
    """Whose session it is."""
    parser.add_argument(
        "--athlete", required=True, metavar="NAME|FILE", help=_("a bundled profile or a TOML file")
    )


def add_view(
    parser: argparse.ArgumentParser,
    *,
    required: bool = False,
    what: str = mark("camera position, seen from the runner (default: as in the profile)"),
) -> None:
    """Where the camera stands."""
    parser.add_argument(
        "--view", type=view, required=required, metavar="{side,behind,front}", help=_(what)
    )


def add_belt_speed(
    parser: argparse.ArgumentParser, what: str = mark("if different from the profile")
) -> None:
    """How fast the belt runs."""
    parser.add_argument("--belt-kmh", type=number(3, 25, "km/h"), metavar="V", help=_(what))


def add_source(parser: argparse.ArgumentParser, *, required: bool) -> None:
    """Where the pictures come from."""
    source = parser.add_mutually_exclusive_group(required=required)
    source.add_argument(
        "--camera", type=camera_number, metavar="N", help=_("camera number, from 0")
    )
    source.add_argument("--stream", type=address, metavar="URL", help=_("a network camera (MJPEG)"))
    source.add_argument(
        "--file", dest="file_source", metavar="PATH", help=_("a video, played as if live")
    )
    source.add_argument(
        "--clip",
        choices=[View.SIDE.value, View.BEHIND.value],
        help=_("the bundled clip of a simulated runner, repeated"),
    )
    parser.add_argument("--loop", action="store_true", help=_("play the file repeatedly"))


def add_session(parser: argparse.ArgumentParser) -> None:
    """Options of every session that is put on record: safety, what is kept, screen and sound."""
    parser.add_argument(
        "--cautions-read",
        action="store_true",
        help=_("the cautions have been checked: do not ask"),
    )
    parser.add_argument(
        "--ask-cautions",
        action="store_true",
        help=_("ask for the cautions although the pictures come from a file"),
    )
    parser.add_argument(
        "--belt-edges",
        nargs=2,
        type=number(0.01, 1, mark("of the picture")),
        action=BeltEdgesAction,
        metavar=("REAR", "FRONT"),
        help=_(
            "where the belt ends, so that drifting back is detected; from the side: shares of the "
            "picture's width, such as 0.2 0.8; else: length of the runner's trunk there, share of "
            "the picture's height"
        ),
    )
    parser.add_argument(
        "--track",
        action="store_true",
        help=_("keep the landmarks (no picture) beside the record, to measure it again later"),
    )
    parser.add_argument(
        "--no-report", action="store_true", help=_("do not write a report after the session")
    )
    parser.add_argument(
        "--panel",
        action="store_true",
        help=_("also open the clinician's panel, in its own window; closing it stops nothing"),
    )
    add_sensors(parser)
    add_feed(parser)
    add_screen(parser)
    add_sound(parser)
    add_own_model(parser)


def add_sensors(parser: argparse.ArgumentParser) -> None:
    """Bluetooth devices that are listened to; nothing is ever sent to them."""
    parser.add_argument(
        "--treadmill",
        type=network_name,
        metavar="NAME",
        help=_(
            'listen to this treadmill over Bluetooth ("any": the first one found): its speed and '
            "incline, and when it stops"
        ),
    )
    parser.add_argument(
        "--heart-strap",
        type=network_name,
        metavar="NAME",
        help=_("listen to this heart rate strap (its limits are set in the profile)"),
    )
    parser.add_argument(
        "--foot-pod",
        type=network_name,
        metavar="NAME",
        help=_("listen to this foot pod: its cadence is shown beside the camera's"),
    )


def add_feed(parser: argparse.ArgumentParser) -> None:
    """What other programs may read of the session while it runs."""
    parser.add_argument(
        "--feed",
        action="store_true",
        help=_("let this user's other programs read measures, events and cues (beltside tail)"),
    )
    parser.add_argument(
        "--lsl",
        action="store_true",
        help=_("send them as Lab Streaming Layer streams: anybody on the network can read these"),
    )
    parser.add_argument(
        "--feed-landmarks",
        action="store_true",
        help=_("with --feed or --lsl: the body's landmarks of each frame as well"),
    )


def add_screen(parser: argparse.ArgumentParser) -> None:
    """Options of the runner's screen."""
    parser.add_argument("--windowed", action="store_true", help=_("in a window, not full screen"))
    parser.add_argument(
        "--distance-m",
        type=number(0.5, 5, "m"),
        default=2.0,
        metavar="D",
        help=_("from the runner's eyes to the screen (default: 2)"),
    )


def add_sound(parser: argparse.ArgumentParser) -> None:
    """Options of the sound output."""
    parser.add_argument("--no-sound", action="store_true", help=_("cues on the screen only"))
    add_volume(parser)


def add_volume(parser: argparse.ArgumentParser) -> None:
    """How loud."""
    parser.add_argument(
        "--volume",
        type=number(0, 1, mark("(0 is silent, 1 is full)")),
        metavar="V",
        help=_("loudness from 0 to 1"),
    )


def add_own_model(parser: argparse.ArgumentParser) -> None:
    """A pose model of the user's own."""
    parser.add_argument("--model", metavar="FILE", help=_("your own pose model (.task)"))


def add_accept_unsigned(parser: argparse.ArgumentParser) -> None:
    """To take what nobody has signed, deliberately."""
    parser.add_argument(
        "--accept-unsigned",
        action="store_true",
        help=_(
            "accept an unsigned prescription: there is no proof of who set its speeds, limits and "
            "cautions (the program's own upper limits still apply)"
        ),
    )


def add_outputs(parser: argparse.ArgumentParser) -> None:
    """Options of a session that can do without its screen."""
    parser.add_argument(
        "--headless", action="store_true", help=_("no screen: what happens is printed here")
    )
    add_session(parser)
    add_network(parser)


def add_held(parser: argparse.ArgumentParser) -> None:
    """Options of a session of a prescription, in the clinic or at home."""
    parser.add_argument(
        "--number",
        type=whole_number(10_000),
        metavar="N",
        help=_("this session of the plan instead of the next one"),
    )
    parser.add_argument(
        "--now", action="store_true", help=_("do not wait for the plan's rest time")
    )
    parser.add_argument(
        "--earlier",
        action="store_true",
        help=_("run it although a later prescription of this drill was run here"),
    )
    add_accept_unsigned(parser)
    parser.add_argument(
        "--shorten",
        type=number(1, 100, mark("times")),
        default=1.0,
        metavar="F",
        help=_("divide all block lengths by F, for a trial; it does not count"),
    )
    parser.add_argument(
        "--morning",
        choices=["settled", "not-settled"],
        help=_("whether the pain had settled by the morning after the last session"),
    )
    parser.add_argument(
        "--answer",
        type=_answer,
        action="append",
        default=[],
        metavar="QUESTION=0..10",
        help=_("answer pain, effort or awkwardness when asked (for scripts)"),
    )
    parser.add_argument("--out", type=Path, metavar="FILE", help=_("where to write the result"))
    add_outputs(parser)


def add_network(parser: argparse.ArgumentParser) -> None:
    """Options of a session that consoles elsewhere may take part in."""
    parser.add_argument(
        "--network",
        action="store_true",
        help=_("let paired consoles on the network connect (off by default)"),
    )
    parser.add_argument(
        "--pair",
        action="store_true",
        help=_("the same, and show a code for pairing a console"),
    )
    add_place(parser)
    add_from(parser)


def add_from(parser: argparse.ArgumentParser) -> None:
    """Who may try the code that is shown."""
    parser.add_argument(
        "--from",
        dest="only_from",
        type=_address,
        default=None,
        metavar="ADDRESS",
        help=_("let only the console at this address try the code (it shows its address)"),
    )


def add_place(parser: argparse.ArgumentParser) -> None:
    """Where consoles find this station."""
    parser.add_argument(
        "--port",
        type=_port,
        metavar="N",
        help=_("on the network (default: {default_port}, or any free port)").format(
            default_port=DEFAULT_PORT
        ),
    )
    parser.add_argument(
        "--station-name",
        type=network_name,
        metavar="NAME",
        help=_("name shown on consoles (default: this computer's name)"),
    )


def add_page_out(parser: argparse.ArgumentParser) -> None:
    """Where a page is written to."""
    parser.add_argument(
        "--out", type=Path, metavar="FILE", help=_("one file, .html or .pdf (default: both)")
    )
