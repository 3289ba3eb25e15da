"""Single values in the store: a report has its charts although the journal lies elsewhere."""

from __future__ import annotations

import importlib
from pathlib import Path

import pytest
from sqlalchemy import text

from feedback.cli.main import build_parser
from feedback.journal.writer import read_journal
from feedback.records.packed_values import pack, unpack
from feedback.records.store import Store
from feedback.records.summarise import read_whole
from feedback.records.summary import Digest, ValueAtStep
from feedback.records.sync import sync
from feedback.storage.settings import data_folder
from shared.identity import derived_id
from shared.problems import UserError
from tests.feedback.records.month import Month, short_session
from tests.feedback.records.old_store import old_store


def held(folder: Path, shorten: float = 6.0) -> Path:
    (path,) = Month(folder, shorten=shorten).hold(1)
    return path


def aimed(found: Digest, points: tuple[ValueAtStep, ...]) -> list[ValueAtStep]:
    names = {goal.targets[0].measure for goal in found.goals}
    return [point for point in points if point.measure in names]


def test_the_values_come_back_as_fine_as_a_chart_can_show(tmp_path: Path) -> None:
    found, points = read_whole(read_journal(held(tmp_path)))
    before = aimed(found, points)
    again = unpack(pack(found, points))
    assert len(again) == len(before) > 300
    assert len({(point.measure, point.side) for point in again}) == 3
    key = {(point.measure, point.side, point.step_number): point for point in again}
    for point in before:
        back = key[point.measure, point.side, point.step_number]
        assert back.at_s == pytest.approx(point.at_s, abs=0.0051)
        assert back.value == pytest.approx(point.value, abs=0.006)


def test_half_an_hour_takes_less_than_24_kilobytes(tmp_path: Path) -> None:
    found, points = read_whole(read_journal(held(tmp_path, shorten=1.0)))
    packed = pack(found, points)
    assert found.run_s > 900
    assert len(packed) / found.run_s * 1800 < 24_000


def test_what_is_no_trace_is_refused() -> None:
    assert unpack(b"") == ()
    with pytest.raises(ValueError, match="not a trace"):
        unpack(b"hello")


def test_the_store_keeps_the_trace_with_its_session(store_url: str, tmp_path: Path) -> None:
    path = held(tmp_path)
    short_session(tmp_path, "Plover", 3)
    found, points = read_whole(read_journal(path))
    with Store(store_url) as store:
        sync(store, tmp_path)
        assert store.trace(found.uid) == pack(found, points)
        assert store.trace("0" * 32) == b""
        sync(store, tmp_path)
        store.erase_athlete(derived_id("Heron"))
        assert store.trace(found.uid) == b""
        with store._engine.connect() as connection:
            left = connection.execute(text("SELECT count(*) FROM trace")).scalar_one()
        assert left == 1  # Plover's


def test_a_store_of_the_first_version_gets_its_traces_at_the_next_sync(
    store_url: str, tmp_path: Path
) -> None:
    path = held(tmp_path)
    found, points = read_whole(read_journal(path))
    old_store(store_url, "0001", [(found, path)])
    with Store(store_url) as store:
        assert store.digest(found.uid) == found
        assert store.trace(found.uid) == b""
        assert sync(store, tmp_path).stored == 1
        assert store.trace(found.uid) == pack(found, points)


def test_a_store_of_a_newer_version_is_told(store_url: str) -> None:
    with Store(store_url) as store, store._engine.begin() as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = '9999'"))
    with pytest.raises(UserError, match="newer version"):
        Store(store_url)


def test_the_report_of_another_stations_session_has_its_charts(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    folder = data_folder() / "sessions"
    journal = held(folder)
    options = build_parser().parse_args(["report", "heron"])
    report = importlib.import_module("feedback.cli.commands.report")
    page = data_folder() / "reports" / f"heron-{derived_id('Heron')}" / f"{journal.stem}.html"
    assert report.run(options) == 0
    here = page.read_text(encoding="utf-8")
    journal.unlink()
    assert report.run(options) == 0
    elsewhere = page.read_text(encoding="utf-8")
    capsys.readouterr()
    assert here.count("<svg") == elsewhere.count("<svg") == 3
    assert here.count("<circle") == elsewhere.count("<circle")
    with Store() as store, store._writing() as connection:
        connection.execute(text("DELETE FROM trace"))
    assert report.run(options) == 0
    without = page.read_text(encoding="utf-8")
    assert without.count("<svg") == 1  # before against after comes from the means
    assert "single values were not stored here" in without
