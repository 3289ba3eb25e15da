"""The desktop is asked to leave the screen on, and nothing breaks where nobody can be asked."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys

import pytest

from shared.child_environment import child_environment

ASK = (
    "from PyQt6.QtCore import QCoreApplication;"
    "from feedback.screens.widgets.awake import keep_awake;"
    "app = QCoreApplication([]); keep_awake()"
)
LISTEN = (
    "dbus-monitor --session \"interface='org.freedesktop.ScreenSaver'\" & monitor=$!;"
    'sleep 1; "$0" -c "$1"; sleep 1; kill $monitor'
)
linux = pytest.mark.skipif(sys.platform != "linux", reason="asks the way Linux desktops do")


@linux
@pytest.mark.skipif(
    not all(shutil.which(tool) for tool in ("dbus-run-session", "dbus-monitor")),
    reason="needs a session bus of its own",
)
def test_the_desktop_is_asked() -> None:
    done = subprocess.run(
        ["dbus-run-session", "--", "sh", "-c", LISTEN, sys.executable, ASK],
        env=child_environment(os.environ),
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    assert "member=Inhibit" in done.stdout, done.stderr
    assert 'string "Beltside"' in done.stdout


@linux
def test_a_desktop_that_cannot_be_asked_is_left_alone() -> None:
    environment = child_environment(os.environ)
    environment["DBUS_SESSION_BUS_ADDRESS"] = "unix:path=/nowhere"
    done = subprocess.run(
        [sys.executable, "-c", ASK],
        env=environment,
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    assert done.returncode == 0
    assert "Traceback" not in done.stderr
