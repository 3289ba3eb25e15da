"""A new measure touches the catalogue and what computes it: all else reads its row there."""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterator
from pathlib import Path

import pytest

from feedback.athlete_files.athletes import read_profile
from feedback.athlete_files.drills import read_drill
from feedback.athlete_files.prescriptions import prescribe, read_prescription, write_prescription
from feedback.cli.commands.measure import FileCounts, _finish
from feedback.cli.typed_commands import answer_line, state_lines, understood
from feedback.journal.writer import read_journal
from feedback.records.page.html import as_html
from feedback.records.page.pdf import as_pdf
from feedback.records.progress_page import progress_page
from feedback.records.report import session_report
from feedback.records.store import Store
from feedback.records.summarise import digest, points
from feedback.records.sync import sync
from feedback.records.trends import comparable
from feedback.screens.clinician.model import show_panel
from feedback.screens.runner.model import show
from feedback.simulation.runner import Learner, Nature
from feedback.training.drill import lay_out
from feedback.training.goals import as_athlete, goals_for
from shared.changes import Adjust, Answered
from shared.clock import now_ns
from shared.flow import Side, View
from shared.identity import derived_id
from shared.measure_spec import MeasureSpec
from shared.targets import Prescription
from tests.feedback.making import measure, update
from tests.feedback.records.command_line import fresh_data_folder, run
from tests.feedback.records.month import Month
from tests.feedback.screens.looking import run_checks
from tests.feedback.training.making import baseline, own
from tests.new_measure import NAME, in_the_catalogue, panel_status

PROFILE = f"""
code_name = "Heron"
height_cm = 166.0
view = "side"
belt_speed_kmh = 10.1

[[targets]]
measure = "{NAME}"
unit = "deg"
high = 8.0
cues = ["out_of_band", "words", "spoken"]
"""
DRILL = f"""
title = "A drill for a new measure"
view = "side"

[[aims]]
name = "drop"
measure = "{NAME}"
unit = "deg"
change = -2.0
hold = "under"
cues = ["out_of_band", "words", "spoken"]

[[blocks]]
kind = "warm_up"
minutes = 1

[[blocks]]
kind = "cued"
minutes = 4
focus = "drop"

[[blocks]]
kind = "uncued"
minutes = 2
"""


@pytest.fixture(autouse=True)
def spec() -> Iterator[MeasureSpec]:
    with in_the_catalogue() as added:
        yield added


@pytest.fixture
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    return fresh_data_folder(tmp_path, monkeypatch)


def prescribed(folder: Path) -> Prescription:
    """From files, as the program reads them."""
    (folder / "heron.toml").write_text(PROFILE)
    (folder / "drop.toml").write_text(DRILL)
    athlete = read_profile(folder / "heron.toml").athlete
    drill = read_drill(folder / "drop.toml")
    sides = ((None, 10.0), (Side.LEFT, 9.0), (Side.RIGHT, 11.0))
    base = baseline(*(own(NAME, side, "deg", mean, 1.5) for side, mean in sides))
    plan = Month(folder).prescription.plan
    goals = goals_for(base, drill, athlete.limits)
    made = prescribe(athlete, base, drill, plan, goals, "2025-03-01T16:10:00+00:00")
    write_prescription(made, folder / "prescription.toml")
    return read_prescription(folder / "prescription.toml")


def month(folder: Path, given: Prescription) -> list[Path]:
    """Three sessions of it, held by a made-up runner."""
    held = Month(folder, shorten=10.0)
    held.prescription = given
    held.learner = Learner(given.goals, Nature(), seed=7)
    return held.hold(3)


def test_profile_drill_and_prescription_take_it(tmp_path: Path) -> None:
    given = prescribed(tmp_path)
    assert given.goals[0].targets[-1].measure == NAME
    assert as_athlete(given).targets[0].unit == "deg"
    assert lay_out(given.drill, 10.1)


