"""``beltside selfcheck``: whether this computer has what a session needs, part by part."""

from __future__ import annotations

import argparse
import sys

import msgspec

from feedback.cli.selfcheck.judge import Finding, Standing, exit_status
from feedback.cli.selfcheck.look import looks
from feedback.terminal.guard import say
from feedback.terminal.tables import PlainConsole
from shared.language import _, mark
from shared.plain_text import plain_lines

_PARTS = {
    "folder": mark("Records"),
    "disk": mark("Disk"),
    "clock": mark("Clock"),
    "display": mark("Display"),
    "sound": mark("Sound"),
    "camera": mark("Camera"),
    "model": mark("Pose model"),
    "network": mark("Network"),
    "bluetooth": mark("Bluetooth"),
}
_STANDINGS = {
    Standing.GOOD: mark("good"),
    Standing.DOUBTFUL: mark("look at this"),
    Standing.MISSING: mark("not there"),
    Standing.BROKEN: mark("does not work"),
}


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
        say(
            _("A session can be held here.")
            if code == 0
            else _("No session can be held here yet: see what does not work.")
        )
    return code


def _print(console: PlainConsole, found: Finding) -> None:
    console.print(
        _("{part}: {standing}. {found}").format(
            part=_(_PARTS[found.part]), standing=_(_STANDINGS[found.standing]), found=found.found
        )
    )
    if found.do:
        console.print(f"    {found.do}")
