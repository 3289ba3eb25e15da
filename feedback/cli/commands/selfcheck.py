"""``beltside selfcheck``: whether this computer has what a session needs, part by part."""

from __future__ import annotations

import argparse
import sys

import msgspec

from feedback.cli.selfcheck.judge import Finding, exit_status
from feedback.cli.selfcheck.look import looks
from feedback.terminal.guard import say
from feedback.terminal.tables import PlainConsole
from feedback.texts.selfcheck import CAN_HOLD, CANNOT_HOLD, PARTS, STANDINGS
from shared.language import _
from shared.plain_text import plain_lines


def run(options: argparse.Namespace) -> int:
    """Look at each part and say how it is; status 1 where no session can be held."""
    findings = []
    console = PlainConsole(soft_wrap=True)
    for look in looks(options.stream):
        found = look()
        findings.append(found)
        if options.json:
            sys.stdout.write(plain_lines(msgspec.json.encode(found).decode() + "\n"))
            sys.stdout.flush()
        else:
            _print(console, found)
    code = exit_status(findings)
    if not options.json:
        say(_(CAN_HOLD if code == 0 else CANNOT_HOLD))
    return code


def _print(console: PlainConsole, found: Finding) -> None:
    console.print(
        _("{part}: {standing}. {found}").format(
            part=_(PARTS[found.part]), standing=_(STANDINGS[found.standing]), found=found.found
        )
    )
    if found.do:
        console.print(f"    {found.do}")
