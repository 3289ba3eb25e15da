"""The command line: what can be typed after ``beltside``, and the help for it."""

from __future__ import annotations

import argparse
import importlib
import sys
from collections.abc import Sequence
from typing import cast

from feedback.cli.options import LIMITS, Parser
from feedback.terminal.guard import SIGNAL_BASE, guarded, leave_at_once

_WHAT = "Real-time biofeedback for treadmill running, from one ordinary camera."
_MAIN_EXAMPLES = f"""\
to begin:
  beltside                           the start window: the whole job without typing
  beltside demo                      see and hear it, no camera needed
  beltside athletes                  the bundled profiles
  beltside help first-session        step by step, with a camera of your own
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

_COMMANDS = (
    *("start", "install-launcher"),
    *("run", "demo", "measure", "model", "athletes"),
    *("check", "baseline", "drills", "prescribe", "sign", "clinics", "plan"),
    *("session", "home", "rehearse"),
    *("records", "report", "progress", "export", "receive", "erase", "remeasure", "rebuild"),
    "store",
    *("pair", "consoles", "stations", "console"),
    *("sounds", "help"),
)
"""In the help's order. A command is two modules: what it does, and beside it what can be typed,
which is loaded for every help and so imports nothing large."""


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
    for name in _COMMANDS:
        typed = importlib.import_module(f"feedback.cli.commands.{_module(name)}_options")
        what: str = typed.HELP
        one = commands.add_parser(
            name,
            help=what,
            description=what[0].upper() + what[1:] + ".",
            epilog=typed.EXAMPLES,
            formatter_class=argparse.RawDescriptionHelpFormatter,
        )
        typed.add_options(one)
    return parser


def _module(command: str) -> str:
    """The module of a command: of ``install-launcher`` it is ``install_launcher``."""
    return command.replace("-", "_")


def _meant(words: Sequence[str] | None) -> list[str]:
    """No words, or a prescription alone as a double click gives it, mean the start window."""
    words = list(words or ())
    alone = len(words) == 1 and words[0].endswith(".toml")
    return ["start", *words] if not words or alone else words


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line; the exit code is 0, 1, 2, or 128 and a signal's number."""
    is_program = arguments is None

    def work() -> int:
        options = build_parser().parse_args(_meant(sys.argv[1:] if is_program else arguments))
        # Only what is asked for is loaded, so that --help and typing errors answer at once.
        module = importlib.import_module(f"feedback.cli.commands.{_module(options.command)}")
        importlib.import_module("feedback.records.private_files").tidy()
        return cast("int", module.run(options))

    code = guarded(work, is_program=is_program)
    if is_program and code > SIGNAL_BASE:
        leave_at_once(code)
    return code


if __name__ == "__main__":
    sys.exit(main())
