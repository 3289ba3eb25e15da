"""What ``measure --json`` writes is what its JSON Schema says, and the schema refuses all else."""

from __future__ import annotations

import importlib.resources
import json
import math
import os
import subprocess
import sys
from collections.abc import Mapping
from typing import Any

import pytest

from feedback.cli.measure_lines import schema_text
from feedback.demo import demo_clip
from shared.child_environment import child_environment
from shared.flow import View

FILE = importlib.resources.files("feedback.cli") / "measure_lines.schema.json"
SCHEMA: dict[str, Any] = json.loads(FILE.read_text(encoding="utf-8"))
NOTES = {"$schema", "$defs", "title", "description"}
TYPES: Mapping[str, tuple[type, ...]] = {
    "object": (dict,),
    "array": (list,),
    "string": (str,),
    "boolean": (bool,),
    "integer": (int,),
    "number": (int, float),
    "null": (type(None),),
}


def fits(value: Any, rule: Any) -> bool:
    """Whether a value is as a schema says; KeyError for a word of it that is not known here."""
    if isinstance(rule, bool):
        return rule
    return all(_fits(value, rule, word, rule[word]) for word in rule if word not in NOTES)


def _fits(value: Any, rule: Mapping[str, Any], word: str, said: Any) -> bool:
    is_object, is_array = isinstance(value, dict), isinstance(value, list)
    is_number = isinstance(value, int | float) and not isinstance(value, bool)
    match word:
        case "$ref":
            return fits(value, SCHEMA["$defs"][said.removeprefix("#/$defs/")])
        case "anyOf":
            return any(fits(value, one) for one in said)
        case "enum":
            return value in said
        case "type":
            return isinstance(value, TYPES[said]) and isinstance(value, bool) == (said == "boolean")
        case "minimum":
            return not is_number or (value >= said and math.isfinite(value))
        case "maximum":
            return not is_number or value <= said
        case "minItems":
            return not is_array or len(value) >= said
        case "items":
            return not is_array or all(fits(one, said) for one in value)
        case "required":
            return not is_object or set(said) <= set(value)
        case "properties":
            return not is_object or all(
                fits(one, said[name]) for name, one in value.items() if name in said
            )
        case "additionalProperties":
            known = rule.get("properties", {})
            return not is_object or all(
                fits(one, said) for name, one in value.items() if name not in known
            )
    raise KeyError(word)


@pytest.fixture(scope="module")
def measured() -> list[dict[str, Any]]:
    return lines_of(View.SIDE, 0)


def lines_of(typed: View, code: int) -> list[dict[str, Any]]:
    """What is written of the clip from the side."""
    words = ("measure", str(demo_clip(View.SIDE)), "--view", typed.value, "--height-cm", "172")
    done = subprocess.run(
        [sys.executable, "-m", "feedback.cli.main", *words, "--json"],
        env=child_environment(os.environ),
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == code, done.stderr
    return [json.loads(line) for line in done.stdout.splitlines()]


def test_the_file_is_made_from_the_lines() -> None:
    assert FILE.read_text(encoding="utf-8") == schema_text()


@pytest.mark.model
def test_every_line_of_a_clip_fits(measured: list[dict[str, Any]]) -> None:
    assert [line for line in measured if not fits(line, SCHEMA)] == []
    assert {next(iter(line)) for line in measured} == {"event", "measure", "summary"}
    assert {"percent_leg" in line for line in measured if "measure" in line} == {True, False}


@pytest.mark.model
def test_every_line_fits_where_nothing_is_measured() -> None:
    lines = lines_of(View.BEHIND, 3)
    assert [next(iter(line)) for line in lines] == ["unmeasured", "summary"]
    assert all(fits(line, SCHEMA) for line in lines)


@pytest.mark.model
def test_every_field_of_every_line_counts(measured: list[dict[str, Any]]) -> None:
    kinds = {next(iter(line)): line for line in measured if "percent_leg" not in line}
    for line in kinds.values():
        assert not fits(line | {"more": 1}, SCHEMA)
        for name in line:
            assert not fits({key: line[key] for key in line if key != name}, SCHEMA), name
            assert not fits(line | {name: ["odd"]}, SCHEMA), name
    event, summary = kinds["event"], kinds["summary"]["summary"]
    for wrong in ({"side": "middle"}, {"quality": 1.2}, {"event": "hop"}, {"at_s": None}):
        assert not fits(event | wrong, SCHEMA), wrong
    for name in summary:
        less = {key: summary[key] for key in summary if key != name}
        assert not fits({"summary": less}, SCHEMA), name
