"""Whose prescriptions are run on this computer: its own, and those of clinics whose key it knows.

The first key that is met is taken for the clinic's and kept, with the moment; from then on another
key is refused until a person has accepted it.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Final

import msgspec
from msgspec import Meta

from feedback.athlete_files.plan_log import run_later
from feedback.athlete_files.prescriptions import read_prescription
from feedback.athlete_files.signatures import own_public, short
from feedback.athlete_files.todays_session import within_own_limits
from feedback.storage.folders import make_private, save_json
from feedback.storage.locking import turn
from feedback.storage.settings import data_folder, read_settings
from shared.clock import anchor_now
from shared.identity import AthleteId, id_of
from shared.language import _
from shared.problems import UserError
from shared.reading import read_json
from shared.targets import Prescription, Voucher

FILE: Final = "clinics.json"


class Clinic(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A key that prescriptions may be signed with."""

    signed_by: Annotated[str, Meta(pattern="^[0-9a-f]{64}$")]
    since_utc: str
    code_name: str = ""
    """Of the athlete whose prescription brought it; empty once that athlete was erased."""
    athlete_id: AthleteId = ""
    """The same athlete's; empty as well in lists of older versions."""
    first: bool = False
    """It was taken unasked, as the first one; any other was accepted by a person."""


class Clinics(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The whole file."""

    format: Annotated[int, Meta(ge=1, le=1)] = 1
    clinics: tuple[Clinic, ...] = ()


@dataclass(frozen=True)
class Admitted:
    """A prescription that may be run here, and who stands behind it."""

    prescription: Prescription
    """As it is run: one that nobody has signed is held to the program's own limits."""
    voucher: Voucher


def admit(path: Path, *, accept_unsigned: bool) -> Admitted:
    """Read a prescription that is to be run or planned with here. Nothing is kept by this.

    Raises UserError: as :func:`read_prescription`, ``prescription_unsigned`` without that option,
    ``signer_unknown``, ``clinics_damaged``, ``signing_key_damaged``.
    """
    prescription = read_prescription(path)
    if not prescription.signature:
        if not accept_unsigned:
            raise UserError("prescription_unsigned", path=str(path))
        return Admitted(within_own_limits(prescription), Voucher.UNSIGNED)
    own = prescription.signed_by == own_public(data_folder())
    if own or any(one.signed_by == prescription.signed_by for one in read_clinics().clinics):
        # Known without a look at the settings: damaged ones are in the way of new keys only.
        return Admitted(prescription, Voucher.OWN if own else Voucher.KNOWN)
    known = known_keys()
    if not known:
        return Admitted(prescription, Voucher.FIRST)
    if prescription.signed_by not in known:
        listed = ", ".join(f"{short(key)} ({words})" for key, words in known.items())
        new = short(prescription.signed_by)
        raise UserError("signer_unknown", path=str(path), new=new, known=listed)
    return Admitted(prescription, Voucher.KNOWN)


def check_newest(path: Path, prescription: Prescription) -> None:
    """Raises UserError ``prescription_earlier`` where a later one of this drill has been run."""
    later = run_later(prescription)
    if later is not None:
        earlier = _day(prescription.written_utc)
        raise UserError("prescription_earlier", path=str(path), earlier=earlier, later=_day(later))


def known_keys() -> dict[str, str]:
    """Every key that is known here, with words that say why."""
    found: dict[str, str] = {}
    for clinic in read_clinics().clinics:
        how = "the first one used" if clinic.first else "accepted"
        found[clinic.signed_by] = f"{how}, {_day(clinic.since_utc)}{_with(clinic.code_name)}"
    found |= dict.fromkeys(read_settings().signers, _("under signers in records.toml"))
    own = own_public(data_folder())
    if own:
        found[own] = _("this computer's own")
    return found


def keep_first(admitted: Admitted) -> None:
    """Keep the first clinic's key, as its prescription is about to be run. Raises UserError."""
    if admitted.voucher is Voucher.FIRST:
        _keep(admitted.prescription, first=True)


def accept(prescription: Prescription) -> None:
    """Keep the key of a prescription that a person has accepted. Raises UserError."""
    _keep(prescription, first=False)


def _keep(prescription: Prescription, *, first: bool) -> None:
    new = Clinic(
        signed_by=prescription.signed_by,
        since_utc=anchor_now().wall_utc,
        code_name=prescription.code_name,
        athlete_id=prescription.athlete_id,
        first=first,
    )
    with turn(data_folder()):
        kept = read_clinics().clinics
        if all(one.signed_by != new.signed_by for one in kept):
            _save((*kept, new))


def remove(groups: str) -> None:
    """Forget the key with these four groups. Raises UserError ``clinic_missing``."""
    asked = "".join(groups.split()).lower()
    with turn(data_folder()):
        kept = read_clinics().clinics
        left = tuple(one for one in kept if short(one.signed_by).replace(" ", "") != asked)
        if left == kept:
            raise UserError("clinic_missing", asked=groups)
        _save(left)


def forget_athlete(athlete_id: str) -> None:
    """Forget with whose prescription a key came; the key itself stays known. Raises UserError."""
    with turn(data_folder()):
        kept = read_clinics().clinics
        left = tuple(
            msgspec.structs.replace(one, code_name="", athlete_id="")
            if one.code_name and id_of(one) == athlete_id
            else one
            for one in kept
        )
        if left != kept:
            _save(left)


def clinics_path() -> Path:
    """Where they are kept; the file may not exist."""
    return data_folder() / FILE


def read_clinics() -> Clinics:
    """Those kept so far. Raises UserError ``clinics_damaged``: never taken for an empty list."""
    path = clinics_path()
    try:
        return read_json(path, Clinics, _("the list of clinics"))
    except UserError as error:
        if error.problem.code == "file_missing":
            return Clinics()
        why = _("it cannot be read, or is damaged, or of another version")
        raise UserError("clinics_damaged", str(error), path=str(path), why=why) from error


def _save(clinics: tuple[Clinic, ...]) -> None:
    make_private(data_folder())
    save_json(clinics_path(), Clinics(clinics=clinics))


def _day(written_utc: str) -> str:
    return written_utc[:16].replace("T", " ")


def _with(code_name: str) -> str:
    return (
        _(", with a prescription for {code_name}").format(code_name=code_name) if code_name else ""
    )
