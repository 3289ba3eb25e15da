"""What the station and the runner's screen agree on when one starts the other."""

from __future__ import annotations

from typing import Final

TOKEN_VARIABLE: Final = "BELTSIDE_TOKEN"  # noqa: S105 - the name of a variable
"""Carries the token: unlike an argument, other users of the computer cannot read it."""
BESIDE: Final = "--beside"
"""The runner's screen and the panel are opened together: on one monitor they share it."""
DISTANCE_M: Final = 2.0
"""From the runner's eyes to the screen, where nothing else is said."""
