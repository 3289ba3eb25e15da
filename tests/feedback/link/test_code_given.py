"""How the code for pairing may be given at a console, and what each way says."""

from __future__ import annotations

import io
from pathlib import Path

import pytest

from feedback.cli.commands.console import given_code
from feedback.cli.main import build_parser
from shared.problems import UserError


def code(*words: str) -> str:
    return given_code(build_parser().parse_args(["console", "--pair", *words]), "room 1")


def test_a_code_as_an_option_works_and_is_warned_of(capsys: pytest.CaptureFixture[str]) -> None:
    assert code("--code", "123456") == "123456"
    told = capsys.readouterr().err
    assert "all users of this computer can see a code given with --code" in told
    assert "--code-file" in told
    assert "123456" not in told


def test_a_code_from_a_file_stdin_or_hand_is_in_no_list_of_processes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "code").write_text("123 456\n")
    assert code("--code-file", str(tmp_path / "code")) == "123 456"
    monkeypatch.setattr("sys.stdin", io.StringIO("123456\nmore\n"))
    assert code("--code-file", "-") == "123456"
    monkeypatch.setattr("sys.stdin", io.StringIO("654321\n"))
    assert code() == "654321"
    assert capsys.readouterr().err == ""


@pytest.mark.parametrize("name", ["none", "."])
def test_a_file_that_is_none_is_told(tmp_path: Path, name: str) -> None:
    with pytest.raises(UserError):
        code("--code-file", str(tmp_path / name))
