"""Whose prescriptions are run here: the first clinic's key, those accepted, and nobody else's."""

from __future__ import annotations

import stat
import tomllib
from pathlib import Path
from typing import Any

import msgspec
import pytest
import tomli_w
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from feedback.athlete_files import trust
from feedback.athlete_files.plan_log import PlanLog, others_here, read_log, run_later, save_log
from feedback.athlete_files.prescriptions import (
    check_sum,
    signed,
    signed_content,
    write_prescription,
)
from feedback.athlete_files.signatures import own_key, public_of, short, sign
from feedback.athlete_files.todays_session import LIMITS, within_own_limits
from feedback.athlete_files.trust import (
    Admitted,
    accept,
    admit,
    check_newest,
    clinics_path,
    keep_first,
    read_clinics,
)
from feedback.cli.common.home_pages import voucher_pages
from feedback.cli.common.tell import voucher_lines
from feedback.records.people import People
from feedback.records.store import Store
from feedback.storage.locking import FILE as LOCK
from feedback.storage.settings import data_folder
from feedback.training.plan import Done
from shared.messages import StopReason
from shared.problems import UserError
from shared.targets import Limits, Prescription, Question, Voucher
from tests.feedback.training.making import drill, plan, prescription

CLINIC = Ed25519PrivateKey.from_private_bytes(bytes(range(32)))
OTHER = Ed25519PrivateKey.from_private_bytes(bytes(range(1, 33)))
MADE = prescription(drill(), plan((2.0,), (1.0, 1.0)))


@pytest.fixture(autouse=True)
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    assert tmp_path in data_folder().parents
    return data_folder()


def file(folder: Path, key: Ed25519PrivateKey | None, made: Prescription = MADE) -> Path:
    path = folder / "heron.toml"
    write_prescription(made if key is None else signed(made, key), path)
    return path


def run_here(folder: Path, key: Ed25519PrivateKey) -> Admitted:
    """As a session does it."""
    admitted = admit(file(folder, key), accept_unsigned=False)
    keep_first(admitted)
    return admitted


def refused(path: Path, code: str, *, accept_unsigned: bool = False) -> UserError:
    with pytest.raises(UserError) as caught:
        admit(path, accept_unsigned=accept_unsigned)
    assert caught.value.problem.code == code
    return caught.value


# the first key, and others


def test_the_first_key_is_kept_when_its_prescription_is_run_and_not_before(
    tmp_path: Path, data: Path
) -> None:
    assert admit(file(tmp_path, CLINIC), accept_unsigned=False).voucher is Voucher.FIRST
    assert not clinics_path().exists()
    assert run_here(tmp_path, CLINIC).voucher is Voucher.FIRST
    (kept,) = read_clinics().clinics
    assert (kept.signed_by, kept.code_name, kept.first) == (public_of(CLINIC), "Heron", True)
    assert stat.S_IMODE(clinics_path().stat().st_mode) == 0o600
    assert stat.S_IMODE(data.stat().st_mode) == 0o700
    assert {path.name for path in data.iterdir()} == {"clinics.json", LOCK}
    assert run_here(tmp_path, CLINIC).voucher is Voucher.KNOWN
    assert read_clinics().clinics == (kept,)


def test_another_key_is_refused_with_both_named_until_it_is_accepted(tmp_path: Path) -> None:
    run_here(tmp_path, CLINIC)
    path = file(tmp_path, OTHER)
    problem = refused(path, "signer_unknown").problem
    assert short(public_of(OTHER)) in problem.title
    assert short(public_of(CLINIC)) in problem.meaning
    assert "clinics --accept" in problem.action
    refused(path, "signer_unknown", accept_unsigned=True)  # that option is no way round it
    accept(signed(MADE, OTHER))
    assert run_here(tmp_path, OTHER).voucher is Voucher.KNOWN
    assert run_here(tmp_path, CLINIC).voucher is Voucher.KNOWN  # what was given out still holds
    trust.remove(short(public_of(CLINIC)))
    refused(file(tmp_path, CLINIC), "signer_unknown")
    with pytest.raises(UserError, match="No key with the groups"):
        trust.remove("0000 0000 0000 0000")


def test_at_the_clinic_its_own_key_and_signers_are_known_and_no_first_one_is_believed(
    tmp_path: Path, data: Path
) -> None:
    own = own_key(data)
    assert run_here(tmp_path, own).voucher is Voucher.OWN
    assert not clinics_path().exists()
    refused(file(tmp_path, OTHER), "signer_unknown")
    (data / "records.toml").write_text(f'signers = ["{public_of(OTHER)}"]\n')
    assert run_here(tmp_path, OTHER).voucher is Voucher.KNOWN
    refused(file(tmp_path, CLINIC), "signer_unknown")


