"""Text from outside at the edges: the command line, files that people write, old records."""

from __future__ import annotations

import ast
import json
import logging
import os
import re
import shutil
import subprocess
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import msgspec
import pytest
from rich.table import Table

import feedback
from feedback.athlete_files.athletes import bundled_athletes, read_profile
from feedback.athlete_files.drills import read_drill
from feedback.cli.main import main
from feedback.journal.entries import NoteEntry
from feedback.records.page.html import as_html
from feedback.records.page.page import PrintedPage, TextLines
from feedback.storage.folders import DataFolder, bundled_folder
from feedback.storage.settings import data_folder
from feedback.terminal import guard
from feedback.terminal.tables import PlainConsole
from shared.problems import UserError, describe
from tests.feedback.outside import WICKED, WICKED_NAME, assert_fit, drawn_in
from tests.feedback.records.month import short_session

ROOT = Path(feedback.__file__).parent


@pytest.fixture
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    for name in ("XDG_DATA_HOME", "XDG_STATE_HOME", "XDG_CONFIG_HOME"):
        monkeypatch.setenv(name, str(tmp_path / name))
    folder = data_folder()
    assert tmp_path in folder.parents
    folder.mkdir(parents=True)
    return folder


@dataclass(frozen=True)
class Said:
    """What a command said, and how it ended."""

    code: int
    out: str
    err: str


Beltside = Callable[..., Said]


@pytest.fixture
def beltside(data: Path, capfd: pytest.CaptureFixture[str]) -> Beltside:
    """The command line; what it says must be fit, whatever it was given."""

    def run(*words: str) -> Said:
        capfd.readouterr()
        try:
            code = main(words)
        except SystemExit as end:
            code = int(str(end.code))
        said = Said(code, *capfd.readouterr())
        assert_fit(said.out)
        assert_fit(said.err)
        return said

    return run


def profile(folder: Path, name: str, code_name: str) -> Path:
    text = bundled_athletes()[0].text
    old = f'code_name = "{bundled_athletes()[0].athlete.code_name}"'
    assert old in text
    path = folder / name
    path.write_text(text.replace(old, f'code_name = "{code_name}"'), encoding="utf-8")
    return path


# the command line


@pytest.mark.parametrize(
    "words",
    [
        ["demo", "--bogus\x1b[2J"],
        ["run", "--athlete", "x", "--camera", "0", "more\x1b]52;c;aGk=\x07"],
        ["pair", "--station-name", "\u202e1 moor"],
        ["console", "--headless", "--name", "de\u200bsk"],
        ["console", "--address", "\x9b31m\u2066 1"],
    ],
)
def test_wrong_usage_repeats_nothing_that_steers(beltside: Beltside, words: list[str]) -> None:
    assert beltside(*words).code == guard.WRONG_USAGE


@pytest.mark.parametrize(
    ("words", "named"),
    [
        (["pair", "--station-name", "\u202e1 moor"], "U+202E (right-to-left override)"),
        (["console", "--headless", "--name", "de\u200bsk"], "U+200B (zero width space)"),
    ],
)
def test_a_typed_name_is_refused_with_the_character_named(
    beltside: Beltside, words: list[str], named: str
) -> None:
    assert named in beltside(*words).err


@pytest.mark.parametrize(
    "words",
    [
        ["measure", "x\x1b[2J\u202e.mp4", "--view", "side"],
        ["run", "--athlete", "no\x1b[2J\u202ebody", "--camera", "0"],
        ["consoles", "--remove", "de\u202esk\x9b"],
        ["plan", "x\x1b[2J.toml"],
        ["records", "no\x1b[2Jbody"],
    ],
)
def test_a_problem_repeats_nothing_that_steers(beltside: Beltside, words: list[str]) -> None:
    assert beltside(*words).code == guard.PROBLEM


def test_bytes_that_are_no_text_are_told_and_break_nothing(beltside: Beltside) -> None:
    path = os.fsdecode(b"x\xff\x9b.mp4")
    assert beltside("measure", path, "--view", "side").code == guard.PROBLEM


