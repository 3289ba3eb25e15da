"""The table of hazards in feedback/safety/README.md names only tests that exist."""

from __future__ import annotations

import re
from pathlib import Path

ROOT = Path(__file__).parents[3]


def rows() -> list[list[str]]:
    text = (ROOT / "feedback" / "safety" / "README.md").read_text(encoding="utf-8")
    table = [line for line in text.splitlines() if line.startswith("| ")]
    return [[cell.strip() for cell in line.strip("|").split(" | ")] for line in table[1:]]


def test_every_hazard_has_a_cause_an_answer_and_a_test() -> None:
    found = rows()
    assert len(found) >= 15
    for row in found:
        assert len(row) == 4, row
        assert all(row), row
        assert re.search(r"`tests/\S+::\w+`", row[3]), row


def test_every_test_that_is_named_exists() -> None:
    named = [name for row in rows() for name in re.findall(r"`(tests/\S+::\w+)`", row[3])]
    for name in named:
        path, function = name.split("::")
        code = (ROOT / path).read_text(encoding="utf-8")
        assert f"def {function}(" in code, name
