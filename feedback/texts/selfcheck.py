"""What the check of this computer calls its parts, and how each of them is (pure)."""

from __future__ import annotations

from typing import Final

from shared.language import mark

PARTS: Final = {
    "folder": mark("Records"),
    "disk": mark("Disk"),
    "clock": mark("Clock"),
    "display": mark("Display"),
    "sound": mark("Sound"),
    "camera": mark("Camera"),
    "model": mark("Pose model"),
    "network": mark("Network"),
    "bluetooth": mark("Bluetooth"),
}
"""By the name of the part, in the order in which they are looked at."""
STANDINGS: Final = {
    "good": mark("good"),
    "doubtful": mark("look at this"),
    "missing": mark("not there"),
    "broken": mark("does not work"),
}
"""By the name of the standing."""
CAN_HOLD: Final = mark("A session can be held here.")
CANNOT_HOLD: Final = mark("No session can be held here yet: see what does not work.")
