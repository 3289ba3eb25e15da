"""For developers: collects every text of the program, and brings the catalogues up to it.

``python -m feedback.texts.extract`` reads all modules for ``_``, ``_n`` and ``mark``, adds the
tables, writes ``catalogues/CODE.po`` for each language there is and makes ``CODE.mo`` of it. What
is already translated stays; texts that are no longer there are dropped. A new language: make an
empty file ``catalogues/CODE.po`` first.
"""

from __future__ import annotations

import ast
import sys
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path
from typing import Final

from babel.messages.catalog import Catalog
from babel.messages.extract import extract_from_file
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po

from feedback.cueing.cue_table import CUES
from feedback.texts import camera_check, clinician, home, network, replay, runner, training
from feedback.texts.languages import FOLDER
from shared.catalogue import CATALOGUE, UNITS
from shared.language import ENGLISH
from shared.plain_text import plain_lines
from shared.problems import PROBLEMS
from shared.problems.saving import ADVICE

TOP: Final = Path(__file__).resolve().parents[2]
ROOMS: Final = ("feedback", "live", "shared")
KEYWORDS: Final = {"_": None, "_n": (1, 2), "mark": None, "told": None}
TABLES: Final = {
    "camera_check": camera_check.TEXTS,
    "clinician": clinician.TEXTS,
    "home": home.TEXTS,
    "network": network.PHRASES,
    "replay": replay.TEXTS,
    "runner": runner.TEXTS,
    "training": training.PHRASES,
}
OWN: Final = frozenset({"clinician.now_inside"})
"""Keys whose English text means something else, or is used otherwise, than where it also stands."""
_LETTERLESS: Final = frozenset({"runner.minus", "runner.no_value"})
"""What numbers are written with comes from the language itself."""


def from_tables() -> Iterator[tuple[str | None, str]]:
    """(context or None, text) of all that stands in a table without a mark on it."""
    for table, texts in TABLES.items():
        for key, text in texts.items():
            full = f"{table}.{key}"
            if full not in _LETTERLESS and any(letter.isalpha() for letter in text):
                yield full if full in OWN else None, text
    for problem in PROBLEMS.values():
        for text in (problem.title, problem.meaning, problem.action):
            yield None, text
    for texts_of_code in ADVICE.values():
        for text in texts_of_code:
            yield None, text
    for spec in CATALOGUE.values():
        titles = (spec.title, spec.short_title, spec.runner_title)
        for text in (*titles, spec.definition, spec.sign, spec.averaged, spec.not_offered):
            yield None, text
    for unit in UNITS.values():
        yield None, unit.shown
    for row in CUES.values():
        yield None, row.title
        for tone in (*row.tones.values(), *row.graded.values()):
            yield None, tone.meaning


def from_argparse() -> Iterator[str | tuple[str, str]]:
    """What argparse itself says: all that it asks its gettext functions for."""
    tree = ast.parse(Path(str(sys.modules["argparse"].__file__)).read_text(encoding="utf-8"))
    for node in ast.walk(tree):
        if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Name)):
            continue
        said = [one.value for one in node.args if isinstance(one, ast.Constant)]
        texts = [one for one in said if isinstance(one, str)]
        if node.func.id == "_" and texts:
            yield texts[0]
        elif node.func.id == "ngettext" and len(texts) == 2:
            yield texts[0], texts[1]


def all_texts() -> Catalog:
    """Every text of the program, untranslated."""
    found = Catalog(charset="utf-8")
    for room in ROOMS:
        for path in sorted((TOP / room).rglob("*.py")):
            place = path.relative_to(TOP).as_posix()
            for _line, message, _comments, context in extract_from_file(
                "python", path, keywords=KEYWORDS
            ):
                found.add(message, locations=[(place, 0)], context=context)
    for context, text in from_tables():
        if text:
            found.add(text, context=context)
    for message in from_argparse():
        found.add(message, locations=[("argparse", 0)])
    return found


def read(code: str) -> Catalog:
    """A language's catalogue as its file has it."""
    with (FOLDER / f"{code}.po").open("rb") as file:
        return read_po(file, locale=code)


def compiled(catalogue: Catalog) -> bytes:
    """The ``.mo`` of a catalogue."""
    out = BytesIO()
    write_mo(out, catalogue)
    return out.getvalue()


def codes() -> list[str]:
    """The languages there are catalogues of."""
    return sorted(path.stem for path in FOLDER.glob("*.po"))


def update(code: str) -> tuple[int, int]:
    """Bring one catalogue up to the program; how many texts there are, and how many lack."""
    catalogue, texts = read(code), all_texts()
    catalogue.update(texts, no_fuzzy_matching=True)
    catalogue.obsolete.clear()
    out = BytesIO()
    write_po(out, catalogue, width=100, sort_output=True, omit_header=False, include_lineno=False)
    lines = out.getvalue().decode().splitlines(keepends=True)
    # Times and tools of the day would change the files without a change of any text.
    dropped = ('"PO-Revision-Date', '"Generated-By', '"Last-Translator')
    made = '"POT-Creation-Date'
    kept = [
        f'{made}: 2026-01-01 00:00+0000\\n"\n' if line.startswith(made) else line
        for line in lines
        if not line.startswith(dropped)
    ]
    (FOLDER / f"{code}.po").write_text("".join(kept), encoding="utf-8")
    (FOLDER / f"{code}.mo").write_bytes(compiled(read(code)))
    return len(texts), len(missing(code))


def missing(code: str) -> list[str]:
    """The texts that a language has no translation of."""
    catalogue = read(code)
    lacking = []
    for message in all_texts():
        if not message.id:
            continue
        found = catalogue.get(message.id, message.context)
        translated = found is not None and not found.fuzzy and found.string
        if not translated or (isinstance(translated, tuple | list) and not all(translated)):
            lacking.append(str(message.id))
    return lacking


def main() -> int:
    """Update all catalogues."""
    for code in codes():
        if code != ENGLISH:
            count, lacking = update(code)
            sys.stdout.write(plain_lines(f"{code}: {count} texts, {lacking} not translated\n"))
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
