"""One answer for each session of a signed prescription: copies count for nothing."""

from __future__ import annotations

import json
import stat
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, Final

import msgspec
import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from feedback.athlete_files.plan_log import Result, signed_result
from feedback.athlete_files.prescriptions import signed, write_prescription
from feedback.athlete_files.signatures import RESULTS, own_public
from feedback.athlete_files.trust import admit
from feedback.cli.commands import session as session_command
from feedback.cli.common.keep_records import look_at_age
from feedback.journal.writer import sessions_folder
from feedback.records.aside import all_aside
from feedback.records.sync import read_uids
from feedback.training.block_results import BlockMean
from shared.targets import Voucher
from tests.feedback.records.command_line import run
from tests.feedback.records.month import prescription, short_session
from tests.feedback.records.test_sharing import data, given, result, sent, slower

__all__ = ["data"]  # a fixture

HOME: Final = Ed25519PrivateKey.from_private_bytes(bytes(range(32)))
OTHER: Final = Ed25519PrivateKey.from_private_bytes(bytes(range(1, 33)))
THURSDAY, SATURDAY = "2025-04-03T18:00:00+02:00", "2025-04-05T18:00:00+02:00"
ONE: Final = "Heron: 1 session\n"
TWO: Final = "Heron: 2 sessions\n"


def numbered(made: Result, number: int) -> Result:
    return msgspec.structs.replace(
        made, session=msgspec.structs.replace(made.session, number=number)
    )


def held(made: Result, session: int, key: Ed25519PrivateKey = HOME) -> Result:
    """Signed where it was held; ``session`` tells one session from another."""
    return signed_result(msgspec.structs.replace(made, session_id=f"{session:032x}"), key)


