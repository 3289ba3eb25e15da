"""How the code for pairing may be given at a console, and what each way says."""

from __future__ import annotations

import io
import socket
import subprocess
import sys
from pathlib import Path

import pytest

from feedback.cli.commands import console
from feedback.cli.commands.console import given_code, run
from feedback.cli.main import build_parser
from shared.problems import UserError
from tests.feedback.records.command_line import fresh_data_folder


@pytest.fixture
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    return fresh_data_folder(tmp_path, monkeypatch)


def nobodys_port() -> int:
    """A port of this computer at which nothing listens."""
    with socket.socket() as there:
        there.bind(("127.0.0.1", 0))
        return int(there.getsockname()[1])


def code(*words: str) -> str:
    return given_code(build_parser().parse_args(["console", "--pair", *words]), "room 1")


def told_of(words: str, capsys: pytest.CaptureFixture[str]) -> str:
    with pytest.raises(UserError):
        run(build_parser().parse_args(["console", *words.split()]))
    return capsys.readouterr().err


def test_a_code_as_an_option_works_and_is_warned_of(
    data: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert code("--code", "123456") == "123456"
    words = f"--code 123456 --address 127.0.0.1:{nobodys_port()}"
    told = told_of(words, capsys)
    assert "all users of this computer could see the code for a moment" in told
    assert "--code-file" in told
    assert "123456" not in told
    monkeypatch.setattr(console, "hide_argument", lambda _code: False)
    told = told_of(words, capsys)
    assert "all users of this computer can see a code given with --code" in told


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere it cannot be hidden, which is told")
@pytest.mark.parametrize("given", [["--code", "123456"], ["--code=123456"]])
def test_a_code_as_an_option_is_taken_out_of_the_list_of_processes(given: list[str]) -> None:
    program = (
        "from pathlib import Path\n"
        "from feedback.terminal.hidden_argument import hide_argument\n"
        "print(hide_argument('123456'))\n"
        "print(Path('/proc/self/cmdline').read_text().split(chr(0))[3:])"
    )
    words = [sys.executable, "-c", program, *given, "1234567", "room"]
    done = subprocess.run(words, capture_output=True, text=True, check=True)
    shown = [one.replace("123456", "xxxxxx") for one in given]
    assert done.stdout == f"True\n{[*shown, '1234567', 'room', '']}\n", "a longer word is another"


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
