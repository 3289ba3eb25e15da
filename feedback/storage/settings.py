"""What is set for the records of this computer: which store, how long they are kept."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Final

import msgspec
import platformdirs
import tomlkit
from msgspec import Meta

from feedback.storage.toml_fields import read_fields
from shared.files import save_atomically
from shared.reading import read_toml

FILE: Final = "records.toml"


class Settings(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The fields of ``records.toml`` in the user's data folder; all of them may be left out."""

    store: str = ""
    """``postgresql://...`` for a store that several stations share; empty: a file of the own."""
    keep_days: Annotated[int, Meta(ge=1, le=36500)] | None = None
    """How long sessions are kept; None: until they are erased."""
    signers: tuple[Annotated[str, Meta(pattern="^[0-9a-f]{64}$")], ...] = ()
    """Keys of the clinic's other stations (``signed_by`` in a prescription of theirs): results that
    answer their prescriptions are taken in here too."""
    erase_by_itself: bool = False
    """Whether each session's command first erases what is past that time; else it only says so."""


def data_folder() -> Path:
    """Where all that is recorded lies."""
    return Path(platformdirs.user_data_dir("beltside", appauthor=False))


def read_settings() -> Settings:
    """What is set; the defaults without a file. Raises UserError for a file that is wrong."""
    path = data_folder() / FILE
    return read_fields(path, read_toml(path), Settings) if path.exists() else Settings()


def save_settings(settings: Settings) -> None:
    """Keep them; comments in the file stay, and what is at its default is left out.

    Raises UserError ``save_failed``, or for a file that is wrong as it stands.
    """
    read_settings()
    path = data_folder() / FILE
    text = path.read_text(encoding="utf-8") if path.exists() else ""
    document = tomlkit.parse(text)
    default = Settings()
    for field in Settings.__struct_fields__:
        value = getattr(settings, field)
        if value == getattr(default, field):
            document.pop(field, None)
        elif document.get(field) != value:
            document[field] = list(value) if isinstance(value, tuple) else value
    save_atomically(path, tomlkit.dumps(document).encode())
