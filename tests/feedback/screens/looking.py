"""Runs checks on real windows in a process of their own, and reads what came of them."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import traceback
from collections.abc import Callable, Mapping

from feedback.texts import languages
from shared.child_environment import child_environment

PATIENCE_S = 240


def run_checks(module: str, *names: str, **extra: str) -> dict[str, str]:
    """Have ``tests.feedback.screens.MODULE`` run the checks that are named, or all of its own.

    ``extra`` goes into the environment. What went wrong with each; empty texts where all is well.
    """
    environment = child_environment(os.environ) | {"QT_QPA_PLATFORM": "offscreen"} | extra
    done = subprocess.run(
        [sys.executable, "-m", f"tests.feedback.screens.{module}", *names],
        env=environment,
        capture_output=True,
        text=True,
        check=False,
        timeout=PATIENCE_S,
    )
    assert done.returncode == 0, done.stderr
    results: dict[str, str] = json.loads(done.stdout)
    return results


def report(checks: Mapping[str, Callable[[], None]]) -> None:
    """Run the checks that the command line names, or all, whatever the others did; print a JSON
    object of what went wrong with each. In the other process, once it has its application."""
    languages.follow()
    results = {}
    for name in sys.argv[1:] or checks:
        try:
            checks[name]()
        except Exception:  # noqa: BLE001 - told in the report
            results[name] = traceback.format_exc()
        else:
            results[name] = ""
    print(json.dumps(results))
