"""Writes and reads prescriptions: one file with athlete, drill, plan, targets and limits."""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import Any, Final, cast

import msgspec
import tomli_w
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from feedback.athlete_files.drills import check_drill, check_plan
from feedback.athlete_files.signatures import is_signed, public_of, sign
from feedback.storage.toml_fields import field_error, read_fields
from feedback.training.goals import check_goal
from shared.as_typed import as_typed
from shared.catalogue import CATALOGUE, why_not
from shared.files import save_atomically
from shared.language import _, told
from shared.own_values import Baseline
from shared.problems import UserError
from shared.reading import read_toml
from shared.targets import Athlete, Drill, Goal, Plan, Prescription

_HEAD = """\
# A prescription for {name}, written by Beltside. It opens with:
#     beltside home {file}
# Changed by hand it is not run until the clinic has signed it again: beltside sign {file}

"""
SIGNED_AS: Final = b"beltside prescription 1\n"
"""Stands before what is signed, so that no other signature of the same key passes for this one."""


def prescribe(
    athlete: Athlete,
    baseline: Baseline,
    drill: Drill,
    plan: Plan | None,
    goals: tuple[Goal, ...],
    written_utc: str,
) -> Prescription:
    """Put a prescription together, with its check sum."""
    prescription = Prescription(
        code_name=athlete.code_name,
        athlete_id=athlete.athlete_id,
        height_cm=athlete.height_cm,
        view=baseline.view,
        belt_speed_kmh=baseline.belt_speed_kmh,
        written_utc=written_utc,
        baseline_utc=baseline.taken_utc,
        limits=athlete.limits,
        goals=goals,
        drill=drill,
        plan=plan,
    )
    return msgspec.structs.replace(prescription, check=check_sum(prescription))


def check_sum(prescription: Prescription) -> str:
    """SHA-256 over the content: tells one prescription from another, and changes in old files.

    It tells nothing about who wrote it, and is another one once there are more fields.
    """
    # Through plain values and back: a whole number in a field of another kind reads the same.
    again = msgspec.convert(msgspec.to_builtins(prescription), Prescription)
    plain = {**msgspec.to_builtins(again), "check": ""}
    del plain["signed_by"], plain["signature"]  # older versions had none
    if not again.athlete_id:
        del plain["athlete_id"]
    limits = again.limits
    plain["limits"] = {  # older versions had no limits that may be left out
        name: value for name, value in plain["limits"].items() if getattr(limits, name) is not None
    }
    return hashlib.sha256(msgspec.json.encode(plain)).hexdigest()


def signed(prescription: Prescription, key: Ed25519PrivateKey) -> Prescription:
    """The prescription with the signature of the station that wrote it."""
    named = msgspec.structs.replace(prescription, signed_by=public_of(key), signature="")
    return msgspec.structs.replace(named, signature=sign(key, signed_content(_table(named))))


def signed_content(table: dict[str, Any]) -> bytes:
    """What is signed of a file: all that stands in it but the signature (profiles/README.md)."""
    rest = {name: value for name, value in table.items() if name != "signature"}
    return SIGNED_AS + msgspec.json.encode(rest, order="sorted")


def write_prescription(prescription: Prescription, path: Path) -> None:
    """Write the file, readable by its owner only. Raises UserError ``save_failed``."""
    head = _HEAD.format(name=prescription.code_name, file=as_typed(path.name))
    text = head + tomli_w.dumps(_table(prescription), multiline_strings=True)
    save_atomically(path, text.encode("utf-8"))


def read_prescription(path: Path) -> Prescription:
    """Read and check a prescription. Whose key has signed it is not asked here, only if it fits.

    Raises UserError: as for every profile, and ``prescription_changed`` when it is not what was
    written, ``signature_wrong`` when it is not what was signed, ``goal_refused`` when a target is
    beyond the limits all the same. One of an older version has no signature.
    """
    table = _read_table(path)
    signature, signed_by = table.get("signature", ""), table.get("signed_by", "")
    carries = bool(signature or signed_by)
    # Before anything else of it is believed.
    if carries and not _fits(table, signature, signed_by):
        raise UserError("signature_wrong", path=str(path))
    prescription = read_fields(path, table, Prescription)
    if not carries and prescription.check != check_sum(prescription):
        raise UserError("prescription_changed", path=str(path))
    _check(prescription, path)
    return prescription


def read_draft(path: Path) -> Prescription:
    """Read a prescription that was changed by hand and is to be signed anew: all but its signature.

    Raises UserError: as for every profile, and ``goal_refused``.
    """
    table = {k: v for k, v in read_toml(path).items() if k not in ("signature", "signed_by")}
    draft = read_fields(path, table, Prescription)
    _check(draft, path)
    return draft


def written_anew(draft: Prescription, written_utc: str) -> Prescription:
    """A prescription of another date, with the check sum that belongs to it, and no signature."""
    dated = msgspec.structs.replace(draft, written_utc=written_utc, signed_by="", signature="")
    return msgspec.structs.replace(dated, check=check_sum(dated))


def _read_table(path: Path) -> dict[str, Any]:
    try:
        return read_toml(path)
    except UserError as error:
        if error.problem.code != "toml_broken" or path.suffix != ".json":
            raise
        raise UserError(
            "file_of_another_kind",
            path=str(path),
            what=told("a result or a baseline"),
            wanted="a prescription",
            do=told("Use the prescription from the clinic; its name ends in .toml."),
        ) from error


def _fits(table: dict[str, Any], signature: object, signed_by: object) -> bool:
    if not (isinstance(signature, str) and isinstance(signed_by, str)):
        return False
    return is_signed(signed_content(table), signature, signed_by)


def _check(prescription: Prescription, path: Path) -> None:
    """See that all of it belongs together, and keeps the limits."""
    check_drill(prescription.drill, path, "drill.")
    if prescription.plan is not None:
        check_plan(prescription.plan, path, "plan.")
    _check_goals(prescription, path)


def _check_goals(prescription: Prescription, path: Path) -> None:
    names = [aim.name for aim in prescription.drill.aims]
    if [goal.name for goal in prescription.goals] != names:
        listed = [goal.name for goal in prescription.goals]
        why = _("there must be one for each aim of the drill, in its order")
        raise field_error(path, "goals", listed, why, ", ".join(names))
    if prescription.drill.view is not prescription.view:
        why, allowed = _("the drill is for another view"), f'"{prescription.drill.view}"'
        raise field_error(path, "view", prescription.view.value, why, allowed)
    for goal, aim in zip(prescription.goals, prescription.drill.aims, strict=True):
        for target in goal.targets:
            known = target.measure in CATALOGUE and not why_not(target.measure, prescription.view)
            if (target.measure, target.unit, target.side) != (aim.measure, aim.unit, aim.side):
                known = False
            if not known:
                raise field_error(
                    path,
                    f"goals.{goal.name}",
                    target.measure,
                    _("it is not the aim's"),
                    aim.measure,
                )
        check_goal(goal, prescription.limits)


def _table(prescription: Prescription) -> dict[str, Any]:
    """As it stands in the file."""
    table = cast("dict[str, Any]", _without_none(msgspec.to_builtins(prescription)))
    if not prescription.athlete_id:
        del table["athlete_id"]
    return table


def _without_none(value: Any) -> Any:
    """TOML has no way to write None: such fields are left out."""
    if isinstance(value, dict):
        return {key: _without_none(one) for key, one in value.items() if one is not None}
    if isinstance(value, list | tuple):
        return [_without_none(one) for one in value]
    return value
