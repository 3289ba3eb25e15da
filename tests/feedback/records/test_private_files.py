"""What is kept is its owner's alone, whatever the umask, and nothing half saved stays."""

from __future__ import annotations

import os
import stat
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from feedback.cli.main import main
from feedback.records.private_files import clear_half_saved, tidy
from feedback.storage.folders import DataFolder, own_folder
from feedback.storage.settings import data_folder
from shared.files import half_saved, save_atomically
from tests.feedback.journal.test_writer import SUMMARY, header, step, written
from tests.feedback.records.command_line import run
from tests.feedback.records.month import short_session
from tests.feedback.records.test_sharing import data, given, result, sent

__all__ = ["data"]  # a fixture
pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no such modes there")
DIE_WHILE_SAVING = """
import os, signal, sys
from pathlib import Path
from shared.files import save_atomically
os.fsync = lambda _: os.kill(os.getpid(), signal.SIGKILL)
save_atomically(Path(sys.argv[1]), b'{"code_name": "Heron", "val')
"""


@pytest.fixture
def open_to_all() -> Iterator[None]:
    before = os.umask(0)
    yield
    os.umask(before)


def modes(folder: Path) -> dict[str, int]:
    """Of everything that others may do something with."""
    every = [folder, *folder.rglob("*")]
    found = {str(path.relative_to(folder)): stat.S_IMODE(path.stat().st_mode) for path in every}
    return {name: mode for name, mode in found.items() if mode & 0o077}


@pytest.mark.usefixtures("open_to_all")
def test_what_is_made_is_for_its_owner_alone_whatever_the_umask(
    data: Path, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    data.rmdir()
    written(data / "sessions" / "one.jsonl", step(1), SUMMARY)
    assert header().view
    assert main(["receive", sent(tmp_path, result(given()))]) == 0
    assert main(["report", "heron"]) == 0
    assert main(["consoles"]) == 0
    assert len(list(data.rglob("*"))) > 8
    assert modes(data) == {}
    assert modes(tmp_path / "XDG_STATE_HOME" / "beltside") == {}
    assert os.umask(0) == 0, "as it was before"


@pytest.mark.usefixtures("open_to_all")
def test_what_older_versions_left_open_is_mended(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = short_session(data / "sessions", "Heron", 1)
    path.chmod(0o666)
    data.chmod(0o755)
    assert set(modes(data)) == {".", "sessions", f"sessions/{path.name}"}
    assert main(["records"]) == 0
    assert modes(data) == {}
    assert capsys.readouterr().err == ""


def test_what_cannot_be_mended_is_told(
    data: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A disk that knows no owners takes the change and does nothing."""
    data.chmod(0o777)
    monkeypatch.setattr(Path, "chmod", lambda *_, **__: None)
    tidy()
    assert f"can get at {data}, and that could not be changed" in capsys.readouterr().err


def half(path: Path) -> Path:
    """What a killed program leaves of a file that it was saving."""
    command = [sys.executable, "-c", DIE_WHILE_SAVING, str(path)]
    assert subprocess.run(command, cwd=Path(__file__).parents[3], check=False).returncode == -9
    (left,) = path.parent.glob(f".{path.name}.*")
    return left


def test_half_saved_files_go_with_the_person_and_by_themselves_after_a_minute(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    short_session(data / "sessions", "Heron", 1)
    left = half(own_folder(DataFolder.BASELINES) / "heron-side-10kmh-1.json")
    assert b"Heron" in left.read_bytes()
    tidy()
    assert left.exists(), "a moment old: an older version may be saving it"
    assert run(capsys, "erase", "heron", "--yes")[0] == 0
    assert not left.exists()
    left = half(own_folder(DataFolder.PROGRESS) / "heron.json")
    os.utime(left, (1, 1))
    tidy()
    assert not left.exists()


def test_a_file_that_is_being_saved_is_left_alone(
    data: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen: list[Path] = []
    real = os.fsync

    def look(file: int) -> None:
        seen.extend(data_folder().glob(".one.json.*"))
        assert list(half_saved(data_folder())) == []
        assert clear_half_saved(data_folder()) == 0
        real(file)

    monkeypatch.setattr(os, "fsync", look)
    save_atomically(data / "one.json", b"{}")
    assert len(seen) == 1
    assert (data / "one.json").read_bytes() == b"{}"
