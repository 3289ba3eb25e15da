"""No text that people may read has words that a physiotherapist in a hurry would stumble over."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Final

import feedback
import live
import shared
from feedback.texts import camera_check, clinician, home, network, replay, runner, training

STILTED: Final = re.compile(
    r"\banew\b|foretell|whoever|\bvouch|seen to\b|told from noise|\bmade-up\b|\ball the same\b"
    r"|\bmeanwhile\b|by itself\b|by themselves\b|\bwill be gone\b|pictures a second"
    r"|belt runs on|as always|in short\b|\bverdict|the own\b|\bmend\b|nothing is to do"
    r"|holds no\b|have been held|put the camera up|what came of it|put on record"
)
TEXT: Final = re.compile(r"[A-Za-z{}']+ [A-Za-z{}']+")


def pieces(tree: ast.Module) -> Iterator[tuple[int, str]]:
    """Every literal with two words or more, f-strings too, but no docstring and no log line."""
    hidden: set[int] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            hidden.add(id(node.value))
        if isinstance(node, ast.Call) and ast.unparse(node.func).startswith("logging."):
            hidden |= {id(one) for one in ast.walk(node)}
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            if id(node) in hidden or not TEXT.search(node.value):
                continue
            yield node.lineno, node.value


def test_no_text_has_a_stilted_word() -> None:
    found = [
        f"{path}:{line}: {text!r}"
        for package in (feedback, shared, live)
        for path in sorted(Path(next(iter(package.__path__))).rglob("*.py"))
        for line, text in pieces(ast.parse(path.read_text(encoding="utf-8")))
        if STILTED.search(text.lower())
    ]
    assert not found, "\n".join(found)


def test_the_words_of_the_day_stand_where_they_belong() -> None:
    assert runner.words("confirm") == "I have checked these"
    assert runner.words("block_baseline") == "Run normally"
    assert runner.words("stopped_belt").startswith("The belt is still moving")
    assert runner.words("go_on") == clinician.say("go_on") == camera_check.tell("go_on")
    assert home.tell("next") == "Continue"
    assert home.tell("leave") == camera_check.tell("leave") == "Exit"
    assert clinician.say("link_good", age="0.0") == "Connected"
    assert clinician.say("column_own_left").split() == ["Baseline", "L"]
    assert replay.say("anew") == "Refresh"
    assert replay.say("cancel") == "Cancel"
    assert camera_check.tell("no_picture") == "No image. Check the camera."
    assert "predicts nothing" in training.PHRASES["made_up"]
    assert network.phrase("broke").endswith("lost.")
