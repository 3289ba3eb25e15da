"""In the rooms that are finished, no words for people stand outside the catalogues."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Final

import feedback

TOP: Final = Path(next(iter(feedback.__path__))).parent
FINISHED: Final[tuple[str, ...]] = (
    *("feedback/safety", "feedback/storage", "feedback/athlete_files", "feedback/journal"),
    *("feedback/sound", "feedback/camera_check", "live/camera", "live/scene"),
)
"""Rooms; more may come, none may go."""
ALLOWED: Final[dict[str, frozenset[str]]] = {
    "feedback/camera_check/preview.py": frozenset(  # a process that only the program starts
        {
            "A camera's picture; for the program.",
            "which camera numbers give pictures",
            "as everywhere; a preview always does",
        }
    ),
    "feedback/athlete_files/trust.py": frozenset({"the first one used"}),  # as it is kept
    "feedback/athlete_files/prescriptions.py": frozenset({"dict[str, Any]"}),
}
"""What is no text for people although it looks like one, by file."""
THROUGH: Final = frozenset({"_", "_n", "mark", "told", "N_"})
NOT_SHOWN: Final = re.compile(
    r"^(logging|log|_log|re|logger)\b|(Error|Exception)$|\.(compile|error|warning|debug|info|split"
    r"|startswith|endswith|replace|partition|execute|strftime|encode|setObjectName)$|^(text|Meta|"
    r"AssertionError|format_|quote)$"
)
WORDS: Final = re.compile(r"[A-Za-z][a-z]+[,;:.]? [a-zA-Z]")


def loose(tree: ast.Module) -> Iterator[tuple[int, str]]:
    """Every literal of two words or more that no catalogue is asked for."""
    hidden: set[int] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            hidden.add(id(node.value))
        elif isinstance(node, ast.Call):
            name = ast.unparse(node.func)
            if name in THROUGH or NOT_SHOWN.search(name):
                hidden |= {id(one) for one in ast.walk(node)}
        elif isinstance(node, ast.Raise) and node.exc is not None and _is_ours(node.exc):
            hidden |= {id(one) for one in ast.walk(node)}
    for node in ast.walk(tree):
        text = node.value if isinstance(node, ast.Constant) and id(node) not in hidden else None
        if isinstance(text, str) and WORDS.search(text) and not text.startswith("# "):
            yield getattr(node, "lineno", 0), text


def _is_ours(error: ast.expr) -> bool:
    """An error of programming, which nobody reads."""
    kinds = ("ValueError", "RuntimeError", "TypeError")
    return isinstance(error, ast.Call) and ast.unparse(error.func) in kinds


def test_no_words_stand_outside_the_catalogues() -> None:
    found = []
    for room in FINISHED:
        at = TOP / room
        for path in [at] if at.is_file() else sorted(at.rglob("*.py")):
            name = path.relative_to(TOP).as_posix()
            for line, text in loose(ast.parse(path.read_text(encoding="utf-8"))):
                if text not in ALLOWED.get(name, ()):
                    found.append(f"{name}:{line}: {text!r}")
    assert not found, "\n".join(found)


def test_words_outside_would_be_found() -> None:
    source = 'say("Nothing was done.")\nsay(f"It is {a} now.")\nsay(_("All is well."))\n"a b"'
    assert [line for line, _ in loose(ast.parse(source))] == [1, 2]
