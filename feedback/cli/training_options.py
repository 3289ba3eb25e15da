"""What can be typed for baseline, prescription, plan, sessions and rehearsal."""

from __future__ import annotations

import argparse
from pathlib import Path

from feedback.cli.network_options import add_network
from feedback.cli.options import (
    LIMITS,
    Parser,
    add_athlete,
    add_belt_speed,
    add_own_model,
    add_session,
    add_source,
    add_view,
    command,
    number,
)
from shared.targets import Question

_CHECK_EXAMPLES = """\
examples:
  beltside check --view side --camera 0
  beltside check --view behind --stream http://192.168.1.20:8080/video

It shows the camera's picture and what to do, until all checks pass. The place is saved: the next
check says whether the camera is in the same place, and sessions with this camera and view watch
the ends of the belt as you marked them."""

_BASELINE_EXAMPLES = """\
examples:
  beltside baseline --athlete heron --camera 0
  beltside baseline --athlete heron --clip side --headless    try it on the bundled clip

Run normally, at the belt speed of the drill. No cues are given. It ends automatically when there
are enough steady steps (60), and is stored under the runner's code name."""

_PRESCRIBE_EXAMPLES = """\
examples:
  beltside prescribe --athlete heron --drill quick_steps --plan eight_sessions --out heron.toml
  beltside prescribe --athlete heron --drill quick_steps --change steps=7.5

Targets are calculated from the runner's newest baseline at this view and belt speed."""

_SIGN_EXAMPLES = """\
examples:
  beltside sign heron.toml           shows it, asks, and signs it with this station's key
  beltside sign old.toml --out new.toml

For the clinic: after a manual change, and for prescriptions from versions that did not sign. The
limits are checked as when it was prescribed."""

_CLINICS_EXAMPLES = """\
examples:
  beltside clinics                   the keys known here, as four groups to compare
  beltside clinics --accept new.toml for the clinic's new computer: shows old and new, asks
  beltside clinics --remove "1a2b 3c4d 5e6f 7a8b"

The key of the first prescription run here is taken to be the clinic's; one signed with another
key does not run until it is accepted. At a clinic, its own key and those under signers in
records.toml are known."""

_PLAN_EXAMPLES = """\
examples:
  beltside plan heron.toml
  beltside plan eight_sessions       a plan by name, before anything is prescribed"""

_SESSION_EXAMPLES = f"""\
examples:
  beltside session heron.toml --camera 0
  beltside session heron.toml --clip side --headless --shorten 20 --answer pain=1 --answer effort=4

While running, the number keys answer the questions on the screen.
Stop: space, Esc, or the Stop button on the screen.
{LIMITS}"""

_HOME_EXAMPLES = f"""\
examples:
  beltside home heron.toml           the first camera
  beltside home heron.toml --camera 1

It guides you through the camera check, the cautions, the run and the questions, and writes one
file to send to the clinic. You do not type anything on the belt.
{LIMITS}"""

_REHEARSE_EXAMPLES = """\
examples:
  beltside rehearse heron.toml
  beltside rehearse heron.toml --pain 1,2,6,1 --not-settled 2

A simulated runner that hears the cues, tires and learns runs every session of the plan in seconds,
to show how the plan withdraws the cues and when it would hold back. It predicts nothing about a
real person."""


def add_training(commands: argparse._SubParsersAction[Parser]) -> None:
    """Every command around baseline, prescription and plan."""
    _add_check(command(commands, "check", "set up the camera and check it", _CHECK_EXAMPLES))
    _add_baseline(command(commands, "baseline", "measure without cues", _BASELINE_EXAMPLES))
    command(commands, "drills", "list the available drills and plans", "")
    what = "write a prescription from a baseline"
    _add_prescribe(command(commands, "prescribe", what, _PRESCRIBE_EXAMPLES))
    what = "sign a prescription after a manual change"
    _add_sign(command(commands, "sign", what, _SIGN_EXAMPLES))
    what = "list, accept or remove clinics whose prescriptions run here"
    _add_clinics(command(commands, "clinics", what, _CLINICS_EXAMPLES))
    what = "show a plan's sessions and the next one"
    plan = command(commands, "plan", what, _PLAN_EXAMPLES)
    plan.add_argument("file", metavar="FILE|NAME", help="a prescription, or the name of a plan")
    add_accept_unsigned(plan)
    what = "run a prescription's next session"
    _add_session(command(commands, "session", what, _SESSION_EXAMPLES))
    what = "run a prescription at home, step by step"
    _add_home(command(commands, "home", what, _HOME_EXAMPLES))
    what = "run a whole plan with a simulated runner"
    _add_rehearse(command(commands, "rehearse", what, _REHEARSE_EXAMPLES))


def _add_check(parser: argparse.ArgumentParser) -> None:
    add_source(parser, required=True)
    add_view(parser, required=True, what="camera position, seen from the runner")
    parser.add_argument("--windowed", action="store_true", help="in a window, not full screen")
    parser.add_argument(
        "--headless", action="store_true", help="no screen: every check is printed here"
    )
    parser.add_argument(
        "--seconds",
        type=number(3, 3600, "seconds"),
        default=60.0,
        metavar="S",
        help="without a screen: stop after S (default: 60)",
    )
    add_own_model(parser)


