"""Results from home are taken in only as the answer to what this clinic has signed."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from feedback.athlete_files.plan_log import Result
from feedback.athlete_files.prescriptions import signed, write_prescription
from feedback.athlete_files.signatures import own_key, own_public, public_of
from feedback.athlete_files.trust import accept
from feedback.storage.folders import DataFolder, own_folder
from feedback.storage.settings import data_folder
from shared.targets import Prescription
from tests.feedback.records.command_line import run
from tests.feedback.records.month import prescription
from tests.feedback.records.test_sharing import data, result, sent

__all__ = ["data"]  # a fixture
OTHER = Ed25519PrivateKey.from_private_bytes(bytes(range(32)))


def keep(made: Prescription) -> Prescription:
    path = own_folder(DataFolder.PRESCRIPTIONS) / "heron.toml"
    path.parent.mkdir(parents=True, exist_ok=True)
    write_prescription(made, path)
    return made


def answer(made: Prescription) -> Result:
    return result(made)


def test_the_answer_to_what_this_clinic_signed_is_taken_in(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    made = keep(signed(prescription(), own_key(data_folder())))
    code, out, err = run(capsys, "receive", sent(tmp_path, answer(made)))
    assert (code, err) == (0, "")
    assert out == "Taken in: Heron, session 5 of 2025-04-02T18:00:00+02:00.\n"


def test_what_another_station_signed_is_refused_unless_it_is_the_clinics_own(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, data: Path
) -> None:
    made = keep(signed(prescription(), OTHER))
    own_key(data_folder())
    path = sent(tmp_path, answer(made))
    code, _, err = run(capsys, "receive", path)
    assert code == 1
    assert "was signed elsewhere" in err
    assert "signers in records.toml" in err
    (data / "records.toml").write_text(f'signers = ["{public_of(OTHER)}"]\n')
    assert run(capsys, "receive", path)[0] == 0


def test_a_station_without_a_key_has_signed_nothing(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, data: Path
) -> None:
    made = keep(signed(prescription(), OTHER))
    assert run(capsys, "receive", sent(tmp_path, answer(made)))[0] == 1
    assert not (data / "signing.pem").exists()


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"signature": ""}, "does not carry its prescription's signature"),
        ({"signature": "0" * 128}, "signature differs"),
        ({"signed_by": public_of(OTHER)}, "signature differs"),
    ],
)
def test_a_result_with_another_signature_is_refused(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, changes: dict[str, str], why: str
) -> None:
    made = keep(signed(prescription(), own_key(data_folder())))
    answered = msgspec.structs.replace(answer(made), **changes)
    code, _, err = run(capsys, "receive", sent(tmp_path, answered))
    assert code == 1
    assert why in err


def test_a_result_of_an_unsigned_prescription_needs_the_option_and_its_report_says_so(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, data: Path
) -> None:
    made = keep(prescription())
    path = sent(tmp_path, answer(made))
    code, _, err = run(capsys, "receive", path)
    assert code == 1
    assert "is not signed, so anyone may have written it" in err
    assert "--accept-unsigned" in err
    assert not list(data.glob("sessions/*"))
    code, out, _ = run(capsys, "receive", path, "--accept-unsigned")
    assert code == 0
    assert out.startswith("Note: its prescription is not signed.")
    assert report(capsys, tmp_path).count("Its prescription was not signed") == 1


def report(capsys: pytest.CaptureFixture[str], folder: Path) -> str:
    page = folder / "page.html"
    assert run(capsys, "report", "heron", "--out", str(page))[0] == 0
    return page.read_text(encoding="utf-8")


def test_the_report_of_a_signed_one_says_nothing_of_it(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    made = keep(signed(prescription(), own_key(data_folder())))
    assert run(capsys, "receive", sent(tmp_path, answer(made)))[0] == 0
    assert "not signed" not in report(capsys, tmp_path)


@pytest.mark.parametrize("accepted", [(), ("--accept-unsigned",)])
def test_a_forged_prescription_is_refused_though_it_is_given_by_hand(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, accepted: tuple[str, ...]
) -> None:
    own_key(data_folder())
    forged = signed(prescription(), OTHER)
    given = tmp_path / "given.toml"
    words = ("receive", sent(tmp_path, answer(forged)), "--prescription", str(given), *accepted)
    write_prescription(forged, given)
    assert "was signed elsewhere" in run(capsys, *words)[2]
    write_prescription(msgspec.structs.replace(forged, signed_by=own_public(data_folder())), given)
    assert "changed or damaged after it was signed" in run(capsys, *words)[2]
    assert not list(data_folder().glob("sessions/*"))


def test_an_unsigned_prescription_given_by_hand_is_refused_even_beside_a_good_one(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    made = keep(signed(prescription(), own_key(data_folder())))
    given = tmp_path / "given.toml"
    write_prescription(prescription(), given)
    path = sent(tmp_path, answer(made))
    code, _, err = run(capsys, "receive", path, "--prescription", str(given))
    assert code == 1
    assert "is not signed" in err
    assert run(capsys, "receive", path)[0] == 0


def test_an_unsigned_copy_is_no_way_in_for_an_answer_without_the_signature(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    keep(signed(prescription(), own_key(data_folder())))
    code, _, err = run(capsys, "receive", sent(tmp_path, answer(prescription())))
    assert code == 1
    assert "does not carry its prescription's signature" in err


def test_a_clinic_that_a_home_accepted_has_signed_nothing_for_this_station(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    made = keep(signed(prescription(), OTHER))
    accept(made)
    assert "was signed elsewhere" in run(capsys, "receive", sent(tmp_path, answer(made)))[2]


def test_a_signature_that_was_added_to_an_old_prescriptions_answer_is_refused(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    keep(prescription())
    forged = answer(signed(prescription(), OTHER))
    code, _, err = run(capsys, "receive", sent(tmp_path, forged), "--accept-unsigned")
    assert code == 1
    assert "signature differs" in err


def test_a_prescription_that_was_planted_here_with_a_mended_sum_is_not_known(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    made = signed(prescription(), own_key(data_folder()))
    path = own_folder(DataFolder.PRESCRIPTIONS) / "heron.toml"
    keep(msgspec.structs.replace(made, signature="0" * 128))
    code, _, err = run(capsys, "receive", sent(tmp_path, answer(made)))
    assert code == 1
    assert "not known here" in err
    assert path.exists()
