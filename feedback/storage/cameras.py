"""Which camera was used last, by runner and view; kept as a TOML file in the data folder."""

from __future__ import annotations

from collections.abc import Iterable
from enum import StrEnum
from pathlib import Path
from typing import Final
from urllib.parse import urlsplit

import msgspec
import tomli_w

from feedback.storage.settings import data_folder
from feedback.storage.toml_fields import read_fields
from shared.files import save_atomically
from shared.flow import View
from shared.problems import UserError
from shared.reading import read_toml

FILE: Final = "cameras.toml"
_ANYBODY: Final = "anybody"
_CLIPS: Final = Path(__file__).parent.parent / "demo"


class CameraKind(StrEnum):
    """What pictures come from."""

    DEVICE = "device"
    STREAM = "stream"
    """A camera on the network."""
    FILE = "file"
    """A video file in place of a camera."""
    CLIP = "clip"
    """The bundled clip of a simulated runner."""


class CameraChoice(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One camera, as it was chosen."""

    kind: CameraKind
    value: str = ""
    """Number of the device, address, path, or the clip's view."""
    name: str = ""
    """Of a device, as the system calls it; numbers change when cameras are plugged in anew."""

    @property
    def words(self) -> tuple[str, ...]:
        """What stands for it after a command."""
        match self.kind:
            case CameraKind.DEVICE:
                return ("--camera", self.value)
            case CameraKind.STREAM:
                return ("--stream", self.value)
            case CameraKind.FILE:
                return ("--file", self.value, "--loop")
            case CameraKind.CLIP:
                return ("--clip", self.value)

    @property
    def described(self) -> str:
        """As the source describes itself, by which its place is remembered."""
        match self.kind:
            case CameraKind.DEVICE:
                return f"camera {self.value}"
            case CameraKind.STREAM:
                parts = urlsplit(self.value)
                return parts._replace(netloc=parts.netloc.rpartition("@")[2]).geturl()
            case CameraKind.CLIP:
                return str(_CLIPS / f"{self.value}.mp4")
            case CameraKind.FILE:
                return self.value

    @property
    def is_recorded(self) -> bool:
        """Whether nobody is on a belt: the pictures come from a file."""
        return self.kind in (CameraKind.FILE, CameraKind.CLIP)


class _Kept(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The file: by runner's id (or "anybody"), then by view."""

    used: dict[str, dict[str, CameraChoice]] = {}


def remembered_camera(person_id: str, view: View) -> CameraChoice | None:
    """The camera used last for this runner and view, else for anybody in it; None for none.

    A file that cannot be read only loses what was remembered.
    """
    used = _read().used
    for whose in (person_id, _ANYBODY):
        found = used.get(whose, {}).get(view.value)
        if found is not None:
            return found
    return None


def remember_camera(person_id: str, view: View, choice: CameraChoice) -> None:
    """Keep it for this runner and view, and for whoever comes next. Raises ``save_failed``."""
    used = {whose: dict(by_view) for whose, by_view in _read().used.items()}
    for whose in (person_id, _ANYBODY):
        if whose:
            used.setdefault(whose, {})[view.value] = choice
    save_atomically(_path(), tomli_w.dumps(msgspec.to_builtins(_Kept(used=used))).encode())


def found_again(choice: CameraChoice, devices: Iterable[tuple[int, str]]) -> CameraChoice | None:
    """A device by its name among those there now (number, name); None where it is not there."""
    if choice.kind is not CameraKind.DEVICE:
        return choice
    there = list(devices)
    for number, name in there:
        if name == choice.name and str(number) == choice.value:
            return choice
    for number, name in there:
        if name == choice.name:
            return msgspec.structs.replace(choice, value=str(number))
    return None


def _path() -> Path:
    return data_folder() / FILE


def _read() -> _Kept:
    path = _path()
    try:
        return read_fields(path, read_toml(path), _Kept) if path.exists() else _Kept()
    except UserError:
        return _Kept()
