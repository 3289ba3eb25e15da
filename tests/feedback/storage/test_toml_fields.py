"""What is wrong in a file is found by its values, never read out of an error's wording."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedback.storage import toml_fields
from feedback.storage.toml_fields import read_fields
from shared.problems import UserError
from shared.reading import read_toml
from shared.targets import Athlete, Drill

PROFILES = Path(__file__).parents[3] / "profiles"
ATHLETE: dict[str, Any] = read_toml(next((PROFILES / "athletes").glob("*.toml")))
VALUES = st.sampled_from([7, -1, 1.5, "x", "", True, [], [1], ["x"], {}, [{}], {"low": 1}])


def refused(table: dict[str, Any], kind: type[msgspec.Struct] = Athlete) -> str:
    with pytest.raises(UserError) as caught:
        read_fields(Path("f.toml"), table, kind)
    return caught.value.problem.title


@pytest.mark.parametrize(
    ("name", "shown"),
    [
        ("zz` - at `$.code_name", "7"),  # ends as an error of the library does
        ("zz` - at `$", "7"),
        ("targets[0]", "7"),  # looks like the way to another value
        ("limits.longest_min", "7"),
    ],
)
def test_a_name_may_look_like_any_part_of_an_error(name: str, shown: str) -> None:
    told = f"In f.toml, the field {name} is {shown}: there is no such field"
    assert refused({name: 7, **ATHLETE}).startswith(told)


def places(value: object, place: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    inner: list[tuple[Any, Any]] = []
    if isinstance(value, dict):
        inner = list(value.items())
    elif isinstance(value, list):
        inner = list(enumerate(value))
    return [place, *(found for key, one in inner for found in places(one, (*place, key)))]


def changed(value: Any, place: tuple[str | int, ...], new: object) -> Any:
    if not place:
        return new
    key, *rest = place
    copy: Any = dict(value) if isinstance(value, dict) else list(value)
    copy[key] = changed(value[key], tuple(rest), new)
    return copy


@given(st.lists(st.tuples(st.sampled_from(places(ATHLETE)[1:]), VALUES), min_size=1, max_size=3))
def test_the_first_fault_is_the_one_that_the_library_stops_at(
    changes: list[tuple[tuple[str | int, ...], object]],
) -> None:
    table: Any = ATHLETE
    for place, new in changes:
        if place in places(table):
            table = changed(table, place, new)
    try:
        msgspec.convert(table, Athlete)
    except msgspec.ValidationError as error:
        said = str(error)
    else:
        return
    at = re.search(r" - at `\$\.?(.*)`$", said)
    name = re.search(r"field `(.*?)`", said)
    wanted = ".".join(part for part in (at and at[1], name and name[1]) if part)
    assert toml_fields._first_fault(table, Athlete, "").field == wanted


def test_a_file_of_another_kind_is_named_as_such() -> None:
    assert "an athlete's profile" in refused(ATHLETE, Drill)
