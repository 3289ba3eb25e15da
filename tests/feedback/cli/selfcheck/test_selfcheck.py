"""The command on this very computer: every part is looked at, and scripts can read it."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

pytestmark = pytest.mark.model


def _selfcheck(folder: Path, *words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "feedback.cli", "selfcheck", *words],
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, "XDG_DATA_HOME": str(folder), "QT_QPA_PLATFORM": "offscreen"},
    )


def test_each_part_is_told_as_json(tmp_path: Path) -> None:
    """The real disk, clock, display and pose model of this computer; status by what is broken."""
    done = _selfcheck(tmp_path, "--json")
    found = {line["part"]: line for line in map(json.loads, done.stdout.splitlines())}
    assert list(found) == [
        *("folder", "disk", "clock", "display", "sound"),
        *("camera", "model", "network", "bluetooth"),
    ]
    assert found["folder"]["standing"] == "good"
    assert found["folder"]["found"].startswith(f"Kept in {tmp_path}")
    assert "ms a frame" in found["model"]["found"]
    assert "800 x 800" in found["display"]["found"]  # what Qt's offscreen platform has
    broken = [part for part, line in found.items() if line["standing"] == "broken"]
    assert done.returncode == bool(broken), found
    assert done.stderr == ""


def test_a_folder_that_cannot_be_used_is_named(tmp_path: Path) -> None:
    """Where a file stands in the folder's way, the check says so, goes on, and ends with 1."""
    (tmp_path / "beltside").write_text("in the way")
    done = _selfcheck(tmp_path)
    assert done.returncode == 1
    assert "Records: does not work" in done.stdout
    assert "Pose model:" in done.stdout
    assert "No session can be held here yet" in done.stdout
