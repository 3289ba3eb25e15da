"""Export, home results and erasing, as they are asked for on the command line."""

from __future__ import annotations

import csv
import io
import json
import stat
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import msgspec
import pytest
from fhir.resources.R4B.bundle import Bundle

from feedback.athlete_files.plan_log import Result, save_result
from feedback.athlete_files.prescriptions import signed, write_prescription
from feedback.athlete_files.signatures import own_key
from feedback.journal.writer import read_journal
from feedback.records.export import CSV_COLUMNS
from feedback.records.fhir import SYSTEM
from feedback.records.store import Store
from feedback.records.summarise import digest
from feedback.storage.folders import DataFolder, own_folder
from feedback.storage.settings import data_folder
from feedback.training.block_results import BlockMean, BlockResult
from feedback.training.counting import SessionPart
from feedback.training.drill import lay_out
from feedback.training.plan import Done
from shared.catalogue import CATALOGUE
from shared.flow import View
from shared.identity import derived_id
from shared.messages import StopReason
from shared.targets import Prescription, Question, SessionKind
from tests.feedback.records.command_line import fresh_data_folder, run
from tests.feedback.records.month import SPEED_KMH, Month, prescription, short_session

STARTED = "2025-04-02T18:00:00+02:00"


@pytest.fixture(autouse=True)
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    return fresh_data_folder(tmp_path, monkeypatch)


# export


