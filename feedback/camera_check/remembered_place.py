"""Remembers where a camera stood when its check was passed: belt edges, room, runner's size."""

from __future__ import annotations

from typing import Final

import msgspec
import numpy as np

from feedback.safety.hazards import Edges
from feedback.storage.folders import make_private, save_json
from feedback.storage.place_files import place_path
from live.scene.background import HEIGHT, WIDTH, Backdrop
from shared.flow import View
from shared.pictures import BeltEdges
from shared.problems import UserError
from shared.reading import read_json

_PIXELS: Final = HEIGHT * WIDTH


class RememberedPlace(msgspec.Struct, frozen=True, kw_only=True):
    """A place of one camera in one view."""

    view: View
    kept_utc: str
    edges: BeltEdges | None
    """None: drifting back is not watched."""
    grey: bytes
    """The room in 64 x 48 grey pixels, in which nobody can be known; row by row."""
    known: bytes
    """1 for each pixel of it that was seen free of the runner, else 0."""
    height_share: float | None = None
    """The runner's height in the picture then, share of it."""

    @property
    def backdrop(self) -> Backdrop:
        """The room as the camera watch takes it."""
        return Backdrop(
            grey=np.frombuffer(self.grey, np.uint8).reshape(HEIGHT, WIDTH).astype(np.float64),
            known=np.frombuffer(self.known, np.uint8).reshape(HEIGHT, WIDTH) > 0,
        )

    @property
    def belt(self) -> Edges | None:
        """The edges as a session watches them."""
        return None if self.edges is None else belt_of(self.view, self.edges)


def belt_of(view: View, edges: BeltEdges) -> Edges | None:
    """Edges as a session watches them; None when the two cannot be told apart."""
    try:
        return Edges(view, edges.rear, edges.front)
    except ValueError:
        return None


def place_of(
    view: View,
    kept_utc: str,
    edges: BeltEdges | None,
    backdrop: Backdrop,
    height_share: float | None,
) -> RememberedPlace:
    """A place to keep."""
    return RememberedPlace(
        view=view,
        kept_utc=kept_utc,
        edges=edges,
        grey=backdrop.grey.round().astype(np.uint8).tobytes(),
        known=backdrop.known.astype(np.uint8).tobytes(),
        height_share=height_share,
    )


def save_place(source: str, place: RememberedPlace) -> None:
    """Keep it for this source of pictures, in place of one before. Raises ``save_failed``."""
    path = place_path(source, place.view)
    make_private(path.parent)
    save_json(path, place)


def find_place(source: str, view: View) -> RememberedPlace | None:
    """What is remembered of this source and view; None for nothing that can be used."""
    try:
        place = read_json(place_path(source, view), RememberedPlace, "a camera's place")
    except UserError:
        return None  # the check is made anew, which is all that is lost
    whole = len(place.grey) == _PIXELS and len(place.known) == _PIXELS
    return place if whole and place.view is view else None
