"""A data folder of a test's own, and commands run in it as a person types them."""

from __future__ import annotations

import importlib
from pathlib import Path

import pytest

from feedback.cli.main import build_parser
from feedback.storage.settings import data_folder
from feedback.terminal.guard import two_lines
from shared.problems import UserError


def fresh_data_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Where the program keeps its data from now on, for this test."""
    for name in ("XDG_DATA_HOME", "XDG_STATE_HOME"):
        monkeypatch.setenv(name, str(tmp_path / name))
    folder = data_folder()
    assert tmp_path in folder.parents
    folder.mkdir(parents=True)
    return folder


def run(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str, str]:
    """As the command line does, without its guard over the whole process."""
    capsys.readouterr()
    options = build_parser().parse_args(words)
    command = importlib.import_module(f"feedback.cli.commands.{options.command}")
    code, told = 1, ""
    try:
        code = command.run(options)
    except UserError as error:
        told = two_lines(error.problem)
    out, err = capsys.readouterr()
    return code, out, err + told
