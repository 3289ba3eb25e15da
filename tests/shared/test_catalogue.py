"""The catalogue of measures is whole and agrees with itself."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import msgspec
import pytest

from shared.catalogue import CATALOGUE, UNITS, offered, why_not
from shared.flow import View
from shared.measure_spec import MeasureSpec


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
    assert CATALOGUE["pelvic_shift"].views == {View.BEHIND}
    assert CATALOGUE["arm_crossing"].views == {View.FRONT}


def test_every_unit_is_one_that_screens_and_records_can_write() -> None:
    assert {unit for spec in CATALOGUE.values() for unit in spec.units} <= set(UNITS)
    assert all(name == unit.name and unit.shown and unit.ucum for name, unit in UNITS.items())


def test_no_two_measures_are_called_the_same() -> None:
    for kind in ("title", "short_title", "runner_title"):
        titles = [getattr(spec, kind) for spec in CATALOGUE.values()]
        assert len(set(titles)) == len(titles)


def test_titles_that_were_not_given_are_those_before_them() -> None:
    spec = msgspec.structs.replace(CATALOGUE["cadence"], title="A", short_title="", runner_title="")
    assert (spec.short_title, spec.runner_title) == ("A", "A")
    spec = msgspec.structs.replace(spec, short_title="B", runner_title="")
    assert (spec.title, spec.short_title, spec.runner_title) == ("A", "B", "B")


def test_an_unknown_measure_is_a_programming_error() -> None:
    with pytest.raises(KeyError):
        why_not("composite", View.SIDE)


PRODUCT = [
    path
    for room in ("shared", "live", "feedback")
    for path in sorted((Path(__file__).parents[2] / room).rglob("*.py"))
    if path.name != "catalogue.py"
]


def literals(path: Path) -> Iterator[ast.expr]:
    """All dicts, sets and texts that are written down in a file, but for docstrings."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    told = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    for node in ast.walk(tree):
        if isinstance(node, ast.Dict | ast.Set | ast.Constant) and id(node) not in told:
            yield node


def test_no_other_table_says_something_of_each_measure() -> None:
    """But for what computes them, what is learnt of them, cue lines, and baselines from before."""
    others = set()
    for path in PRODUCT:
        for node in literals(path):
            keys = node.keys if isinstance(node, ast.Dict) else getattr(node, "elts", [])
            names = [key.value for key in keys if isinstance(key, ast.Constant)]
            if sum(name in CATALOGUE for name in names) > 1:
                others.add("/".join(path.parts[-3:]))
    learnt = "side_difference.py"  # what is not named there is 1
    allowed = ("live/measures/", learnt, "texts/runner.py", "cue_table.py", "shared/own_values.py")
    assert [name for name in sorted(others) if not any(one in name for one in allowed)] == []


def test_no_title_is_written_down_a_second_time() -> None:
    titles = {
        title.lower()
        for spec in CATALOGUE.values()
        for title in (spec.title, spec.short_title, spec.runner_title)
        if " " in title
    } - {"belt speed"}  # which is typed in, too
    again = {
        (path.name, title)
        for path in PRODUCT
        for node in literals(path)
        if isinstance(node, ast.Constant) and isinstance(node.value, str)
        for title in titles
        if title in node.value.lower()
    }
    assert again == set()


def test_names_fit_the_column_of_the_store() -> None:
    assert all(len(name) <= 40 for name in CATALOGUE)
