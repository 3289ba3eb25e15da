"""The camera check's window and the pages at home: offscreen, on scaled desktops, as processes."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from shared.child_environment import child_environment
from tests.feedback.screens import page_look, setup_look
from tests.feedback.screens.looking import run_checks

pytestmark = pytest.mark.window
SCALED = {
    "setup_look": (
        "check_every_row_of_the_list_is_whole",
        "check_every_button_shows_its_whole_word",
        "check_lines_are_dragged_and_never_meet",
    ),
    "page_look": ("check_every_page_fits_at_every_size",),
}
ALL = [(module.__name__.rpartition(".")[2], check) for module in (setup_look, page_look)
       for check in module.CHECKS]  # fmt: skip


@pytest.fixture(scope="module")
def looked() -> dict[str, dict[str, str]]:
    return {module: run_checks(module) for module in SCALED}


@pytest.mark.parametrize(("module", "check"), ALL)
def test_offscreen(looked: dict[str, dict[str, str]], module: str, check: str) -> None:
    assert looked[module][check] == ""


@pytest.mark.parametrize("scale", ["2"])
@pytest.mark.parametrize("module", SCALED)
def test_sizes_and_lines_hold_on_a_scaled_desktop(module: str, scale: str) -> None:
    names = SCALED[module]
    assert run_checks(module, *names, QT_SCALE_FACTOR=scale) == dict.fromkeys(names, "")


@pytest.mark.parametrize(
    ("module", "arguments", "said"),
    [
        ("camera_check", ["--port", "1"], "beltside check"),
    ],
)
def test_a_screen_without_its_station_says_what_to_do(
    module: str, arguments: list[str], said: str
) -> None:
    done = subprocess.run(
        [sys.executable, "-m", f"feedback.screens.{module}.window", *arguments],
        env=child_environment(os.environ),
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    assert done.returncode == 2
    assert done.stderr.count("\n") == 1
    assert said in done.stderr
