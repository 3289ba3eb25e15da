"""The catalogue of measures is whole and agrees with itself."""

from __future__ import annotations

import pytest

from feedback.texts.runner import TEXTS
from shared.catalogue import CATALOGUE, NOT_MEASURED, MeasureSpec, offered, why_not
from shared.flow import View


@pytest.mark.parametrize("spec", CATALOGUE.values(), ids=CATALOGUE)
def test_every_measure_is_fully_defined(spec: MeasureSpec) -> None:
    assert CATALOGUE[spec.name] is spec
    for text in (spec.title, spec.definition, spec.sign, spec.source, spec.averaged):
        assert text.strip() == text != ""
    assert spec.definition.endswith(".")
    assert spec.views
    assert spec.units
    assert len(set(spec.units)) == len(spec.units)
    low, high = spec.plausible
    assert low < high
    assert 0.0 < spec.quality_floor < 1.0
    assert 0 <= spec.decimals <= 2
    if spec.not_offered:
        assert spec.not_offered.endswith(".")


@pytest.mark.parametrize("view", View)
def test_what_a_view_gives_and_why_it_does_not_give_the_rest(view: View) -> None:
    given = offered(view)
    assert [spec.name for spec in given] == [name for name in CATALOGUE if not why_not(name, view)]
    for name, spec in CATALOGUE.items():
        if view not in spec.views:
            assert why_not(name, view) == "not from this view"
        else:
            assert why_not(name, view) == spec.not_offered


def test_the_measures_that_must_be_right_come_from_their_views() -> None:
    assert all("cadence" in {spec.name for spec in offered(view)} for view in View)
    assert CATALOGUE["strike_ahead"].views == {View.SIDE}
    assert CATALOGUE["pelvic_shift"].views == {View.BEHIND, View.FRONT}
    assert CATALOGUE["arm_crossing"].views == {View.FRONT}


def test_every_given_measure_and_unit_has_words_on_the_screen() -> None:
    for spec in CATALOGUE.values():
        for unit in spec.units:
            assert f"unit_{unit}" in TEXTS
        if not spec.not_offered:
            assert f"measure_{spec.name}" in TEXTS


def test_an_unknown_measure_is_a_programming_error() -> None:
    with pytest.raises(KeyError):
        why_not("composite", View.SIDE)


def test_what_landmarks_cannot_give_is_named_and_is_no_measure() -> None:
    assert NOT_MEASURED
    assert not set(NOT_MEASURED) & set(CATALOGUE)
