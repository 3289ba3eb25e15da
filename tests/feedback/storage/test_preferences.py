"""What the user prefers on this computer is kept, and a wrong file is named."""

from __future__ import annotations

from pathlib import Path

import pytest

from feedback.storage.preferences import (
    Preferences,
    preferences_path,
    read_preferences,
    save_preferences,
)
from shared.problems import UserError


@pytest.fixture(autouse=True)
def _own_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))


def test_kept_and_read_again() -> None:
    """What was saved is what is read; only what differs from the defaults is written."""
    assert read_preferences() == Preferences()
    wanted = Preferences(language="de", speed_unit="min/km", volume_percent=60)
    save_preferences(wanted)
    assert read_preferences() == wanted
    assert "appearance" not in preferences_path().read_text()


def test_wrong_value_is_named() -> None:
    """A volume over the limit is refused in words, by field."""
    save_preferences(Preferences(language="de"))
    preferences_path().write_text("volume_percent = 150\n")
    with pytest.raises(UserError) as error:
        read_preferences()
    assert "volume_percent" in error.value.problem.title
