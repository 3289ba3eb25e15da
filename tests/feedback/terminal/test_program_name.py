"""What is told to be typed next can be typed: as the program was started."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from feedback.terminal.program_name import TYPED, as_called


def test_commands_are_told_as_they_can_be_typed(monkeypatch: pytest.MonkeyPatch) -> None:
    text = "Next: beltside plan x; 'beltside erase --expired'. Beltside is beltside here."
    monkeypatch.delenv(TYPED, raising=False)
    assert as_called(text) == text
    monkeypatch.setenv(TYPED, "./run")
    assert as_called(text) == (
        "Next: ./run plan x; './run erase --expired'. Beltside is beltside here."
    )
    kept = "~/.config/beltside run it in /opt/beltside run.beltside plan"
    assert as_called(kept) == kept


def test_a_problem_is_told_so(tmp_path: Path) -> None:
    environment = {**os.environ, TYPED: "./run", "XDG_DATA_HOME": str(tmp_path)}
    words = [
        sys.executable,
        "-m",
        "feedback.cli.main",
        "prescribe",
        "--athlete",
        "heron",
        "--drill",
        "quick_steps",
    ]
    told = subprocess.run(words, env=environment, capture_output=True, text=True, check=False)
    assert told.returncode != 0
    assert "Take one first: ./run baseline --athlete heron" in told.stderr
    assert "beltside baseline" not in told.stderr
