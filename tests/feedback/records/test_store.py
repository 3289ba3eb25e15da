"""The store: what goes in comes out, once, whoever writes at the same time; on both databases."""

from __future__ import annotations

import re
import stat
import subprocess
import sys
import threading
from pathlib import Path

import msgspec
import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext

from feedback.journal.writer import read_journal
from feedback.records.store import Store
from feedback.records.summarise import digest
from feedback.records.sync import rebuild, sync
from feedback.records.tables import Base
from feedback.records.trends import comparable
from feedback.training.counting import SessionPart
from shared.flow import View
from shared.identity import derived_id
from shared.problems import UserError
from tests.feedback.records.month import Month, short_session

ROOT = Path(__file__).resolve().parents[3]


def journals(folder: Path, sessions: int = 5, code_name: str = "Heron") -> list[Path]:
    return [short_session(folder, code_name, number) for number in range(1, sessions + 1)]


def counted(store: Store) -> dict[str, int]:
    return {one.code_name: one.sessions for one in store.athletes()}


def all_of(store: Store) -> list[bytes]:
    lines = store.sessions()
    return [msgspec.json.encode(line) for line in lines] + [
        msgspec.json.encode(store.digest(line.uid)) for line in lines
    ]


def test_sessions_come_back_as_they_were(store_url: str, tmp_path: Path) -> None:
    folder = tmp_path / "sessions"
    paths = [*journals(folder), *journals(folder, 2, "Plover")]
    with Store(store_url) as store:
        result = sync(store, folder)
        assert (result.stored, result.already, result.unreadable) == (7, 0, [])
        assert counted(store) == {"Heron": 5, "Plover": 2}
        kept = store.digests(derived_id("Heron"))
    assert kept == tuple(digest(read_journal(path)) for path in paths[:5])
    cadence = kept[0].find("cadence", None, SessionPart.CUED, "steps/min")
    assert cadence is not None
    assert cadence.mean == pytest.approx(160.5)
    assert cadence.values == 24


def test_a_record_that_no_column_takes_is_named_and_hides_no_other(
    store_url: str, tmp_path: Path
) -> None:
    paths = journals(tmp_path, 3)
    content = paths[1].read_bytes()
    changed, count = re.subn(rb'"steps":\d+', b'"steps":%d' % 2**40, content)
    assert count
    paths[1].write_bytes(changed)
    with Store(store_url) as store:
        result = sync(store, tmp_path)
        assert (result.stored, [path for path, _ in result.unreadable]) == (2, [paths[1]])
        assert [line.number for line in store.sessions()] == [1, 3]


def test_a_second_sync_stores_nothing_twice(store_url: str, tmp_path: Path) -> None:
    folder = tmp_path / "sessions"
    journals(folder)
    with Store(store_url) as store:
        sync(store, folder)
        before = all_of(store)
        result = sync(store, folder)
        assert (result.stored, result.already) == (0, 5)
        assert all_of(store) == before