def _add_baseline(parser: argparse.ArgumentParser) -> None:
    add_athlete(parser)
    add_source(parser, required=True)
    add_view(parser)
    add_belt_speed(parser)
    parser.add_argument(
        "--steps",
        type=number(60, 400, "steps"),
        default=60,
        metavar="N",
        help="least number of good steps (default: 60)",
    )
    _add_outputs(parser)


def _add_prescribe(parser: argparse.ArgumentParser) -> None:
    add_athlete(parser)
    parser.add_argument("--drill", required=True, metavar="NAME|FILE", help="see beltside drills")
    parser.add_argument(
        "--plan", metavar="NAME|FILE", help="see beltside drills; without it, the drill alone"
    )
    add_view(parser, what="if different from the drill")
    add_belt_speed(parser)
    parser.add_argument(
        "--change",
        type=_change,
        action="append",
        default=[],
        metavar="AIM=PERCENT",
        help="a different change from baseline for one aim, such as steps=7.5",
    )
    parser.add_argument("--out", type=Path, metavar="FILE", help="where to write it")


def _add_sign(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", type=Path, metavar="FILE", help="the prescription")
    parser.add_argument(
        "--out", type=Path, metavar="FILE", help="output file (default: the same file)"
    )
    parser.add_argument("--yes", action="store_true", help="do not ask")


def _add_clinics(parser: argparse.ArgumentParser) -> None:
    what = parser.add_mutually_exclusive_group()
    help_text = "accept this prescription's signing key"
    what.add_argument("--accept", type=Path, metavar="FILE", help=help_text)
    what.add_argument("--remove", metavar="GROUPS", help="remove the key with these four groups")
    parser.add_argument("--yes", action="store_true", help="do not ask")


def add_accept_unsigned(parser: argparse.ArgumentParser) -> None:
    """To take what nobody has signed, deliberately."""
    parser.add_argument(
        "--accept-unsigned",
        action="store_true",
        help="accept an unsigned prescription: there is no proof of who set its speeds, limits and "
        "cautions (the program's own upper limits still apply)",
    )


def _add_session(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", metavar="FILE", help="a prescription")
    add_source(parser, required=True)
    _add_held(parser)


def _add_home(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", metavar="FILE", help="the prescription from the clinic")
    add_source(parser, required=False)
    _add_held(parser)
    parser.add_argument(
        "--agreed", action="store_true", help="the clinic has agreed to continue despite pain"
    )


def _add_held(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--number",
        type=_whole,
        metavar="N",
        help="this session of the plan instead of the next one",
    )
    parser.add_argument("--now", action="store_true", help="do not wait for the plan's rest time")
    parser.add_argument(
        "--earlier",
        action="store_true",
        help="run it although a later prescription of this drill was run here",
    )
    add_accept_unsigned(parser)
    parser.add_argument(
        "--shorten",
        type=number(1, 100, "times"),
        default=1.0,
        metavar="F",
        help="divide all block lengths by F, for a trial; it does not count",
    )
    parser.add_argument(
        "--morning",
        choices=["settled", "not-settled"],
        help="whether the pain had settled by the morning after the last session",
    )
    parser.add_argument(
        "--answer",
        type=_answer,
        action="append",
        default=[],
        metavar="QUESTION=0..10",
        help="answer pain, effort or awkwardness when asked (for scripts)",
    )
    parser.add_argument("--out", type=Path, metavar="FILE", help="where to write the result")
    _add_outputs(parser)


def _add_rehearse(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", metavar="FILE", help="a prescription with a plan")
    parser.add_argument(
        "--seed", type=_whole, default=1, metavar="N", help="another simulated runner (default: 1)"
    )
    parser.add_argument(
        "--pain",
        type=_pains,
        default=(1,),
        metavar="P,P,...",
        help="worst pain by session; the last one applies to all later sessions (default: 1)",
    )
    parser.add_argument(
        "--not-settled",
        type=_wholes,
        default=(),
        metavar="N,N,...",
        help="sessions after which the pain has not settled by the next morning",
    )


def _add_outputs(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--headless", action="store_true", help="no screen: what happens is printed here"
    )
    add_session(parser)
    add_network(parser)


def _whole(text: str) -> int:
    if not (text.isascii() and text.isdigit() and 1 <= int(text) <= 10_000):
        raise argparse.ArgumentTypeError(f"{text!r} is not a whole number from 1 on")
    return int(text)


def _wholes(text: str) -> tuple[int, ...]:
    return tuple(_whole(part.strip()) for part in text.split(","))


def _pains(text: str) -> tuple[int, ...]:
    return tuple(_rating(part.strip()) for part in text.split(","))


def _rating(text: str) -> int:
    if not (text.isascii() and text.isdigit() and int(text) <= 10):
        raise argparse.ArgumentTypeError(f"{text!r} is not a whole number from 0 to 10")
    return int(text)


def _answer(text: str) -> tuple[Question, int]:
    name, equals, value = text.partition("=")
    if not equals or name not in list(Question):
        known = ", ".join(f"{question}=..." for question in Question)
        raise argparse.ArgumentTypeError(f"{text!r} is not one of {known}")
    return Question(name), _rating(value)


def _change(text: str) -> tuple[str, float]:
    name, equals, value = text.rpartition("=")
    if not equals or not name:
        raise argparse.ArgumentTypeError(f"{text!r} is not in the form aim=percent")
    return name, number(-60, 60, "percent")(value)