def test_panel_and_console_show_it(spec: MeasureSpec) -> None:
    showing = show_panel(panel_status(), now_ns())
    (row,) = (row for row in showing.rows if row.name == NAME)
    assert row.title.startswith(spec.short_title)
    assert (row.left, row.right, row.why_not) == ("9.2 ±1.1", "11.4 ±1.1", "")
    assert showing.cards[0].title == f"{spec.short_title}, left"
    assert "°" in showing.cards[0].band
    assert any(spec.short_title in block.text for block in showing.blocks)
    assert spec.short_title in showing.focus


def test_the_panel_draws_charts_and_a_control_for_it() -> None:
    checks = run_checks("new_measure_look")
    assert checks
    assert set(checks.values()) == {""}, checks


def test_the_runners_screen_shows_it(spec: MeasureSpec) -> None:
    status = panel_status()
    showing = show(status, now_ns())
    assert showing.title == f"{spec.runner_title}, left"
    assert (showing.number, showing.unit, showing.line) == ("9.2", "°", "Above target")
    assert showing.gauge is not None


def test_typed_commands_change_it(spec: MeasureSpec) -> None:
    snapshot = panel_status().snapshot
    assert snapshot is not None
    assert any(spec.title in line for line in state_lines(snapshot))
    assert isinstance(understood("aim 1 7.5", snapshot, 3), Adjust)
    told = answer_line(Answered(id=3, done=True, target=snapshot.targets[0], from_step=7))
    assert spec.title in told


def test_records_report_progress_and_exports_hold_it(
    data: Path, spec: MeasureSpec, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    paths = month(data / "sessions", prescribed(tmp_path))
    recording = read_journal(paths[1])
    found = digest(recording)
    assert NAME in {mean.measure for mean in found.means}
    page = session_report(found, points(recording))
    assert spec.title in as_html(page)
    assert as_pdf(page).startswith(b"%PDF")

    with Store(f"sqlite:///{tmp_path / 'store.sqlite'}") as store:
        sync(store, data / "sessions")
        heron = derived_id("Heron")
        digests = store.digests(heron)
    like = comparable(digests, View.SIDE, 10.1)
    compared = progress_page("Heron", View.SIDE, 10.1, digests, like)
    assert spec.title in as_html(compared)
    assert as_pdf(compared).startswith(b"%PDF")

    for kind in ("csv", "json", "fhir"):
        out = tmp_path / f"out-{kind}.{'csv' if kind == 'csv' else 'json'}"
        code, _, told = run(capsys, "export", "heron", "--format", kind, "--out", str(out))
        assert code == 0, told
        assert NAME in out.read_text(encoding="utf-8-sig")
        assert kind != "fhir" or spec.title in out.read_text()


@pytest.mark.parametrize("as_json", [True, False])
def test_measure_tells_it(
    as_json: bool, spec: MeasureSpec, capsys: pytest.CaptureFixture[str]
) -> None:
    counts = FileCounts()
    values = [
        measure(step, 9.0 + step % 2, name=NAME, unit="deg", step_number=step) for step in range(9)
    ]
    counts.take(update(10**9, *values), View.SIDE)
    _finish(counts, argparse.Namespace(json=as_json, view=View.SIDE))
    out = capsys.readouterr().out
    if as_json:
        rows = json.loads(out.splitlines()[-1])["summary"]["measures"]
        assert [(row["measure"], row["n"]) for row in rows] == [(NAME, 5), (NAME, 4)]
    else:
        assert spec.title in out


@pytest.mark.parametrize("word", ["drills", "athletes"])
def test_lists_of_files_name_it(
    word: str, data: Path, spec: MeasureSpec, capsys: pytest.CaptureFixture[str]
) -> None:
    for folder, name, text in (("drills", "drop", DRILL), ("athletes", "heron", PROFILE)):
        (data / folder).mkdir(exist_ok=True)
        (data / folder / f"{name}.toml").write_text(text)
    code, out, told = run(capsys, word)
    assert (code, told) == (0, "")
    assert spec.title in " ".join(out.split())
