"""Problems: every one can be told whole, in plain words."""

from __future__ import annotations

import re
import string

import pytest

from shared.problems import PROBLEMS, Problem, UserError, describe


def places(problem: Problem) -> set[str]:
    text = problem.title + problem.meaning + problem.action
    return {name for _, name, _, _ in string.Formatter().parse(text) if name}


@pytest.mark.parametrize("code", PROBLEMS)
def test_every_problem_can_be_described(code: str) -> None:
    values = {name: f"<{name}>" for name in places(PROBLEMS[code])}
    problem = describe(code, "what the library said", **values)
    assert (problem.code, problem.details) == (code, "what the library said")
    whole = problem.title + problem.meaning + problem.action
    assert "{" not in whole
    for value in values.values():
        assert value in whole


@pytest.mark.parametrize("code", PROBLEMS)
def test_every_problem_says_what_it_means_and_what_to_do(code: str) -> None:
    problem = PROBLEMS[code]
    assert re.fullmatch(r"[a-z]+(_[a-z]+)*", code)
    for text in (problem.meaning, problem.action):
        # "{do}" stands for a whole sentence that only the place of the failure can give.
        assert text.endswith(".") or text == "{do}"
        assert text[0].isupper() or text[0] == "{"
    assert len(problem.title) <= 100, "the title is one line on the screen"
    told = f"{problem.title} {problem.meaning} {problem.action}".lower()
    # No promise of a doctor's kind, no programmer's talk, and only a treadmill has the latter.
    for word in ("diagnos", "injur", "exception", "traceback", "null", "emergency"):
        assert word not in told


def test_codes_are_unique_and_a_missing_place_is_a_programming_error() -> None:
    assert all(code == problem.code for code, problem in PROBLEMS.items())
    with pytest.raises(KeyError):
        describe("no_such_problem")
    with pytest.raises(KeyError):
        describe("file_missing")


def test_braces_in_a_value_are_left_alone() -> None:
    assert "{odd}.toml" in describe("file_missing", path="{odd}.toml").title


def test_an_error_carries_its_problem_and_reads_as_what_and_what_to_do() -> None:
    error = UserError("file_missing", path="here.toml")
    assert error.problem == describe("file_missing", path="here.toml")
    assert str(error).startswith("There is no file at here.toml. Check the name")


@pytest.mark.parametrize(
    ("of", "title"),
    [
        ("", "There is no session."),
        (" of Anna B", "There is no session of Anna B."),
        ('  number 5\n of "Anna"', 'There is no session number 5 of "Anna".'),
    ],
)
def test_what_is_filled_in_stays_apart_from_the_words_before(of: str, title: str) -> None:
    assert describe("sessions_missing", of=of, do="Run one first.").title == title