def refused(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    before = sorted(sessions_folder().glob("*"))
    code, out, err = run(capsys, "receive", *words)
    assert (code, out) == (1, "")
    assert sorted(sessions_folder().glob("*")) == before
    return err


CHANGES: Final[dict[str, Callable[[dict[str, Any]], None]]] = {
    "time": lambda one: one.update(started_utc=SATURDAY),
    "the same time": lambda one: one.update(started_utc="2025-04-02T16:00:00Z"),
    "number": lambda one: one["session"].update(number=4),
    "time and number": lambda one: (
        one.update(started_utc=SATURDAY),
        one["session"].update(number=4),
    )[0],
    "session": lambda one: one.update(session_id="f" * 32),
    "steps": lambda one: one["blocks"][0].update(steps=401),
    "morning": lambda one: one.update(morning=None),
    "no signature": lambda one: one.update(held_signature=""),
    "no key": lambda one: one.update(held_by="", held_signature=""),
}


@pytest.mark.parametrize("change", CHANGES.values(), ids=CHANGES)
@pytest.mark.parametrize("first", [True, False], ids=["after it", "before it"])
def test_a_copy_that_was_changed_is_refused(
    data: Path,
    capsys: pytest.CaptureFixture[str],
    tmp_path: Path,
    change: Callable[[dict[str, Any]], None],
    first: bool,
) -> None:
    path = Path(sent(tmp_path, held(result(given()), 1)))
    if first:
        assert run(capsys, "receive", str(path))[0] == 0
    table = json.loads(path.read_bytes())
    change(table)
    path.write_text(json.dumps(table))
    assert "changed since the computer wrote it" in refused(capsys, str(path), "--confirmed")


def test_a_session_that_was_repeated_counts_as_often_as_it_was_held(
    data: Path, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    made = given()
    first = held(result(made), 1)
    again = held(result(made, started_utc=SATURDAY), 2)
    for one in (first, again):
        assert run(capsys, "receive", sent(tmp_path, one))[0] == 0
    for one in (first, again):
        assert "already been accepted" in refused(capsys, sent(tmp_path, one))
    assert run(capsys, "records")[1] == TWO
    assert run(capsys, "rebuild")[0] == 0
    assert run(capsys, "records")[1] == TWO


def test_a_later_file_of_a_session_with_answers_added_is_the_same_session(
    data: Path, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    made = given()
    assert run(capsys, "receive", sent(tmp_path, held(result(made), 1)))[0] == 0
    later = held(result(made, morning=None), 1)
    assert "already been accepted" in refused(capsys, sent(tmp_path, later))


def test_a_copy_without_any_signature_is_no_other_session(
    data: Path, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    made = given()
    bare = numbered(result(made, started_utc=SATURDAY), 4)
    assert run(capsys, "receive", sent(tmp_path, held(result(made), 1)))[0] == 0
    err = refused(capsys, sent(tmp_path, bare))
    assert "not signed by the computer that ran it" in err
    assert "--confirmed" in err
    assert run(capsys, "receive", sent(tmp_path, bare), "--confirmed")[0] == 0
    assert run(capsys, "records")[1] == TWO


def test_where_nobody_signed_a_session_of_a_plan_is_answered_once(
    data: Path, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """As of older versions: a copy moved to another day cannot be told from a repeated session."""
    made = given()
    assert run(capsys, "receive", sent(tmp_path, result(made)))[0] == 0
    moved = sent(tmp_path, result(made, started_utc=SATURDAY))
    assert "session 5 of its prescription has been answered before" in refused(capsys, moved)
    signed_now = sent(tmp_path, held(result(made, started_utc=SATURDAY), 1))
    assert "has been answered before" in refused(capsys, signed_now)
    assert run(capsys, "receive", moved, "--confirmed")[0] == 0
    assert "already been accepted" in refused(capsys, moved, "--confirmed")
    assert run(capsys, "rebuild")[0] == 0
    assert run(capsys, "records")[1] == TWO


@pytest.mark.parametrize("a_value_too", [False, True])
def test_where_nobody_signed_what_was_measured_once_is_one_session(
    data: Path, capsys: pytest.CaptureFixture[str], tmp_path: Path, a_value_too: bool
) -> None:
    """A copy whose time and number are both others is told and not counted."""
    first = result(given())
    copy = numbered(msgspec.structs.replace(first, started_utc=SATURDAY), 4)
    if a_value_too:
        first, copy = with_lean(first, 6.0), with_lean(copy, 6.5)
    assert run(capsys, "receive", sent(tmp_path, first))[0] == 0
    err = refused(capsys, sent(tmp_path, copy))
    assert "the same values as the session of 2 April 2025" in err
    assert "--confirmed" in err
    assert run(capsys, "records")[1] == ONE
    another = msgspec.structs.replace(copy, blocks=slower(copy.blocks, 0.37))
    assert run(capsys, "receive", sent(tmp_path, another))[0] == 0, "another session is no copy"
    assert run(capsys, "receive", sent(tmp_path, copy), "--confirmed")[0] == 1, "both at once"
    assert run(capsys, "records")[1] == TWO
    assert run(capsys, "erase", "heron", "--yes")[0] == 0
    given()
    third = numbered(msgspec.structs.replace(first, started_utc=THURSDAY), 3)
    assert "same values was erased on purpose" in refused(capsys, sent(tmp_path, third))


def with_lean(made: Result, lean_deg: float) -> Result:
    lean = BlockMean(name="trunk_lean", side=None, unit="deg", mean=lean_deg, values=380)
    blocks = [msgspec.structs.replace(one, means=(*one.means, lean)) for one in made.blocks]
    return msgspec.structs.replace(made, blocks=tuple(blocks))


def test_another_computers_result_is_asked_about(
    data: Path, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    made = given()
    assert run(capsys, "receive", sent(tmp_path, held(result(made), 1)))[0] == 0
    other = sent(tmp_path, held(result(made, started_utc=SATURDAY), 2, OTHER))
    assert "at another computer" in refused(capsys, other)
    assert run(capsys, "receive", other, "--confirmed")[0] == 0
    third = held(numbered(result(made, started_utc="2025-04-07T18:00:00+02:00"), 3), 3, OTHER)
    assert run(capsys, "receive", sent(tmp_path, third))[0] == 0, "it is known from now on"


@pytest.mark.parametrize("signed", [True, False])
def test_what_is_set_aside_does_not_come_back_by_being_sent_again(
    data: Path, capsys: pytest.CaptureFixture[str], tmp_path: Path, signed: bool
) -> None:
    made = result(given())
    path = sent(tmp_path, held(made, 1) if signed else made)
    assert run(capsys, "receive", path)[0] == 0
    set_all_aside(data)
    err = refused(capsys, path)
    assert "set aside because" in err
    assert "beltside erase --bring-back" in err
    if not signed:
        moved = sent(tmp_path, msgspec.structs.replace(made, started_utc=SATURDAY))
        assert "has been answered before" in refused(capsys, moved)
    assert run(capsys, "erase", "--bring-back")[0] == 0
    assert ONE in run(capsys, "records")[1]


@pytest.mark.parametrize("aside", [True, False])
def test_what_was_erased_does_not_come_back_as_a_copy_of_another_day(
    data: Path, capsys: pytest.CaptureFixture[str], tmp_path: Path, aside: bool
) -> None:
    made = result(given())
    assert run(capsys, "receive", sent(tmp_path, made))[0] == 0
    if aside:
        set_all_aside(data)
    assert run(capsys, "erase", "heron", "--yes")[0] == 0
    given()
    assert "erased on purpose" in refused(capsys, sent(tmp_path, made), "--confirmed")
    moved = sent(tmp_path, msgspec.structs.replace(made, started_utc=SATURDAY))
    assert "erased on purpose" in refused(capsys, moved)


def test_a_result_of_a_session_whose_record_is_here_is_not_counted_beside_it(
    data: Path, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """As where the clinic runs a prescription itself: the result is another account of it."""
    record = short_session(sessions_folder(), "Heron", 1)
    uid, _ = read_uids(record)
    made = result(given(), started_utc=SATURDAY)
    path = sent(tmp_path, signed_result(msgspec.structs.replace(made, session_id=uid), HOME))
    assert "whose record is in the store" in refused(capsys, path, "--confirmed")
    assert run(capsys, "records")[1] == ONE
    set_all_aside(data)
    assert "set aside because" in refused(capsys, path)
    assert run(capsys, "erase", "heron", "--yes")[0] == 0
    given()
    assert "erased on purpose" in refused(capsys, path)


def test_a_computer_that_signs_results_is_no_clinic_by_that(data: Path) -> None:
    """Else the first clinic that signs would be refused where an unsigned one was run before."""
    key = session_command._own_key()
    assert key is not None
    assert session_command._own_key() is not None
    assert (own_public(data), stat.S_IMODE((data / RESULTS).stat().st_mode)) == ("", 0o600)
    path = data / "sent.toml"
    write_prescription(signed(prescription(), OTHER), path)
    assert admit(path, accept_unsigned=False).voucher is Voucher.FIRST


def test_a_session_is_held_though_its_result_cannot_be_signed(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (data / RESULTS).write_text("no key")
    assert session_command._own_key() is None
    assert "will not be signed" in capsys.readouterr().out


def set_all_aside(data: Path) -> None:
    """A week after the session its time is up, as newer records bear out."""
    (data / "records.toml").write_text("keep_days = 30\nerase_by_itself = true\n")
    from tests.feedback.cli.test_old_sessions import session

    now = datetime(2025, 6, 2, 12, 0, tzinfo=UTC)
    for week in range(9):
        session(data, now - timedelta(days=1, weeks=week), name="Plover")
    look_at_age(now)
    assert "Heron" in {one.note.code_name for one in all_aside()[0]}
    for one in all_aside()[0]:
        assert one.note.code_name in ("Heron", "Plover")
