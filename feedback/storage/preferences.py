"""What the user prefers on this computer: language, units, looks, sound; kept as a TOML file."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Final, Literal

import msgspec
import tomli_w
from msgspec import Meta

from feedback.storage.settings import data_folder
from feedback.storage.toml_fields import read_fields
from shared.files import save_atomically
from shared.reading import read_toml

FILE: Final = "preferences.toml"


class Preferences(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The fields of ``preferences.toml`` in the user's data folder; all of them may be left out."""

    language: Annotated[str, Meta(pattern="^([a-z]{2,3})?$")] = ""
    """Such as ``de``; empty: as the system says (``LANG``)."""
    speed_unit: Literal["km/h", "mph", "min/km", "min/mile"] = "km/h"
    length_unit: Literal["cm", "ft/in"] = "cm"
    appearance: Literal["system", "light", "dark"] = "system"
    volume_percent: Annotated[int, Meta(ge=10, le=100)] = 100
    """Of the loudest that the limits allow; never above them."""
    runner_monitor: str = ""
    """Name of the monitor of the runner's screen, where there are several; empty: the first."""
    panel_monitor: str = ""
    """The same for the clinician's panel; empty: the last."""
    sound_device: str = ""
    """Name of the sound output; empty: the system's own."""
    treadmill: Annotated[str, Meta(max_length=64)] = ""
    """What sessions begun from the start window listen to: its name, or ``any``; empty: nothing."""
    heart_strap: Annotated[str, Meta(max_length=64)] = ""
    """The same for a heart rate strap."""
    foot_pod: Annotated[str, Meta(max_length=64)] = ""
    """The same for a foot pod."""

    @property
    def sensor_words(self) -> tuple[str, ...]:
        """What stands for the sensors after a command that holds a session."""
        wanted = (
            ("--treadmill", self.treadmill),
            ("--heart-strap", self.heart_strap),
            ("--foot-pod", self.foot_pod),
        )
        # in one word: a name that begins with a dash is no option
        return tuple(f"{option}={name}" for option, name in wanted if name)


def preferences_path() -> Path:
    """Where they are kept."""
    return data_folder() / FILE


def read_preferences() -> Preferences:
    """What is preferred; the defaults without a file. Raises UserError for a file that is wrong."""
    path = preferences_path()
    return read_fields(path, read_toml(path), Preferences) if path.exists() else Preferences()


def save_preferences(preferences: Preferences) -> None:
    """Keep them. Raises UserError ``save_failed``."""
    default = Preferences()
    changed = {
        field: value
        for field in Preferences.__struct_fields__
        if (value := getattr(preferences, field)) != getattr(default, field)
    }
    save_atomically(preferences_path(), tomli_w.dumps(changed).encode())
