"""Long work says what it is at on a terminal, and nothing anywhere else."""

from __future__ import annotations

import os
import pty
import subprocess
import sys

SCRIPT = """
import time
from feedback.cli.common.progress_bar import busy
with busy("Filling the store") as tell:
    tell("7 sessions")
    time.sleep(0.5)
"""


def test_a_terminal_is_told_what_is_done_and_how_to_break_it_off() -> None:
    here, there = pty.openpty()
    done = subprocess.run([sys.executable, "-c", SCRIPT], stderr=there, check=False, timeout=60)
    os.close(there)
    said = os.read(here, 100_000).decode()
    os.close(here)
    assert done.returncode == 0
    assert "Filling the store: 7 sessions" in said
    assert "Ctrl+C" in said


def test_a_file_gets_nothing() -> None:
    done = subprocess.run(
        [sys.executable, "-c", SCRIPT], capture_output=True, check=False, timeout=60
    )
    assert (done.returncode, done.stdout, done.stderr) == (0, b"", b"")
