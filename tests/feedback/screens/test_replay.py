"""The replay window: real windows offscreen, in a process where Qt may live."""

from __future__ import annotations

import json
import os
import subprocess
import sys

import pytest

from feedback.screens.launch import screen_environment
from tests.feedback.screens import look_replay

pytestmark = pytest.mark.window


def run_checks(*names: str, **extra: str) -> dict[str, str]:
    environment = screen_environment(os.environ) | {"QT_QPA_PLATFORM": "offscreen"} | extra
    done = subprocess.run(
        [sys.executable, "-m", "tests.feedback.screens.look_replay", *names],
        env=environment,
        capture_output=True,
        text=True,
        check=False,
        timeout=240,
    )
    assert done.returncode == 0, done.stderr
    results: dict[str, str] = json.loads(done.stdout)
    return results


@pytest.fixture(scope="module")
def looked() -> dict[str, str]:
    return run_checks()


@pytest.mark.parametrize("check", look_replay.CHECKS)
def test_replay_window(looked: dict[str, str], check: str) -> None:
    assert looked[check] == ""


@pytest.mark.parametrize("scale", ["1.5", "2"])
def test_keys_and_sizes_hold_on_a_scaled_desktop(scale: str) -> None:
    names = (
        "check_esc_and_f12_stop_and_nothing_else_does",
        "check_pointing_at_the_time_line_goes_there",
        "check_nothing_is_cut_on_the_smallest_screen",
    )
    assert run_checks(*names, QT_SCALE_FACTOR=scale) == dict.fromkeys(names, "")
