"""Results from home are taken in only as the answer to what this clinic has signed."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from feedback.prescriptions import signed, write_prescription
from feedback.progress import Result
from feedback.records.settings import data_folder
from feedback.shelf import Shelf, own_folder
from feedback.signing import own_key, public_of
from shared.targets import Prescription
from tests.feedback.records.month import prescription
from tests.feedback.records.test_sharing import data, result, run, sent

__all__ = ["data"]  # a fixture
OTHER = Ed25519PrivateKey.from_private_bytes(bytes(range(32)))


def keep(made: Prescription) -> Prescription:
    path = own_folder(Shelf.PRESCRIPTIONS) / "heron.toml"
    path.parent.mkdir(parents=True, exist_ok=True)
    write_prescription(made, path)
    return made


def answer(made: Prescription) -> Result:
    return result(made, signed_by=made.signed_by, signature=made.signature)


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
        ({"signature": "0" * 128}, "another signature"),
        ({"signed_by": public_of(OTHER)}, "another signature"),
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


def test_a_result_of_an_unsigned_prescription_is_taken_in_and_that_is_said(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    made = keep(prescription())
    code, out, _ = run(capsys, "receive", sent(tmp_path, answer(made)))
    assert code == 0
    assert out.startswith("Note: its prescription is of an older version and has no signature")


def test_a_signature_that_was_added_to_an_old_prescriptions_answer_is_refused(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    keep(prescription())
    forged = answer(signed(prescription(), OTHER))
    code, _, err = run(capsys, "receive", sent(tmp_path, forged))
    assert code == 1
    assert "another signature" in err


def test_a_prescription_that_was_planted_here_with_a_mended_sum_is_not_known(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    made = signed(prescription(), own_key(data_folder()))
    path = own_folder(Shelf.PRESCRIPTIONS) / "heron.toml"
    keep(msgspec.structs.replace(made, signature="0" * 128))
    code, _, err = run(capsys, "receive", sent(tmp_path, answer(made)))
    assert code == 1
    assert "not known here" in err
    assert path.exists()
