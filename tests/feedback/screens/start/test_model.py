"""Where Back leads, whom a search finds, and how a chart's axis is divided."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedback.screens.start.form_model import LIMITS, RUNNER, TARGET, FieldKind, number_typed
from feedback.screens.start.model import Context, History, PageName, Place
from feedback.screens.start.people import (
    LastSession,
    PersonRow,
    found,
    in_order,
    last_sessions,
    with_sessions,
)
from feedback.screens.start.records_model import Own, Point, Series, Value, span, ticks
from feedback.texts.profile_fields import CHOICES, FIELDS
from shared.targets import CueStyle

PEOPLE = History(Place(PageName.PEOPLE))


def test_back_leads_through_the_pages_in_their_order() -> None:
    there = PEOPLE.opened(Place(PageName.WAY, Context(code_name="A")))
    further = there.opened(Place(PageName.CAMERA))
    assert further.back() == there
    assert further.back().back() == PEOPLE
    assert not PEOPLE.can_go_back
    assert PEOPLE.back() == PEOPLE


def test_the_same_page_about_somebody_else_takes_its_place() -> None:
    one = PEOPLE.opened(Place(PageName.RECORDS, Context(code_name="A")))
    other = one.opened(Place(PageName.RECORDS, Context(code_name="B")))
    assert other.back() == PEOPLE
    assert other.section is PageName.PEOPLE


def test_going_round_the_sections_does_not_pile_up() -> None:
    history = PEOPLE
    for _ in range(5):
        for page in (PageName.CAMERA, PageName.SOUND, PageName.PEOPLE):
            history = history.chosen(page)
    assert len(history.before) <= 3


def test_a_search_finds_parts_of_names_whatever_their_capitals_and_accents() -> None:
    rows = (PersonRow("Émeu", "1", Path("a")), PersonRow("Ruff", "2", next_words="Baseline"))
    assert [one.code_name for one in found(rows, "éme")] == ["Émeu"]
    assert [one.code_name for one in found(rows, "RUFF base")] == ["Ruff"]
    assert found(rows, "ruff émeu") == ()
    assert found(rows, "") == rows


def test_whoever_is_in_the_store_alone_is_listed_too_and_the_made_up_come_last() -> None:
    rows = (PersonRow("Aa", "1", example=True), PersonRow("Zz", "2", Path("z")))
    known = {"2": LastSession("Zz", 3, "2026-11-30T10:00:00+00:00"), "9": LastSession("M", 1, "")}
    made = in_order(with_sessions(rows, known))
    assert [one.code_name for one in made] == ["M", "Zz", "Aa"]
    assert (made[1].sessions, made[1].last_words) == (3, "2026-11-30")
    assert made[0].profile is None


@pytest.mark.parametrize("data", [None, [], {"people": 3}, {"people": [{}, {"id": 1}, None]}])
def test_what_is_no_list_of_people_is_nobody(data: object) -> None:
    assert last_sessions(data) == {}


def test_every_field_of_a_profile_has_a_name_and_every_choice_too() -> None:
    for spec in (*RUNNER, *LIMITS, *TARGET):
        assert spec.key in FIELDS, spec
        assert spec.allowed
    assert {spec.key for spec in (*RUNNER, *LIMITS, *TARGET)} | {"athlete_id"} == set(FIELDS)
    assert {style.value for style in CueStyle} <= set(CHOICES)
    kinds = {spec.name: spec.kind for spec in TARGET}
    assert kinds["cues"] is FieldKind.CHOICES
    assert kinds["average_steps"] is FieldKind.WHOLE
    assert kinds["low"] is FieldKind.NUMBER


def test_numbers_are_read_as_people_type_them() -> None:
    assert number_typed("1,5", whole=False) == 1.5
    assert number_typed("2.5", whole=True) is None
    assert number_typed("3", whole=True) == 3
    assert number_typed("x", whole=False) is None


@given(st.floats(-500, 500), st.floats(0.01, 1000))
def test_an_axis_has_a_few_round_values_within_its_ends(low: float, wide: float) -> None:
    found_ticks = ticks(low, low + wide)
    assert 1 <= len(found_ticks) <= 12
    assert all(low - 1e-6 <= one <= low + wide + 1e-6 for one in found_ticks)


def test_a_chart_shows_all_of_the_uncertainty_and_the_own_value() -> None:
    point = Point(utc="2026-11-30T10:00:00+00:00", cued=Value(value=165.0, half=3.0), uncued=None)
    own = Own(value=150.0, half=1.0, words="baseline")
    series = Series(title="Cadence", unit="steps/min", decimals=1, own=own, points=(point,))
    low, high = span(series)
    assert low < 149.0
    assert high > 168.0
