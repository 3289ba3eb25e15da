"""Everything kept goes by the athlete's id: names that are alike never mix two people."""

from __future__ import annotations

import unicodedata
import uuid
from collections.abc import Callable
from pathlib import Path

import msgspec
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from sqlalchemy import text

from feedback.athlete_files.baselines import newest_baseline
from feedback.athlete_files.known_athletes import seen_profiles
from feedback.journal.writer import new_path, read_journal, sessions_folder
from feedback.records.people import People
from feedback.records.reports import reports_folder
from feedback.records.store import Store
from feedback.records.summarise import digest
from feedback.records.sync import rebuild, sync
from feedback.records.trends import comparable
from feedback.storage.folders import DataFolder, own_folder, save_json
from feedback.storage.settings import data_folder
from feedback.terminal.guard import log_path
from shared.clock import ClockAnchor
from shared.flow import View
from shared.identity import derived_id, id_in, in_file_name, plain
from shared.plain_text import fault_in
from shared.problems import UserError
from shared.targets import Athlete
from tests.feedback.records import command_line
from tests.feedback.records.month import BEGIN, baseline, prescription, short_session
from tests.feedback.records.old_store import old_store
from tests.feedback.records.whole_athlete import files_here, session_of, whole_athlete

LONGEST = 40
FIRST, SECOND = "first-b0b5a3b3", "second-93f1c1d7"
"""Texts that stand in the files of one of the two alone, whatever their names are."""
MADE = prescription()


@pytest.fixture
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    return command_line.fresh_data_folder(tmp_path, monkeypatch)


def run(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str]:
    """As the command line does; the exit code and all that was said."""
    code, out, err = command_line.run(capsys, *words)
    return code, out + err


# two people, whatever they are called


def alike(kind: str) -> Callable[[str], str]:
    """Another name that may be taken for the first."""
    changes: dict[str, Callable[[str], str]] = {
        "the same": str,
        "capitals": str.swapcase,
        "folded": str.casefold,
        "composed": lambda one: unicodedata.normalize("NFC", one),
        "taken apart": lambda one: unicodedata.normalize("NFD", one),
        "compatible": lambda one: unicodedata.normalize("NFKC", one),
        "reduced": plain,
        "other marks": lambda one: one.translate(str.maketrans("üöäé", "öüéä")),
        "longer": lambda one: f"{one} 2"[-LONGEST:],
        "no letters": lambda one: "".join("走" if char.isalnum() else char for char in one),
    }
    return changes[kind]


KINDS = ("the same", "capitals", "folded", "composed", "taken apart", "compatible", "reduced")
NAMES = st.one_of(
    st.text(st.characters(exclude_categories=("C", "Z")), min_size=1, max_size=LONGEST),
    st.sampled_from(
        ("Müller", "ﬁnch", "A\u030angstro\u0308m", "走る人", "נעמה", "🦜", "x" * LONGEST)
    ),
).filter(lambda name: not fault_in(name))


@given(NAMES, st.sampled_from((*KINDS, "other marks", "longer", "no letters")), st.booleans())
@settings(max_examples=12, deadline=None)
def test_erasing_one_leaves_all_of_another_and_nothing_of_the_first(
    tmp_path_factory: pytest.TempPathFactory, name: str, kind: str, swap: bool
) -> None:
    other = alike(kind)(name)
    assume(0 < len(other) <= LONGEST and not fault_in(other))
    names = (other, name) if swap else (name, other)
    ids = [str(uuid.uuid4()), str(uuid.uuid4())]
    with pytest.MonkeyPatch.context() as patched:
        for variable in ("XDG_DATA_HOME", "XDG_STATE_HOME"):
            patched.setenv(variable, str(tmp_path_factory.mktemp("data")))
        whole_athlete(names[1], ids[1], SECOND, MADE)
        seconds = files_here()
        whole_athlete(names[0], ids[0], FIRST, MADE)
        assert len(files_here()) == 2 * len(seconds)
        log_path().parent.mkdir(parents=True)
        log_path().write_text(f"no report of {ids[0]}\nno report of {ids[1]}\n")
        with Store() as store:
            sync(store, sessions_folder())
            before = kept_of(store, ids[1])
            assert len(before) == 4
            people = People(store)
            assert people.erase(people.find(ids[0][:8])) == len(seconds)
            assert files_here() == seconds
            assert kept_of(store, ids[1]) == before
            assert {one.athlete_id for one in store.athletes()} == {ids[1]}
            assert sync(store, sessions_folder()).stored == 0
        left = b"".join(path.read_bytes() for path in data_folder().rglob("*") if path.is_file())
        assert FIRST.encode() not in left
        assert ids[0].encode() not in left
        assert not [path for path in data_folder().rglob("*") if ids[0] in path.name]
        assert log_path().read_text() == f"no report of {ids[1]}\n"