@pytest.mark.parametrize(
    "content",
    [b"", b"{", b"[]", b'{"format": 2}', b'{"clinics": [{"signed_by": "no", "since_utc": ""}]}'],
)
def test_a_damaged_list_is_told_and_never_taken_for_an_empty_one(
    tmp_path: Path, data: Path, content: bytes
) -> None:
    run_here(tmp_path, CLINIC)
    clinics_path().write_bytes(content)
    problem = refused(file(tmp_path, OTHER), "clinics_damaged").problem
    assert str(clinics_path()) in problem.title
    with pytest.raises(UserError):
        accept(signed(MADE, OTHER))
    with pytest.raises(UserError):
        trust.remove("x")
    assert clinics_path().read_bytes() == content
    clinics_path().unlink()
    clinics_path().mkdir()
    refused(file(tmp_path, OTHER), "clinics_damaged")


def test_a_list_that_cannot_be_saved_leaves_the_old_one_and_starts_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    run_here(tmp_path, CLINIC)
    before = clinics_path().read_bytes()

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.replace", full)
    with pytest.raises(UserError, match="No space left"):
        accept(signed(MADE, OTHER))
    assert clinics_path().read_bytes() == before
    assert {path.name for path in clinics_path().parent.iterdir()} == {"clinics.json", LOCK}


def test_who_is_erased_is_erased_there_too_and_the_key_stays(tmp_path: Path, data: Path) -> None:
    run_here(tmp_path, CLINIC)
    assert b"Heron" in clinics_path().read_bytes()
    with Store() as store:
        people = People(store)
        people.erase(people.find("Heron"))
    assert b"Heron" not in clinics_path().read_bytes()
    assert run_here(tmp_path, CLINIC).voucher is Voucher.KNOWN


# nobody's


def test_what_nobody_has_signed_needs_the_option_and_is_said(tmp_path: Path) -> None:
    path = file(tmp_path, None)
    problem = refused(path, "prescription_unsigned").problem
    assert "no proof of who wrote it" in problem.meaning
    assert "--accept-unsigned" in problem.action
    admitted = admit(path, accept_unsigned=True)
    keep_first(admitted)
    assert admitted.voucher is Voucher.UNSIGNED
    assert not clinics_path().exists()  # it makes nobody known
    assert "NOT SIGNED" in voucher_lines(admitted.voucher, admitted.prescription)[0]
    (page,) = voucher_pages(admitted)
    assert "not signed" in page.heading


def test_the_first_key_is_shown_to_be_compared(tmp_path: Path) -> None:
    admitted = admit(file(tmp_path, CLINIC), accept_unsigned=False)
    groups = short(public_of(CLINIC))
    (page,) = voucher_pages(admitted)
    assert groups in str(page)
    assert groups in " ".join(voucher_lines(admitted.voucher, admitted.prescription))
    keep_first(admitted)
    assert list(voucher_pages(admit(file(tmp_path, CLINIC), accept_unsigned=False))) == []


LOOSEST = {
    "pain_stop_over": (0, 5),
    "pain_caution_from": (1, 10),
    "effort_caution_from": (1, 10),
    "cadence_most_percent": (5.0, 10.0),
    "target_step_percent": (1.0, 5.0),
    "longest_min": (1.0, 120.0),
    "volume_most": (0.0, 1.0),
}


@settings(deadline=None)
@given(chosen=st.fixed_dictionaries({n: st.floats(0, 1) for n in LOOSEST}), every=st.floats(1, 30))
def test_no_unsigned_one_is_run_with_a_limit_looser_than_the_programs_own(
    chosen: dict[str, float], every: float
) -> None:
    assert set(LOOSEST) == set(LIMITS)
    fields: dict[str, Any] = {}
    for name, (low, high) in LOOSEST.items():
        value = low + chosen[name] * (high - low)
        fields[name] = round(value) if isinstance(low, int) else value
    a_drill = msgspec.structs.replace(MADE.drill, pain_every_min=every, ask_at_end=())
    loose = msgspec.structs.replace(MADE, limits=Limits(**fields), drill=a_drill)
    held = within_own_limits(loose)
    own = Limits()
    for name in LOOSEST:
        value = getattr(held.limits, name)
        assert value == min(fields[name], getattr(own, name))
    assert held.drill.pain_every_min <= 5.0
    assert Question.PAIN in held.drill.ask_at_end
    assert held.check == loose.check  # it is still that prescription, for its log and its result


