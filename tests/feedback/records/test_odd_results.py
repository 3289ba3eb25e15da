"""Results from home that cannot be, or that come twice, and what they do to everybody else's."""

from __future__ import annotations

import contextlib
import json
import sqlite3
from collections.abc import Callable
from pathlib import Path
from typing import Any

import msgspec
import pytest

from feedback.athlete_files.prescriptions import signed, write_prescription
from feedback.athlete_files.signatures import own_key
from feedback.journal.writer import sessions_folder
from feedback.records.database import default_file
from feedback.records.home_results import Received
from feedback.records.store import Store
from feedback.records.sync import sync
from feedback.storage.folders import DataFolder, own_folder
from feedback.storage.settings import data_folder
from shared.targets import Prescription
from tests.feedback.records.command_line import run
from tests.feedback.records.month import prescription, short_session
from tests.feedback.records.test_sharing import data, given, result, sent, slower

__all__ = ["data"]  # a fixture

Change = Callable[[dict[str, Any]], None]


def put(*path: str | int, value: object) -> Change:
    def change(table: dict[str, Any]) -> None:
        inside: Any = table
        for part in path[:-1]:
            inside = inside[part]
        inside[path[-1]] = value

    return change


MEAN = ("blocks", 1, "means", 0)
ABSURD: dict[str, Change] = {
    "sd": put(*MEAN, "sd", value=1e200),
    "sem": put(*MEAN, "sem", value=1e308),
    "stated": put(*MEAN, "stated", value=1e9),
    "mean": put(*MEAN, "mean", value=-1e200),
    "values": put(*MEAN, "values", value=2**63),
    "values in range": put(*MEAN, "values", value=2**62),
    "measure": put(*MEAN, "name", value="height"),
    "steps": put("blocks", 0, "steps", value=2**63),
    "steps in range": put("blocks", 0, "steps", value=2**40),
    "block": put("blocks", 0, "number", value=2**63),
    "seconds": put("blocks", 0, "seconds", value=1e300),
    "cues": put("blocks", 0, "cues", value={"out_of_band": 2**62}),
    "cue": put("blocks", 0, "cues", value={"x" * 10_000: 1}),
    "cued": put("blocks", 0, "cued", value="height"),
    "kept": put(
        "blocks",
        0,
        "kept",
        value=[{"measure": "cadence", "side": None, "judged": 1, "inside": 2}],
    ),
    "blocks": lambda table: table.update(blocks=table["blocks"] * 2000),
    "means": lambda table: table["blocks"][1].update(means=table["blocks"][1]["means"] * 2000),
    "planned": put("planned_s", value=1e300),
    "number": put("session", "number", value=2**63),
    "another number": put("session", "number", value=99),
    "no number": put("session", "number", value=0),
    "started": put("session", "started_unix_s", value=-(2**62)),
    "share": put("session", "share_done", value=1e300),
    "levels": put("session", "levels", value={"steps": 2**62}),
    "date": put("started_utc", value="0001-01-01T00:00:00+14:00"),
    "last date": put("started_utc", value="9999-12-31T23:59:59-14:00"),
    "clock": put("started_utc", value="1970-01-01T00:00:00+00:00"),
    "no zone": put("started_utc", value="2025-04-02T18:00:00"),
    "source": put("source", value="x" * 100_000),
    "made with": put("made_with", value="\0"),
}


def changed(tmp_path: Path, made: Prescription, change: Change) -> str:
    path = Path(sent(tmp_path, result(made)))
    table = json.loads(path.read_bytes())
    change(table)
    path.write_text(json.dumps(table))
    return str(path)