def kept_of(store: Store, athlete_id: str) -> list[bytes]:
    lines = store.sessions(athlete_id)
    return [msgspec.json.encode(one) for one in (*lines, *store.digests(athlete_id))]


@given(st.text(max_size=200), st.uuids(version=4), st.uuids(version=4))
@settings(max_examples=120, deadline=None)
def test_in_the_name_of_a_file_the_id_decides(name: str, one: uuid.UUID, other: uuid.UUID) -> None:
    anchor = ClockAnchor(0, BEGIN.isoformat(timespec="microseconds"))
    paths = [new_path(anchor, named(name, str(who)), "0" * 32, Path()) for who in (one, other)]
    assert (paths[0] == paths[1]) == (one == other)
    assert id_in(paths[0].name) == str(one)
    assert len(paths[0].name.encode()) < 200  # of the 255 that a file's name may have
    assert paths[0].name.isascii()
    assert derived_id(name) == derived_id(name) != derived_id(f"{name} ")


def named(name: str, athlete_id: str = "") -> Athlete:
    """Anybody; what a profile may not hold is not refused here."""
    return Athlete(
        code_name=name, athlete_id=athlete_id, height_cm=170.0, targets=(), view=View.SIDE
    )


# which of two


def test_a_name_that_fits_two_is_asked_back_with_how_to_choose(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    ids = [str(uuid.uuid4()) for _ in range(3)]
    for number, (one, name) in enumerate(
        zip(ids, ("Möller", "Mo\u0308ller", "MÖLLER"), strict=True)
    ):
        session_of(name, one, uid=f"{number:032x}")
    before = files_here()
    for words in (["erase", "--yes"], ["records"], ["report"], ["progress"]):
        code, told = run(capsys, words[0], "Möller", *words[1:])
        assert code == 1
        # Two that look the same are meant by it; the third one is only written alike.
        assert all(one[:8] in told for one in ids[:2])
        assert ids[2][:8] not in told
        assert "first eight digits" in told
    code, told = run(capsys, "records", "möller")
    assert code == 1
    assert all(one[:8] in told for one in ids)
    assert files_here() == before
    code, told = run(capsys, "records")
    assert code == 0
    assert told.count(": 1 session\n") == 3
    assert all(f"(id {one[:8]})" in told for one in ids)
    code, told = run(capsys, "erase", ids[1][:8], "--yes")
    assert (code, "Erased: 1 session, 1 file." in told) == (0, True)
    assert run(capsys, "records", "Möller")[0] == 0


def test_one_that_was_called_otherwise_stays_one(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    who = str(uuid.uuid4())
    session_of("Wren", who, uid="1" * 32, day=1)
    session_of("Robin", who, uid="2" * 32, day=2)
    code, told = run(capsys, "records")
    assert (code, told) == (0, "Robin: 2 sessions\n")
    assert f"Robin, also called Wren: id {who}" in run(capsys, "records", "wren")[1]
    assert "Erased: 2 sessions, 2 files." in run(capsys, "erase", "wren", "--yes")[1]


# from before there were ids


def old_files(name: str, day: int) -> list[Path]:
    """A record, a baseline and a report as older versions called them."""
    journal = short_session(sessions_folder(), name, day)
    journal = journal.rename(journal.with_name(f"{journal.name[:18]}-{plain(name)}.jsonl"))
    own_folder(DataFolder.BASELINES).mkdir(parents=True, exist_ok=True)
    taken = (
        own_folder(DataFolder.BASELINES) / f"{plain(name)}-side-10p1kmh-2025030{day}T160000.json"
    )
    save_json(taken, baseline(name))
    report = reports_folder() / plain(name) / f"{journal.stem}.html"
    report.parent.mkdir(parents=True, exist_ok=True)
    report.write_text(f"<title>{name}: practice</title>")
    return [journal, taken, report]


def test_what_older_versions_mixed_up_is_told_apart_by_what_it_says_or_told(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    first, second = old_files("Möller", 1), old_files("Müller", 2)
    assert first[0].name.endswith("-m-ller.jsonl")
    folder = first[2].parent
    assert folder == second[2].parent
    for ending in (".html", ".pdf"):
        (folder / f"progress{ending}").write_text("<title>Müller: progress</title>")
    nobodys = folder / "2019-01-01T000000Z-m-ller.pdf"
    nobodys.write_text("of a session that is gone")
    kept = {path: path.read_bytes() for path in (*second, *folder.glob("progress.*"), nobodys)}
    assert newest_baseline(named("Müller"), View.SIDE, 10.1).code_name == "Müller"
    code, told = run(capsys, "records", "Möller")
    assert all(str(path) in told for path in first)
    assert not any(str(path) in told for path in second)
    assert f"not known whose {nobodys} is" in told
    code, told = run(capsys, "erase", "Möller", "--yes")
    assert code == 0
    assert "Erased: 1 session, 3 files." in told
    assert f"not known whose {nobodys} is" in told
    assert {path: path.read_bytes() for path in kept} == kept
    assert not any(path.exists() for path in first)
    with pytest.raises(UserError, match="no baseline for Möller"):
        newest_baseline(named("Möller"), View.SIDE, 10.1)
    assert "Müller: 1 session" in run(capsys, "records")[1]


def test_what_may_be_of_either_of_two_is_given_to_neither_and_told(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    old_files("Anna", 1)
    ids = [str(uuid.uuid4()) for _ in range(2)]
    for number, one in enumerate(ids):
        session_of("Anna", one, uid=f"{number:032x}")
    code, told = run(capsys, "records", "Anna")
    assert (code, told.count("(id ")) == (1, 3)
    code, told = run(capsys, "records", derived_id("Anna"))
    assert code == 0
    assert "the owner was not guessed" in told
    assert all(one[:8] in told for one in ids)
    assert "guessed" not in run(capsys, "records", ids[0])[1]


def test_an_older_store_keeps_all_it_holds(store_url: str, tmp_path: Path) -> None:
    names = ("Müller", "Möller", "Müller", "走る人", "鳥")
    paths = [short_session(tmp_path, name, day) for day, name in enumerate(names, start=1)]
    digests = [digest(read_journal(path)) for path in paths]
    before = [msgspec.structs.replace(one, athlete_id="") for one in digests]
    old_store(store_url, "0002", list(zip(before, paths, strict=True)))
    with Store(store_url) as store:
        assert {line.uid for line in store.sessions()} == {one.uid for one in before}
        for name in set(names):
            lines = store.sessions(derived_id(name))
            assert [line.code_name for line in lines] == [name] * names.count(name)
            kept = store.digests(derived_id(name))
            assert len(comparable(kept, View.SIDE, 10.0)) == names.count(name)
        assert len(store.erase_athlete(derived_id("Müller"))) == 2
        assert len(store.sessions()) == 3
        # What hangs on a session goes with it, after the change as before.
        with store._engine.connect() as connection:
            assert connection.execute(text("SELECT count(*) FROM mean")).scalar_one() == 6
        rebuild(store, tmp_path)
        assert len(store.sessions()) == 3


def test_a_profile_elsewhere_is_left_and_named_and_forgotten(
    data: Path, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    from feedback.cli.common.enrol import enrolled

    path = tmp_path / "elsewhere" / "anna.toml"
    path.parent.mkdir()
    path.write_text(
        'code_name = "Anna"\nheight_cm = 170\nview = "side"\n'
        '[[targets]]\nmeasure = "cadence"\nunit = "steps/min"\nlow = 160\n'
    )
    who = enrolled(path).profile.athlete
    session_of("Anna", who.athlete_id, uid="3" * 32)
    assert [one.path for one in seen_profiles()] == [str(path)]
    told = run(capsys, "erase", "anna", "--yes")[1]
    assert f"Note: the profile {path} is your own file" in told
    assert path.exists()
    assert seen_profiles() == ()
    assert who.athlete_id.encode() not in (data / "profiles.json").read_bytes()


def test_the_readable_part_decides_nothing() -> None:
    one, other = named("Müller", str(uuid.uuid4())), named("Möller", str(uuid.uuid4()))
    assert plain(one.code_name) == plain(other.code_name) == "m-ller"
    assert in_file_name(one) != in_file_name(other)