def test_csv_is_tidy_and_names_its_units(
    data: Path, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    paths = Month(data / "sessions", shorten=30.0).hold(3)
    out = tmp_path / "out.csv"
    assert run(capsys, "export", "heron", "--out", str(out))[0] == 0
    assert stat.S_IMODE(out.stat().st_mode) == 0o600
    rows = list(csv.DictReader(io.StringIO(out.read_text(encoding="utf-8-sig"))))
    assert tuple(rows[0]) == CSV_COLUMNS
    digests = [digest(read_journal(path)) for path in paths]
    assert len(rows) == sum(len(one.means) + len(one.answers) for one in digests)
    mean = digests[0].find("cadence", None, SessionPart.CUED, "steps/min")
    assert mean is not None
    (row,) = [
        row
        for row in rows
        if (row["session"], row["measure"], row["part"]) == (digests[0].uid, "cadence", "cued")
    ]
    assert float(row["mean"]) == pytest.approx(mean.mean, rel=1e-5)
    assert (row["unit_of_mean_sd_sem"], row["belt_speed_km_per_h"]) == ("steps/min", "10.1")


def test_a_name_is_no_formula(
    data: Path, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    short_session(data / "sessions", "=1+1", 1)
    assert run(capsys, "export", "=1+1", "--out", str(tmp_path / "o.csv"))[0] == 0
    assert "'=1+1" in (tmp_path / "o.csv").read_text(encoding="utf-8-sig")


def test_json_holds_all_that_is_known(
    data: Path, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    (path,) = Month(data / "sessions", shorten=30.0).hold(1)
    assert run(capsys, "export", "heron", "--out", str(tmp_path / "o.json"))[0] == 0
    read = json.loads((tmp_path / "o.json").read_bytes())
    assert read["sessions"] == [json.loads(msgspec.json.encode(digest(read_journal(path))))]


def test_fhir_is_a_valid_bundle_with_ucum_units(
    data: Path, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    (path,) = Month(data / "sessions", shorten=30.0).hold(1)
    out = tmp_path / "o.json"
    assert run(capsys, "export", "heron", "--format", "fhir", "--out", str(out))[0] == 0
    Bundle.model_validate_json(out.read_text())
    read = json.loads(out.read_text())
    found: dict[str, list[dict[str, Any]]] = {}
    for entry in read["entry"]:
        found.setdefault(entry["resource"]["resourceType"], []).append(entry["resource"])
    one = digest(read_journal(path))
    observations = found["Observation"]
    assert len(observations) == 1 + len(one.means) + len(one.answers)
    urls = [entry["fullUrl"] for entry in read["entry"]]
    assert len(set(urls)) == len(urls)
    local = {concept["code"] for concept in found["CodeSystem"][0]["concept"]}
    assert set(CATALOGUE) <= local
    for body in observations:
        (coding,) = body["code"]["coding"]
        assert coding["system"] != SYSTEM or coding["code"] in local
        assert body["valueQuantity"]["system"] == "http://unitsofmeasure.org"
        assert body["subject"]["reference"] in urls
    pains = [o for o in observations if o["code"]["coding"][0]["code"] == "72514-3"]
    assert [o["valueQuantity"]["value"] for o in pains] == [
        answer.value for answer in one.answers if answer.what is Question.PAIN
    ]
    assert "Heron" in json.dumps(found["Patient"])


def test_an_unknown_name_is_told_with_those_there_are(
    data: Path, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    short_session(data / "sessions", "Heron", 1)
    code, _, err = run(capsys, "export", "Hern", "--out", str(tmp_path / "o.csv"))
    assert code == 1
    assert "Heron" in err
    assert not (tmp_path / "o.csv").exists()


# home results


def given() -> Prescription:
    made = signed(prescription(), own_key(data_folder()))
    path = own_folder(DataFolder.PRESCRIPTIONS) / "heron.toml"
    path.parent.mkdir(parents=True, exist_ok=True)
    write_prescription(made, path)
    return made


def result(made: Prescription, **changes: Any) -> Result:
    assert made.plan is not None
    blocks = tuple(
        BlockResult(
            number=number,
            kind=block.kind,
            seconds=(block.length_ns or 0) / 1e9,
            steps=400,
            cued="" if block.aim is None else made.drill.aims[block.aim].measure,
            cues={"out_of_band": 2},
            kept=(),
            means=(BlockMean(name="cadence", side=None, unit="steps/min", mean=164.0, values=380),),
            answers=((Question.PAIN, 2),),
        )
        for number, block in enumerate(lay_out(made.drill, SPEED_KMH, made.plan.sessions[4], 5), 1)
    )
    fields: dict[str, Any] = {
        "made_with": "Beltside 0.1.0",
        "prescription": made.check,
        "signed_by": made.signed_by,
        "signature": made.signature,
        "code_name": made.code_name,
        "view": made.view,
        "belt_speed_kmh": made.belt_speed_kmh,
        "source": "camera 0",
        "trial": False,
        "started_utc": STARTED,
        "session": Done(
            number=5,
            started_unix_s=1,
            share_done=1.0,
            stop_reason=StopReason.FINISHED,
            pain_worst=3,
            effort=4,
        ),
        "kind": SessionKind.PRACTICE,
        "planned_s": 1440.0,
        "blocks": blocks,
        "morning": True,
    }
    return Result(**{**fields, **changes})


def slower(blocks: tuple[BlockResult, ...], by_spm: float) -> tuple[BlockResult, ...]:
    """The same blocks at another cadence, as no two sessions are alike."""
    replace = msgspec.structs.replace
    return tuple(
        replace(one, means=tuple(replace(mean, mean=mean.mean - by_spm) for mean in one.means))
        for one in blocks
    )


def sent(tmp_path: Path, made: Result) -> str:
    path = tmp_path / "sent.json"
    save_result(made, path)
    return str(path)


def test_a_home_result_is_taken_in_once_and_lasts(
    data: Path, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    path = sent(tmp_path, result(given()))
    code, out, err = run(capsys, "receive", path)
    assert (code, err) == (0, "")
    assert "Heron, session 5" in out
    with Store() as store:
        (line,) = store.sessions(derived_id("Heron"))
        found = store.digest(line.uid)
    assert (line.pain_worst, line.effort_last, line.number) == (3, 4, 5)
    assert found.origin == "home"
    mean = found.find("cadence", None, SessionPart.UNCUED, "steps/min")
    assert mean is not None
    assert mean.mean == pytest.approx(164.0)
    assert mean.sem is None
    code, _, err = run(capsys, "receive", path)
    assert code == 1
    assert "already been accepted" in err
    assert run(capsys, "rebuild")[1] == "The store now contains 1 session from this computer.\n"
    assert run(capsys, "report", "heron")[0] == 0
    assert run(capsys, "progress", "heron")[0] == 0


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"trial": True}, "from a trial"),
        ({"code_name": "Plover"}, "its prescription is Heron's"),
        ({"prescription": "0" * 64}, "prescription it belongs to is not known"),
        ({"view": View.BEHIND}, "view or belt speed"),
        ({"belt_speed_kmh": 12.0}, "view or belt speed"),
        ({"started_utc": "2199-01-01T00:00:00+00:00"}, "in the future"),
        ({"started_utc": "yesterday"}, "date cannot be read"),
    ],
)
def test_a_result_that_does_not_belong_here_is_refused(
    data: Path,
    capsys: pytest.CaptureFixture[str],
    tmp_path: Path,
    changes: dict[str, Any],
    why: str,
) -> None:
    path = sent(tmp_path, result(given(), **changes))
    code, _, err = run(capsys, "receive", path)
    assert code == 1
    assert why in err
    assert not list((data / "sessions").glob("*")) if (data / "sessions").exists() else True


def test_a_result_of_another_than_the_one_expected_is_refused(
    data: Path, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    path = sent(tmp_path, result(given()))
    code, _, err = run(capsys, "receive", path, "--athlete", "Plover")
    assert code == 1
    assert "Heron's, not Plover's" in err


def test_values_that_cannot_be_are_refused(
    data: Path, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    made = result(given())
    mean = BlockMean(name="cadence", side=None, unit="steps/min", mean=600.0, values=9)
    block = msgspec.structs.replace(made.blocks[0], means=(mean,))
    path = sent(tmp_path, msgspec.structs.replace(made, blocks=(block,)))
    code, _, err = run(capsys, "receive", path)
    assert code == 1
    assert "cannot be" in err


def test_a_file_that_is_no_result_is_told(
    data: Path, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    (tmp_path / "x.json").write_text('{"format": 1}')
    code, _, err = run(capsys, "receive", str(tmp_path / "x.json"))
    assert code == 1
    assert "not the result of a session" in err


# erasing


def everything(folder: Path) -> bytes:
    files = [path for path in folder.rglob("*") if path.is_file()]
    return b"".join(path.name.encode() + path.read_bytes() for path in files)


def test_erasing_an_athlete_leaves_no_trace_and_nobody_else_is_touched(
    data: Path, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    (journal,) = Month(data / "sessions", shorten=30.0).hold(1)
    journal.with_suffix(".track").write_text("landmarks of Heron")
    short_session(data / "sessions", "Plover", 3)
    run(capsys, "receive", sent(tmp_path, result(given())))
    for words in (("report", "heron"), ("progress", "heron"), ("report", "plover")):
        assert run(capsys, *words)[0] == 0
    assert b"Heron" in everything(data)
    _, listed, _ = run(capsys, "records", "heron")
    for name in (journal.name, "heron.toml", "progress.pdf", ".home.json", ".track"):
        assert name in listed
    assert run(capsys, "erase", "heron", "--yes")[0] == 0
    left = everything(data)
    assert b"Heron" not in left
    assert b"heron" not in left
    assert b"Plover" in left
    assert run(capsys, "records")[1] == "Plover: 1 session\n"


def test_without_the_code_name_typed_nothing_is_erased(
    data: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    short_session(data / "sessions", "Heron", 1)
    monkeypatch.setattr("sys.stdin", io.StringIO("yes\n"))
    code, out, _ = run(capsys, "erase", "heron")
    assert code == 0
    assert "Nothing was erased" in out
    assert b"Heron" in everything(data / "sessions")


def test_sessions_past_their_time_are_erased_when_asked(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    old = short_session(data / "sessions", "Heron", 1)
    today = (datetime.now(tz=UTC) - timedelta(days=3)).date().isoformat()
    young = data / "sessions" / "young.jsonl"
    young.write_bytes(old.read_bytes().replace(b"2025-03-04", today.encode()))
    assert run(capsys, "erase", "--expired", "--yes")[0] == 1  # no time is set
    (data / "records.toml").write_text("keep_days = 30\n")
    assert "Kept longer than 30 days: 1." in run(capsys, "records")[1]
    assert run(capsys, "erase", "--expired", "--yes")[0] == 0
    assert (old.exists(), young.exists()) == (False, True)
    assert run(capsys, "records")[1] == "Heron: 1 session\n"


def test_a_wrong_setting_is_named(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (data / "records.toml").write_text("keep_days = -1\n")
    code, _, err = run(capsys, "records")
    assert code == 1
    assert "keep_days" in err


def test_only_the_owner_can_read_what_is_written(
    data: Path, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    Month(data / "sessions", shorten=30.0).hold(1)
    run(capsys, "receive", sent(tmp_path, result(given())))
    run(capsys, "report", "heron")
    made = [*(data / "reports").rglob("*.*"), data / "store.sqlite"]
    made += (data / "sessions").glob("*.home.json")
    assert len(made) == 4
    assert {stat.S_IMODE(path.stat().st_mode) for path in made} == {0o600}
