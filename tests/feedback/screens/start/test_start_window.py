"""The start window: real pages with real keys, and how soon it is there."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

from shared.child_environment import child_environment
from tests.feedback.screens import start_pages_look
from tests.feedback.screens.looking import run_checks

pytestmark = pytest.mark.window
HEAVY = ("mediapipe", "cv2", "sounddevice", "sqlalchemy", "reportlab", "live")
"""What measures, stores or prints: none of it is the start window's own work."""
OPENS_WITHIN_S = 4.0
"""Our choice: three times what it takes on two busy processors."""


@pytest.fixture(scope="module")
def looked(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    home = tmp_path_factory.mktemp("start")
    return run_checks(
        "start_pages_look",
        XDG_DATA_HOME=str(home / "data"),
        XDG_CONFIG_HOME=str(home / "config"),
        XDG_STATE_HOME=str(home / "state"),
        XDG_CACHE_HOME=str(home / "cache"),
        LANG="C.UTF-8",
    )


@pytest.mark.parametrize("check", start_pages_look.CHECKS)
def test_offscreen(looked: dict[str, str], check: str) -> None:
    assert looked[check] == ""


def test_it_is_there_soon_and_loads_nothing_that_measures(tmp_path: Path) -> None:
    code = (
        "import json, sys; from feedback.screens.widgets.application import make_app;"
        "from feedback.screens.start.window import StartWindow; app = make_app();"
        "window = StartWindow(); window.show(); app.processEvents();"
        "print(json.dumps(sorted(sys.modules))); window.jobs.end_all()"
    )
    environment = child_environment(os.environ) | {
        "QT_QPA_PLATFORM": "offscreen",
        "XDG_DATA_HOME": str(tmp_path),
    }
    began = time.monotonic()
    done = subprocess.run(
        [sys.executable, "-c", code],
        env=environment,
        capture_output=True,
        text=True,
        timeout=60,
        check=True,
    )
    spent_s = time.monotonic() - began
    loaded = {name.partition(".")[0] for name in json.loads(done.stdout)}
    assert not loaded & set(HEAVY)
    assert spent_s < OPENS_WITHIN_S