def test_what_cannot_be_is_refused_in_words_and_nothing_is_written(
    data: Path, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    made = given()
    for name, change in ABSURD.items():
        code, out, err = run(capsys, "receive", changed(tmp_path, made, change))
        assert (code, out) == (1, ""), name
        assert "was not accepted" in err or "cannot be read" in err, name
    assert not list(data.glob("sessions/*"))
    assert run(capsys, "receive", changed(tmp_path, made, lambda _: None))[0] == 0


def test_one_bad_record_hides_no_other(
    data: Path, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """As an older version took it in: kept among the records, and again at each look."""
    made = given()
    bad = json.loads(msgspec.json.encode(Received(result=result(made), prescription=made)))
    bad["result"]["blocks"][0]["means"][0]["values"] = 2**62
    folder = sessions_folder()
    good = short_session(folder, "Plover", 1)
    (folder / "2025-04-02T160000Z-heron.home.json").write_text(json.dumps(bad))
    clock = good.read_bytes().splitlines()
    clock[0] = clock[0].replace(b'"wall_utc":"2025', b'"wall_utc":"0001')
    (folder / "2025-04-03T160000Z-plover.jsonl").write_bytes(b"\n".join(clock) + b"\n")
    for words in (("records",), ("report", "plover"), ("progress", "plover"), ("rebuild",)):
        code, out, err = run(capsys, *words)
        assert (code, bool(out)) == (0, True), err
        assert "2025-04-02T160000Z-heron.home.json is skipped" in err
    assert "Plover: 1 session\n" in run(capsys, "records")[1]


def test_a_row_that_an_older_version_stored_hides_no_other(
    data: Path, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    for number in (1, 2, 3):
        short_session(sessions_folder(), "Heron", number)
    assert run(capsys, "records", "heron")[0] == 0
    with contextlib.closing(sqlite3.connect(default_file())) as connection, connection:
        (first,) = connection.execute("SELECT min(id) FROM session").fetchone()
        connection.execute("UPDATE mean SET sd = 1e200 WHERE session_id = ?", (first,))
        wanted = "SELECT digest FROM session WHERE id = ?"
        (content,) = connection.execute(wanted, (first,)).fetchone()
        content = content.replace(b'"sd":', b'"sd":1e200,"_":', 1)
        connection.execute("UPDATE session SET digest = ? WHERE id = ?", (content, first))
        year = "UPDATE session SET started_utc = '0001-01-01T00:00:00+00:00' WHERE number = 2"
        connection.execute(year)
    out = tmp_path / "out.json"
    export = ("export", "heron", "--out", str(out))
    for words in (("records", "heron"), ("report", "heron"), ("progress", "heron"), export):
        code, _, err = run(capsys, *words)
        assert code == 0, err
        assert "beltside rebuild" in err
    assert len(json.loads(out.read_bytes())["sessions"]) == 2
    assert run(capsys, "rebuild")[0] == 0
    assert run(capsys, "progress", "heron")[2] == ""
    assert run(capsys, *export)[2] == ""
    assert len(json.loads(out.read_bytes())["sessions"]) == 3


OTHERWISE = {
    "as it was": {},
    "Z": {"started_utc": "2025-04-02T16:00:00Z"},
    "another offset": {"started_utc": "2025-04-02T21:30:00+05:30"},
    "another microsecond": {"started_utc": "2025-04-02T18:00:00.000417+02:00"},
    "no T": {"started_utc": "2025-04-02 18:00:00+02:00"},
    "no signs": {"started_utc": "20250402T180000+0200"},
}


def test_one_session_counts_once_however_its_moment_and_number_are_written(
    data: Path, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    first = result(given())
    renumbered = msgspec.structs.replace(first.session, number=4)
    copies = [msgspec.structs.replace(first, **changes) for changes in OTHERWISE.values()]
    copies.append(msgspec.structs.replace(first, session=renumbered))
    while_it_ran = msgspec.structs.replace(first, started_utc="2025-04-02T18:05:00+02:00")
    assert run(capsys, "receive", sent(tmp_path, first))[0] == 0
    for copy in (*copies, while_it_ran):
        code, _, err = run(capsys, "receive", sent(tmp_path, copy))
        assert code == 1, copy.started_utc
        assert ("already been accepted" in err) == (copy is not while_it_ran)
    assert run(capsys, "records")[1] == "Heron: 1 session\n"
    assert run(capsys, "erase", "heron", "--yes")[0] == 0
    given()
    for copy in copies:
        code, _, err = run(capsys, "receive", sent(tmp_path, copy))
        assert (code, "erased on purpose" in err) == (1, True), copy.started_utc


def test_what_was_taken_in_survives_a_rebuild(
    data: Path, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    made = given()
    days = [f"2025-04-0{day}T18:00:00+02:00" for day in (2, 4, 5, 7, 9)]
    for number, day in enumerate(days, 1):
        one = result(made, started_utc=day)
        one = msgspec.structs.replace(
            one,
            session=msgspec.structs.replace(one.session, number=number),
            blocks=slower(one.blocks, number),
        )
        assert run(capsys, "receive", sent(tmp_path, one))[0] == 0
    # Of the same second, and of a name that is the same in file names.
    other = signed(prescription("Heron!"), own_key(data_folder()))
    write_prescription(other, own_folder(DataFolder.PRESCRIPTIONS) / "other.toml")
    assert run(capsys, "receive", sent(tmp_path, result(other)))[0] == 0
    with Store() as store:
        before = [msgspec.json.encode(line) for line in store.sessions()]
    assert len(before) == 6
    assert run(capsys, "rebuild")[1] == "The store now contains 6 sessions from this computer.\n"
    with Store() as store:
        assert [msgspec.json.encode(line) for line in store.sessions()] == before


def test_copies_that_an_older_version_took_count_once_and_stay_away(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    made = given()
    folder = sessions_folder()
    folder.mkdir()
    for name, changes in OTHERWISE.items():
        kept = Received(result=result(made, **changes), prescription=made)
        path = folder / f"2025-04-02T160000Z-heron {name}.home.json"
        path.write_bytes(msgspec.json.encode(kept))
    with Store() as store:
        assert sync(store, folder).stored == 1
        assert sync(store, folder).stored == 0
        assert [(one.code_name, one.sessions) for one in store.athletes()] == [("Heron", 1)]
