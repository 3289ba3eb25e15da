"""What the pixels of a picture show, as values (pure)."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class PictureFacts:
    """What the pixels of one picture show."""

    at_ns: int
    brightness: float
    """Median grey level, 0 to 255."""
    burnt_share: float
    """Share of the picture that is (nearly) white."""
    body_brightness: float | None
    """Median grey level of the body's box; None without a body."""
    around_burnt_share: float | None
    """Like ``burnt_share``, outside the body's box."""
    softness: float
    """Blur, 0 (sharp) to 1 (Crete et al. 2007)."""
    roll_deg: float | None
    """Of the room's upright lines: + when they lean to the left; None where there are too few."""
