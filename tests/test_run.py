"""The start script: it installs what is missing, once, and then does what was asked."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
FAKE_PYTHON = """#!/bin/sh
[ "$1" = -c ] && exit 0
echo "python $*" >>"$LOG"
"""
FAKE_BELTSIDE = """#!/bin/sh
echo "beltside $*; in $PWD"
"""


@pytest.fixture
def checkout(tmp_path: Path) -> Path:
    """A bare checkout with a space in its path and a virtual environment that only takes notes."""
    folder = tmp_path / "a checkout"
    (folder / ".venv" / "bin").mkdir(parents=True)
    for name in ("run", "pyproject.toml", "requirements.txt"):
        shutil.copy(ROOT / name, folder / name)
    add_program(folder / ".venv" / "bin" / "python", FAKE_PYTHON)
    add_program(folder / ".venv" / "bin" / "beltside", FAKE_BELTSIDE)
    return folder


def add_program(path: Path, text: str) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")
    path.chmod(0o755)


def start(checkout: Path, *words: str, present: str, user: int) -> subprocess.CompletedProcess[str]:
    """Start ``run`` where ``present`` packages are installed, as the user with that number."""
    fakes = checkout.parent / "bin"
    add_program(fakes / "dpkg-query", f"#!/bin/sh\nprintf 'ii %s\\n' {present}\n")
    add_program(fakes / "id", f"#!/bin/sh\necho {user}\n")
    add_program(fakes / "apt-get", '#!/bin/sh\necho "apt-get $*" >>"$LOG"\n')
    environment = {
        "PATH": f"{fakes}:/usr/bin:/bin",
        "LOG": str(checkout.parent / "log"),
        "HOME": str(checkout.parent),
    }
    return subprocess.run(
        [str(checkout / "run"), *words],
        cwd=checkout.parent,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )


def log_of(checkout: Path) -> list[str]:
    log = checkout.parent / "log"
    return log.read_text(encoding="utf-8").splitlines() if log.exists() else []


def libraries() -> str:
    """The system libraries that the script looks for."""
    found = re.search(r'(?m)^libraries="([^"]+)"', (ROOT / "run").read_text(encoding="utf-8"))
    assert found
    return " ".join(found[1].split())


def test_the_script_installs_once_and_passes_the_words_on(checkout: Path) -> None:
    first = start(checkout, "measure", "my clip.mp4", present=libraries(), user=1000)
    assert first.returncode == 0, first.stderr
    assert first.stdout == f"beltside measure my clip.mp4; in {checkout.parent}\n"
    installs = log_of(checkout)
    assert [line for line in installs if "--require-hashes" in line]
    assert [line for line in installs if "--editable" in line and "--no-index" in line]
    again = start(checkout, "demo", present=libraries(), user=1000)
    assert (again.stdout, again.stderr) == (f"beltside demo; in {checkout.parent}\n", "")
    assert log_of(checkout) == installs


def test_the_script_installs_anew_when_the_pins_have_changed(checkout: Path) -> None:
    start(checkout, "demo", present=libraries(), user=1000)
    before = len(log_of(checkout))
    with (checkout / "requirements.txt").open("a", encoding="utf-8") as file:
        file.write("# changed\n")
    start(checkout, "demo", present=libraries(), user=1000)
    assert len(log_of(checkout)) > before


def test_without_rights_the_script_shows_the_one_line_to_type(checkout: Path) -> None:
    there = libraries().replace("libportaudio2", "").replace("libegl1", "")
    told = start(checkout, "demo", present=there, user=1000)
    assert told.returncode == 1
    assert told.stdout == ""
    last = told.stderr.splitlines()[-1]
    assert last == "sudo apt-get install --no-install-recommends libegl1 libportaudio2"
    assert log_of(checkout) == []


def test_as_root_the_script_installs_just_what_is_missing(checkout: Path) -> None:
    there = libraries().replace("libportaudio2", "")
    told = start(checkout, "demo", present=there, user=0)
    assert told.returncode == 0, told.stderr
    installs = [line for line in log_of(checkout) if line.startswith("apt-get install")]
    assert installs == ["apt-get install --yes --no-install-recommends libportaudio2"]


def test_ci_runs_the_command_of_the_readme() -> None:
    assert (ROOT / ".ci" / "run").read_text(encoding="utf-8").splitlines()[-1] == "exec ./run test"
    assert "./run test" in (ROOT / "README.md").read_text(encoding="utf-8")
    for script in (ROOT / "run", ROOT / ".ci" / "run"):
        assert os.access(script, os.X_OK)
