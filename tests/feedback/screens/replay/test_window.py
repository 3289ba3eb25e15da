"""The replay window: real windows offscreen, in a process where Qt may live."""

from __future__ import annotations

import pytest

from tests.feedback.screens import look_replay
from tests.feedback.screens.looking import run_checks

pytestmark = pytest.mark.window


@pytest.fixture(scope="module")
def looked() -> dict[str, str]:
    return run_checks("look_replay")


@pytest.mark.parametrize("check", look_replay.CHECKS)
def test_replay_window(looked: dict[str, str], check: str) -> None:
    assert looked[check] == ""


@pytest.mark.parametrize("scale", ["2"])
def test_keys_and_sizes_hold_on_a_scaled_desktop(scale: str) -> None:
    names = (
        "check_keys_that_write_nothing_stop_and_nothing_else_does",
        "check_pointing_at_the_time_line_goes_there",
        "check_nothing_is_cut_on_the_smallest_screen",
    )
    assert run_checks("look_replay", *names, QT_SCALE_FACTOR=scale) == dict.fromkeys(names, "")
