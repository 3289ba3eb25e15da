"""What the measures and their units are called, from their rows in the catalogue (pure)."""

from __future__ import annotations

from feedback.texts.runner import side_name, words
from shared.catalogue import CATALOGUE, UNITS
from shared.flow import Side
from shared.language import _


def full_title(measure: str, side: Side | None = None) -> str:
    """The trade's term for a measure, with its side where it has one. KeyError: no such measure."""
    return _of_side(_(CATALOGUE[measure].title), side)


def short_title(measure: str, side: Side | None = None) -> str:
    """The same where there is little room."""
    return _of_side(_(CATALOGUE[measure].short_title), side)


def runner_title(measure: str, side: Side | None = None) -> str:
    """The same in everyday words, for the runner's own screen."""
    return _of_side(_(CATALOGUE[measure].runner_title), side)


def unit_text(unit: str) -> str:
    """A unit as screens write it after a number. KeyError: no such unit."""
    return _(UNITS[unit].shown)


def _of_side(title: str, side: Side | None) -> str:
    return title if side is None else words("title_one_side", measure=title, side=side_name(side))
