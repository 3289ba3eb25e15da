"""Whose movement, body and clothes a case shows: what is left out in turn, to learn and judge.

Drawn by one hand is one source. What is learnt from a source says little of how well it holds on
people that it was not learnt from, so every figure is judged on a source left out.
"""

from __future__ import annotations

from typing import Any, Final

RUNNER_A, RUNNER_B, RUNNER_C = "captured runner A", "captured runner B", "captured runner C"
FIRST, WIDENED, SECOND = "first gait", "first gait, widened", "second gait"
MOVEMENTS: Final = {
    "captured_t25": RUNNER_A,
    "captured_t35": RUNNER_A,
    "captured_ric15": RUNNER_B,
    "captured_ric03": RUNNER_C,
    "spring": SECOND,
    "wide": WIDENED,
}
"""By how the names of their cases begin; all others are of the first gait."""


def movement_of(meta: dict[str, Any]) -> str:
    """Whose movement a case shows: a captured runner's, or one of the gaits drawn for this."""
    name = str(meta["name"])
    return next((who for start, who in MOVEMENTS.items() if name.startswith(start)), FIRST)


def look_of(meta: dict[str, Any]) -> str:
    """The clothes on the legs, which is what the pose model has trouble with."""
    return str(meta["look"]["lower"])


def true_in(meta: dict[str, Any], name: str) -> bool:
    """Whether the case's truth is true for a measure: not all of a runner was captured."""
    measures = meta.get("true_measures")
    return measures is None or name in measures
