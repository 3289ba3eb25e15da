"""The demo is played as loud, and where, as it is set on this computer."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

import pytest

from feedback.cli.commands import demo
from feedback.storage.preferences import Preferences, save_preferences


class AskedForSoundError(Exception):
    """Ends the command where it opens the sound."""


def test_volume_and_output_that_are_kept_hold_for_the_demo(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    save_preferences(Preferences(volume_percent=40, sound_device="Desk"))
    asked: dict[str, Any] = {}

    def open_sound(*_: object, **how: object) -> None:
        asked.update(how)
        raise AskedForSoundError

    monkeypatch.setattr(demo, "open_sound", open_sound)
    monkeypatch.setattr(demo, "model_path", lambda _: tmp_path)
    monkeypatch.setattr(demo, "PoseModel", lambda _: None)
    options = argparse.Namespace(
        view="side",
        model=None,
        no_sound=False,
        volume=None,
        headless=True,
        no_report=True,
        seconds=None,
    )
    with pytest.raises(AskedForSoundError):
        demo.run(options)
    assert asked == {"percent": 40, "device": "Desk"}
