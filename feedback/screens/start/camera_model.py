"""What the page of the cameras offers, and whether what was typed can be one (pure)."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import PurePath
from typing import Final
from urllib.parse import urlsplit

from feedback.storage.cameras import CameraChoice, CameraKind
from shared.flow import View
from shared.language import _

_SCHEMES: Final = ("http", "https", "rtsp")
_CLIP_VIEWS: Final = (View.SIDE, View.BEHIND)


def device_choices(devices: Iterable[tuple[int, str]]) -> tuple[CameraChoice, ...]:
    """The cameras of this computer."""
    return tuple(
        CameraChoice(kind=CameraKind.DEVICE, value=str(number), name=name)
        for number, name in devices
    )


def clip_choice(view: View) -> CameraChoice | None:
    """The bundled clip seen from there; there is none from the front."""
    if view not in _CLIP_VIEWS:
        return None
    return CameraChoice(kind=CameraKind.CLIP, value=view.value)


def stream_choice(address: str) -> CameraChoice | None:
    """A camera on the network; None where the text is no address of one."""
    text = address.strip()
    try:
        parts = urlsplit(text)
        host = parts.hostname
        parts.port  # noqa: B018 - reading it checks it
    except ValueError:
        return None
    if parts.scheme.lower() not in _SCHEMES or not host or any(c.isspace() for c in text):
        return None
    return CameraChoice(kind=CameraKind.STREAM, value=text)


def file_choice(path: str) -> CameraChoice | None:
    """A video file in place of a camera; None for no file."""
    return CameraChoice(kind=CameraKind.FILE, value=path) if path.strip() else None


def title_of(choice: CameraChoice) -> str:
    """How a camera is called."""
    match choice.kind:
        case CameraKind.DEVICE:
            number = choice.value
            return choice.name or _("Camera {number}").format(number=number)
        case CameraKind.STREAM:
            return _("Network camera: {address}").format(address=choice.described)
        case CameraKind.FILE:
            return _("Video: {name}").format(name=PurePath(choice.value).name)
        case CameraKind.CLIP:
            return _("Simulated runner")


def view_title(view: View) -> str:
    """Where the camera stands, in a word or two."""
    match view:
        case View.SIDE:
            return _("From the side")
        case View.BEHIND:
            return _("From behind")
        case View.FRONT:
            return _("From the front")
