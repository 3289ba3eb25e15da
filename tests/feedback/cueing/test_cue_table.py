"""One table of cues: a cue more is one row more, and no other table names kinds of cues."""

from __future__ import annotations

import ast
import json
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[3]
TABLE = ROOT / "feedback" / "cueing" / "cue_table.py"


def test_a_cue_more_is_one_row_more(tmp_path: Path) -> None:
    """It is planned, sounded, shown to runner and clinician, logged, recorded and reported."""
    done = subprocess.run(
        [sys.executable, "-m", "tests.feedback.cueing.one_more_cue", str(tmp_path)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    said = json.loads(done.stderr.splitlines()[-1])
    assert said["planned"] == ["holding", "hold", "cue_holding"]
    assert said["sounded"] == ["holding"], "its rank is over that of the cues before and after it"
    assert said["shown"] == "Keep this rhythm"
    assert "  Well held: " in said["log"]
    assert said["entries"] == said["record"] == ["holding"]
    assert said["report"] == ["Cues: 1 well held."]
    assert "CUE    well held: " in done.stdout
    assert done.stdout.rstrip().endswith('- "Keep this rhythm"')
    assert said["speech"] == ["say_cue_holding"]
    assert said["recording"] == "keep_this_rhythm.wav"


def keyed_by_kind(tree: ast.AST) -> Iterator[int]:
    """Lines of the tables in ``tree`` with kinds as keys, or as two of the cases at least."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Dict):
            found = any(_is_kind(key) for key in node.keys)
        elif isinstance(node, ast.Match):
            patterns = [one for case in node.cases for one in ast.walk(case.pattern)]
            found = sum(map(_is_kind, patterns)) >= 2
        else:
            continue
        if found:
            yield node.lineno


def _is_kind(node: ast.AST | None) -> bool:
    return (
        isinstance(node, ast.Attribute)
        and isinstance(node.value, ast.Name)
        and node.value.id == "CueKind"
    )


def test_no_second_table_is_keyed_by_kinds_of_cues() -> None:
    found = [
        f"{path.relative_to(ROOT)}:{line}"
        for room in ("shared", "live", "feedback")
        for path in (ROOT / room).rglob("*.py")
        if path != TABLE
        for line in keyed_by_kind(ast.parse(path.read_text(encoding="utf-8")))
    ]
    assert found == []


@pytest.mark.parametrize(
    "source",
    [
        'TITLES = {CueKind.BEAT: "beat"}',
        "match kind:\n    case CueKind.BEAT:\n        a\n    case CueKind.STOP:\n        b",
    ],
)
def test_a_second_table_would_be_seen(source: str) -> None:
    assert list(keyed_by_kind(ast.parse(source)))