def test_files_with_odd_names_are_listed_as_text(data: Path, beltside: Beltside) -> None:
    folder = data / "athletes"
    folder.mkdir()
    profile(folder, "od\x1b[2Jd\u202e.toml", "Heron")
    said = beltside("athletes").out
    assert "od\ufffd[2Jd" in said


def test_what_is_said_and_told_is_fit(capsys: pytest.CaptureFixture[str]) -> None:
    guard.say(f"Before you start:\n  1. {WICKED_NAME}")
    guard.tell(describe("station_silent", address=WICKED, why=WICKED))
    out, err = capsys.readouterr()
    assert_fit(out)
    assert out.startswith("Before you start:\n  1. =1\ufffd[2Jseman\ufffd<b>\n")
    assert_fit(err)
    assert err.count("\n") == 2


def test_tables_show_texts_as_they_are(capsys: pytest.CaptureFixture[str]) -> None:
    table = Table(title="[b]Names[/b]")
    table.add_column("name")
    table.add_row(WICKED.replace("\n", ""))
    console = PlainConsole(soft_wrap=True)
    console.print(table)
    console.print(f"{WICKED_NAME} [red]x[/red] :smile:")
    out, _ = capsys.readouterr()
    assert_fit(out)
    assert "[red]x[/red] :smile:" in out
    assert "[b]Names[/b]" in out


def test_the_log_is_fit() -> None:
    record = logging.LogRecord("library", logging.ERROR, "", 1, "got %s", (WICKED_NAME,), None)
    assert_fit(guard._PlainFormatter("%(name)s %(message)s").format(record))


def test_all_that_goes_to_the_terminal_goes_by_the_one_place() -> None:
    """Nothing else writes to stdout or stderr than constant texts, plain ones, and JSON."""
    wrong = []
    for path in ROOT.rglob("*.py"):
        if path.parent.name == "terminal" and path.name in ("output.py", "tables.py"):
            continue
        tree = ast.parse(path.read_text(encoding="utf-8"))
        for node in ast.walk(tree):
            if isinstance(node, ast.ImportFrom) and node.module == "rich.console":
                wrong.append(f"{path.name}:{node.lineno} rich")
            if not isinstance(node, ast.Call):
                continue
            called = ast.unparse(node.func)
            if called not in ("sys.stdout.write", "sys.stderr.write", "print", "input"):
                continue
            given = ast.unparse(node.args[0])
            fit = re.match(
                r"(plain_lines?|say|tell|words|two_lines)\(|'[^{]*'$|f'\{plain_lines", given
            )
            if not fit and not (
                path.name == "measure.py" and ("_ENCODER" in given or "line" in given)
            ):
                wrong.append(f"{path.name}:{node.lineno} {given}")
    assert wrong == []


# files that people write


@pytest.mark.parametrize(
    ("name", "shown"),
    [
        ("He\\u202Eron", "U+202E (right-to-left override), which cannot be read"),
        ("He\\u200Bron", "U+200B (zero width space), which cannot be read"),
        ("He\\u3164ron", "U+3164 (hangul filler), which cannot be read"),
        ("He\\u001Bron", "U+001B, which cannot be read"),
        ("He\\u0000ron", "U+0000, which cannot be read"),
    ],
)
def test_a_code_name_is_refused_with_the_character_named(
    tmp_path: Path, name: str, shown: str
) -> None:
    path = profile(tmp_path, "x.toml", name)
    with pytest.raises(UserError) as caught:
        read_profile(path)
    assert shown in caught.value.problem.title
    assert "code_name" in caught.value.problem.title
    assert_fit(guard.two_lines(caught.value.problem))


def test_a_drills_title_and_aims_are_names_and_its_notes_are_free(tmp_path: Path) -> None:
    text = next(bundled_folder(DataFolder.DRILLS).glob("*.toml")).read_text(encoding="utf-8")
    path = tmp_path / "x.toml"
    path.write_text(
        'notes = "soft\\u00ADhyphen\\nand a second line"\n' + re.sub(r"(?m)^notes.*\n", "", text)
    )
    assert "\n" in read_drill(path).notes
    title = re.sub(r'(?m)^title = "', 'title = "\\\\u2066', text)
    path.write_text(title)
    with pytest.raises(UserError, match=r"field title .*U\+2066"):
        read_drill(path)
    aim = re.sub(r'(?m)^name = "', 'name = "\\\\u2066', text)
    path.write_text(aim)
    with pytest.raises(UserError, match=r"field aims\[0\]\.name .*U\+2066"):
        read_drill(path)