def test_a_record_that_has_grown_is_read_again(store_url: str, tmp_path: Path) -> None:
    path = short_session(tmp_path, "Heron", 1)
    whole = path.read_bytes()
    path.write_bytes(whole[: len(whole) // 2])
    with Store(store_url) as store:
        sync(store, tmp_path)
        (line,) = store.sessions()
        assert store.digest(line.uid).lost
        path.write_bytes(whole)
        assert sync(store, tmp_path).stored == 1
        (line,) = store.sessions()
        assert not store.digest(line.uid).lost
        assert len(comparable(store.digests(derived_id("Heron")), View.SIDE, 10.0)) == 1


def test_the_store_is_filled_again_from_the_journals(store_url: str, tmp_path: Path) -> None:
    Month(tmp_path / "sessions", shorten=30.0).hold(4)
    with Store(store_url) as store:
        sync(store, tmp_path / "sessions")
        before = all_of(store)
        assert len(before) == 8
        assert rebuild(store, tmp_path / "sessions").stored == 4
        assert all_of(store) == before


def test_what_cannot_be_read_is_told_and_the_rest_is_stored(store_url: str, tmp_path: Path) -> None:
    journals(tmp_path, 2)
    (tmp_path / "broken.jsonl").write_text("hello\n")
    with Store(store_url) as store:
        result = sync(store, tmp_path)
        assert result.stored == 2
        ((path, why),) = result.unreadable
        assert path.name == "broken.jsonl"
        assert "not the record of a session" in why


def test_two_stations_write_at_once(store_url: str, tmp_path: Path) -> None:
    # Some sessions are their own, some journals lie in a folder that both read.
    both = [short_session(tmp_path / "both", "Heron", number) for number in range(1, 9)]
    for name in ("one", "two"):
        for path in both:
            (tmp_path / name).mkdir(exist_ok=True)
            (tmp_path / name / path.name).write_bytes(path.read_bytes())
        journals(tmp_path / name, 8, name.title())
    faults: list[Exception] = []
    ready = threading.Barrier(2)

    def station(name: str) -> None:
        try:
            ready.wait(30)
            with Store(store_url) as store:  # both find an empty database
                sync(store, tmp_path / name)
        except Exception as error:  # noqa: BLE001 - told below
            faults.append(error)

    threads = [threading.Thread(target=station, args=(name,)) for name in ("one", "two")]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(120)
    assert faults == []
    with Store(store_url) as store:
        assert counted(store) == {"Heron": 8, "One": 8, "Two": 8}
        assert len(comparable(store.digests(derived_id("Heron")), View.SIDE, 10.0)) == 8


INTERRUPTED = """
import os, sys
from pathlib import Path
from feedback.records.store import Store
from feedback.records.sync import sync
left = int(sys.argv[3])
def report(uid):
    global left
    print(uid, flush=True)
    left -= 1
    if left == 0:
        os.kill(os.getpid(), 9)
with Store(sys.argv[1]) as store:
    sync(store, Path(sys.argv[2]), report)
"""


def test_a_sync_that_was_killed_goes_on_where_it_was(store_url: str, tmp_path: Path) -> None:
    folder = tmp_path / "sessions"
    journals(folder, 9)
    command = [sys.executable, "-c", INTERRUPTED, store_url, str(folder), "4"]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == -9, done.stderr
    told = done.stdout.split()
    assert len(told) == 4
    with Store(store_url) as store:
        assert set(told) <= {line.uid for line in store.sessions()}
        result = sync(store, folder)
        assert (result.stored, result.already) == (5, 4)
        assert counted(store) == {"Heron": 9}


def test_what_was_erased_does_not_come_back(store_url: str, tmp_path: Path) -> None:
    heron, plover = journals(tmp_path, 2), journals(tmp_path, 2, "Plover")
    with Store(store_url) as store:
        sync(store, tmp_path)
        assert len(store.erase_athlete(derived_id("Heron"))) == 2
        assert counted(store) == {"Plover": 2}
        result = sync(store, tmp_path)  # as another station would, which still has the journals
        assert result.erased == 2
        assert counted(store) == {"Plover": 2}
    assert not any(path.exists() for path in heron)
    assert all(path.exists() for path in plover)


def test_the_migrations_make_the_tables_that_the_program_uses(store_url: str) -> None:
    with Store(store_url) as store, store._engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, Base.metadata) == []


def test_an_old_store_is_opened_again(store_url: str, tmp_path: Path) -> None:
    journals(tmp_path, 1)
    with Store(store_url) as store:
        sync(store, tmp_path)
    with Store(store_url) as store:
        assert counted(store) == {"Heron": 1}


def test_only_the_owner_can_read_the_file(tmp_path: Path) -> None:
    file = tmp_path / "data" / "store.sqlite"
    with Store(f"sqlite:///{file}"):
        pass
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    assert stat.S_IMODE(file.parent.stat().st_mode) == 0o700


def test_no_trace_of_an_erased_name_is_left_in_the_file(tmp_path: Path) -> None:
    file = tmp_path / "data" / "store.sqlite"
    journals(tmp_path, 3, "Zaunkoenig")
    with Store(f"sqlite:///{file}") as store:
        sync(store, tmp_path)
        assert b"Zaunkoenig" in file.read_bytes()
        store.erase_athlete(derived_id("Zaunkoenig"))
    left = b"".join(path.read_bytes() for path in file.parent.iterdir())
    assert b"Zaunkoenig" not in left


@pytest.mark.parametrize(
    "url",
    [
        "nonsense",
        "mysql://clinic/beltside",
        "postgresql://nobody@127.0.0.1:1/none",
        "sqlite:////proc/none/store.sqlite",
    ],
)
def test_a_store_that_cannot_be_had_is_told_in_plain_words(url: str) -> None:
    with pytest.raises(UserError) as caught:
        Store(url)
    assert caught.value.problem.code == "store_unreachable"
    assert "Traceback" not in caught.value.problem.title