@given(over=st.floats(1e-6, 1e6), field=st.sampled_from(["belt", "block", *LOOSEST]))
@settings(
    suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=40, deadline=None
)
def test_no_signature_takes_anything_over_the_programs_own_ceilings(
    tmp_path: Path, over: float, field: str
) -> None:
    table = msgspec.to_builtins(MADE)
    if field == "belt":
        table["belt_speed_kmh"] = 25 + over
    elif field == "block":
        table["drill"]["blocks"][0]["belt_speed_kmh"] = 25 + over
    else:
        high = LOOSEST[field][1]
        table["limits"][field] = (
            high + max(1, round(over)) if isinstance(high, int) else high + over
        )
    path = tmp_path / "beyond.toml"
    for key in (None, CLINIC):
        path.write_text(tomli_w.dumps(_signed_table(table, key)), encoding="utf-8")
        refused(path, "field_wrong", accept_unsigned=True)


def _signed_table(table: dict[str, Any], key: Ed25519PrivateKey | None) -> dict[str, Any]:
    """Signed by whoever has the key, though no version would have written it."""
    plain = {**tomllib.loads(tomli_w.dumps(_without_none(table))), "signed_by": "", "signature": ""}
    if key is not None:
        plain["signed_by"] = public_of(key)
        plain["signature"] = sign(key, signed_content(plain))
    return plain


def _without_none(value: Any) -> Any:
    if isinstance(value, dict):
        return {name: _without_none(one) for name, one in value.items() if one is not None}
    return [_without_none(one) for one in value] if isinstance(value, list | tuple) else value


# earlier ones, and other people's


def held(made: Prescription) -> None:
    done = Done(
        number=1,
        started_unix_s=0,
        share_done=1.0,
        stop_reason=StopReason.FINISHED,
        pain_worst=1,
    )
    log = PlanLog(prescription=made.check, code_name=made.code_name, done=(done,))
    save_log(made, log)


def dated(utc: str, **changes: Any) -> Prescription:
    made = msgspec.structs.replace(MADE, written_utc=utc, **changes)
    return msgspec.structs.replace(made, check=check_sum(made))


def test_an_earlier_one_is_refused_once_a_later_one_of_the_same_drill_was_run(
    tmp_path: Path,
) -> None:
    # Half an hour apart, though the earlier one's clock shows the later hour.
    old, new = dated("2026-03-02T10:00:00+02:00"), dated("2026-03-02T08:30:00+00:00")
    path = tmp_path / "old.toml"
    check_newest(path, old)
    held(signed(old, CLINIC))
    check_newest(path, new)
    save_log(signed(new, CLINIC), read_log(new))  # not run yet
    check_newest(path, old)
    held(signed(new, CLINIC))
    with pytest.raises(UserError) as caught:
        check_newest(path, old)
    assert caught.value.problem.code == "prescription_earlier"
    assert "--earlier" in caught.value.problem.action
    check_newest(path, new)
    check_newest(path, dated(old.written_utc, code_name="Plover"))
    check_newest(path, dated(old.written_utc, drill=drill(title="Another")))


def test_an_unsigned_one_of_the_far_future_keeps_nothing_else_out(tmp_path: Path) -> None:
    held(dated("2999-01-01T00:00:00+00:00"))
    held(signed(dated("some day"), CLINIC))
    assert run_later(signed(MADE, CLINIC)) is None


def test_logs_of_older_versions_are_read_and_block_nothing(data: Path) -> None:
    held(signed(MADE, CLINIC))
    (path,) = (data / "progress").iterdir()
    plain = msgspec.json.decode(path.read_bytes())
    for name in ("drill", "written_utc", "signed_by"):
        del plain[name]
    path.write_bytes(msgspec.json.encode(plain))
    assert len(read_log(MADE).done) == 1
    assert run_later(dated("2000-01-01T00:00:00+00:00")) is None


def test_another_athletes_prescription_is_said_to_be_one() -> None:
    assert others_here(MADE) == ()
    held(signed(dated(MADE.written_utc, code_name="Plover"), CLINIC))
    assert others_here(MADE) == ("Plover",)
    assert others_here(dated(MADE.written_utc, code_name="Plover")) == ()
    (page,) = voucher_pages(Admitted(MADE, Voucher.KNOWN))
    assert "Heron" in page.heading
    assert "Plover" in str(page)
