"""Measures and units are called what their rows in the catalogue say."""

from __future__ import annotations

import pytest

from feedback.texts.measures import full_title, runner_title, short_title, unit_text
from shared.catalogue import CATALOGUE
from shared.flow import Side


def test_each_reader_has_a_title_of_its_own_with_the_side() -> None:
    assert full_title("strike_ahead") == "Foot ahead of hips at contact"
    assert short_title("strike_ahead", Side.LEFT) == "Foot ahead at contact, left"
    assert runner_title("strike_ahead", Side.RIGHT) == "Foot ahead at landing, right"


@pytest.mark.parametrize("measure", CATALOGUE)
def test_the_shorter_title_is_no_longer(measure: str) -> None:
    assert len(short_title(measure)) <= len(full_title(measure)) <= 32
    assert len(runner_title(measure)) <= 22


def test_degrees_are_a_sign_on_screens() -> None:
    assert unit_text("deg") == "\u00b0"
