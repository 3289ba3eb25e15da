"""Each command has its options beside it, cheap to load, and wrong numbers are told in words."""

from __future__ import annotations

import argparse
import json
import pkgutil
import re
import subprocess
import sys

import pytest

from feedback.cli import commands
from feedback.cli.main import build_parser

ENDING = "_options"
HEAVY = ("cv2", "mediapipe", "PyQt6", "sounddevice", "sqlalchemy", "cryptography", "websockets",
         "rich", "reportlab", "fhir", "zeroconf")  # fmt: skip


def typed() -> set[str]:
    """What the command line knows."""
    (found,) = (
        action
        for action in build_parser()._actions
        if isinstance(action, argparse._SubParsersAction)
    )
    return {command.replace("-", "_") for command in found.choices}


def test_every_command_has_its_options_beside_it_and_can_be_typed() -> None:
    modules = {one.name for one in pkgutil.iter_modules(commands.__path__)}
    options = {name.removesuffix(ENDING) for name in modules if name.endswith(ENDING)}
    assert options == {name for name in modules if not name.endswith(ENDING)}
    assert options == typed()


def test_help_loads_nothing_large() -> None:
    code = (
        "import json, sys; from feedback.cli.main import build_parser; build_parser();"
        "print(json.dumps(sorted(sys.modules)))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=True
    )
    loaded = json.loads(done.stdout)
    works = [
        name
        for name in loaded
        if name.startswith("feedback.cli.commands.") and not name.endswith(ENDING)
    ]
    assert works == []
    assert [name for name in loaded if name.partition(".")[0] in HEAVY] == []


@pytest.mark.parametrize(
    "words",
    [
        ("rehearse", "x.toml", "--seed", "9" * 5_000),
        ("rehearse", "x.toml", "--pain", "9" * 5_000),
        ("session", "x.toml", "--clip", "side", "--number", "9" * 5_000),
        ("report", "--session", "9" * 5_000),
    ],
)
def test_a_number_of_any_length_is_told_in_words(
    words: tuple[str, ...], capsys: pytest.CaptureFixture[str]
) -> None:
    """Python refuses to read so many digits, and the parser would name a function of ours."""
    with pytest.raises(SystemExit):
        build_parser().parse_args(words)
    # Python would say "invalid _whole value"; the digits are cut short further on.
    assert re.match(r"beltside \w+: argument --\w+: '9{9}", capsys.readouterr().err)