# records


def old_record(folder: Path, code_name: str) -> Path:
    """As an older version wrote it, which took any note from a console."""
    path = short_session(folder, code_name, 1)
    lines = path.read_bytes().splitlines()
    note = NoteEntry(at_ns=20_000_000_000, text=WICKED, source=f"console {WICKED_NAME}")
    raw = json.loads(msgspec.json.encode(note))
    assert raw["text"] == WICKED
    lines.insert(len(lines) - 2, json.dumps(raw).encode())
    path.write_bytes(b"\n".join(lines) + b"\n")
    return path


def test_nothing_of_a_note_or_a_name_steers_what_is_made_of_a_record(
    data: Path, tmp_path: Path, beltside: Beltside
) -> None:
    old_record(data / "sessions", WICKED_NAME)
    assert "sessions" not in beltside("records").err
    made = {kind: tmp_path / f"out.{kind}" for kind in ("html", "pdf", "csv", "json", "fhir.json")}
    for kind, path in made.items():
        if kind in ("html", "pdf"):
            done = beltside("report", WICKED_NAME, "--out", str(path))
        else:
            words = ["--format", "fhir"] if kind == "fhir.json" else []
            done = beltside("export", WICKED_NAME, *words, "--out", str(path))
        assert done.code == guard.OK, done.err
    html = made["html"].read_text(encoding="utf-8")
    assert_fit(html.replace("\t", ""))  # the charts are set in with tabs
    assert "Forged: line two" in html  # what is text in it is still there
    assert "&lt;img src=x&gt;" in html
    assert "<img" not in html
    drawn = drawn_in(made["pdf"].read_bytes())
    assert b"Forged: line two" in drawn
    assert not re.search(rb"[\x00-\x09\x0b-\x1f\x7f]|\\0[0-3][0-7]", drawn)
    if shutil.which("pdfinfo"):
        assert_fit(subprocess.run(["pdfinfo", made["pdf"]], capture_output=True, check=True).stdout)
    csv = made["csv"].read_text(encoding="utf-8-sig")
    assert_fit(csv.replace("\r\n", "\n"))
    assert "'=1\ufffd[2Jseman" in csv
    assert_fit(made["fhir.json"].read_bytes())
    notes = json.loads(made["json"].read_bytes())["sessions"][0]["remarks"]
    assert_fit(notes[0]["text"])
    assert_fit(notes[0]["source"])


@pytest.mark.parametrize("name", ["=1+1", "+1", "-1", "@x", "\uff1d1", "\t=1", "\u200b=1", "\r@x"])
def test_no_cell_of_a_table_is_a_formula(
    data: Path, tmp_path: Path, beltside: Beltside, name: str
) -> None:
    """OWASP, CSV injection: no cell may begin with one of these signs."""
    short_session(data / "sessions", name, 1)
    out = tmp_path / "o.csv"
    assert beltside("export", name, "--out", str(out)).code == guard.OK
    cells = out.read_text(encoding="utf-8-sig").splitlines()[1].split(",")
    assert cells[1][:2] in ("'=", "'+", "'-", "'@", "'\uff1d")


def test_words_read_from_the_right_stay_among_themselves_in_a_report() -> None:
    page = PrintedPage(
        title="דנה 3: Session 2 of 8",
        subtitle="10 km/h",
        parts=(TextLines("Done", ("1:05 min: note by office: כאב 3 מתוך 10.",)),),
        small_print=(),
    )
    html = as_html(page)
    assert "<h1><bdi>דנה 3</bdi>: Session 2 of 8</h1>" in html
    assert "note by office: <bdi>כאב 3 מתוך 10</bdi>.</li>" in html
    assert "<title>דנה 3: Session 2 of 8</title>" in html  # no markup there
