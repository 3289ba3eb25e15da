"""Checks on real offscreen windows of panel and console; runs in a process of its own.

``python -m tests.feedback.screens.panel_look`` prints a JSON object: each check with what went
wrong, or an empty text.
"""

from __future__ import annotations

import os
from collections.abc import Callable

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

from feedback.screens.widgets.application import make_app
from tests.feedback.screens import (
    console_look,
    outside_seen,
    panel_hands,
    panel_keys,
    panel_seen,
    panel_volume,
)
from tests.feedback.screens.looking import report

CHECKS: dict[str, Callable[[], None]] = {
    name: value
    for module in (panel_seen, panel_keys, panel_hands, panel_volume, console_look, outside_seen)
    for name, value in vars(module).items()
    if name.startswith("check_") and name != "check_label"
}


def main() -> None:
    """Run the checks that are named, or all, whatever the others did."""
    _app = make_app()
    report(CHECKS)


if __name__ == "__main__":
    main()
