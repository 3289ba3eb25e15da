"""Keeps what was held of a plan, and the results of sessions to send, in the user's own data."""

from __future__ import annotations

import contextlib
import re
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated, Any, Final

import msgspec
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from msgspec import Meta

from feedback.athlete_files.signatures import is_signed, public_of, sign
from feedback.storage.folders import DataFolder, make_private, own_folder, save_json
from feedback.storage.locking import turn
from feedback.storage.settings import data_folder
from feedback.training.block_results import BlockResult
from feedback.training.plan import Done
from shared.flow import View
from shared.identity import AthleteId, Named, in_file_name, plain
from shared.language import _
from shared.problems import UserError
from shared.reading import read_json
from shared.targets import Prescription, SessionKind

SIGNED_AS: Final = b"beltside result 1\n"
"""Stands before what is signed, so that no other signature of the same key passes for this one."""


class PlanLog(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The sessions held of one prescription, in order."""

    format: Annotated[int, Meta(ge=1, le=1)] = 1
    prescription: str
    """The prescription's check sum."""
    code_name: str
    athlete_id: AthleteId = ""
    """Empty in logs of older versions."""
    done: tuple[Done, ...] = ()
    drill: str = ""
    """The drill's title; this and the next two are empty in logs of older versions."""
    written_utc: str = ""
    """When the prescription was written."""
    signed_by: str = ""
    """Empty as well where nobody has signed it."""


class Result(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One session held with a prescription: what is sent back."""

    format: Annotated[int, Meta(ge=1, le=1)] = 1
    made_with: str
    """Program and version."""
    prescription: str
    """Check sum of the prescription that this answers."""
    signed_by: str = ""
    """Of that prescription: the public key of the station that signed it."""
    signature: str = ""
    """Of that prescription; empty for one of an older version."""
    code_name: Annotated[str, Meta(max_length=40)]
    athlete_id: AthleteId = ""
    """As in the prescription; empty in files of older versions."""
    view: View
    belt_speed_kmh: float
    source: str
    """Where the pictures came from, in plain words."""
    trial: bool
    """Made to try it out (a recorded clip, or blocks cut short): counts for nothing."""
    started_utc: str
    session: Done
    kind: SessionKind
    planned_s: Annotated[float, Meta(ge=0)]
    blocks: tuple[BlockResult, ...]
    morning: bool | None
    """After the session before this one: whether the pain had settled by the next morning."""
    session_id: Annotated[str, Meta(pattern=r"^([0-9a-f]{32})?\Z")] = ""
    """Made as the session began; empty in files of older versions, as are the next two."""
    held_by: str = ""
    """The public key of the computer at which it was held."""
    held_signature: str = ""
    """By that key, over all else that stands here."""


def read_log(prescription: Prescription) -> PlanLog:
    """What was held so far; empty before the first session. Raises UserError."""
    path = log_path(prescription)
    if not path.exists():
        return PlanLog(
            prescription=prescription.check,
            code_name=prescription.code_name,
            athlete_id=prescription.athlete_id,
        )
    return read_json(path, PlanLog, _("the log of a plan"))


def save_log(prescription: Prescription, log: PlanLog) -> None:
    """Save it, readable by its owner only. Raises UserError ``save_failed``."""
    path = log_path(prescription)
    make_private(path.parent)
    named = msgspec.structs.replace(
        log,
        drill=prescription.drill.title,
        written_utc=prescription.written_utc,
        signed_by=prescription.signed_by,
    )
    save_json(path, named)


def save_done(prescription: Prescription, done: Done, before: Done | None) -> None:
    """Put a session into the log as it is now, in place of ``before``, where that was put there.

    What other programs have put there meanwhile stays. Raises UserError.
    """
    with turn(data_folder()):
        log = read_log(prescription)
        held = list(log.done)
        if before in held:
            held[len(held) - 1 - held[::-1].index(before)] = done
        else:
            held.append(done)
        save_log(prescription, msgspec.structs.replace(log, done=tuple(held)))


def logs_here() -> tuple[PlanLog, ...]:
    """Every log on this computer; those that cannot be read are left out."""
    found = []
    for path in sorted(own_folder(DataFolder.PROGRESS).glob("*.json")):
        with contextlib.suppress(UserError):
            found.append(read_json(path, PlanLog, _("the log of a plan")))
    return tuple(found)


def others_here(athlete: Named) -> tuple[str, ...]:
    """Who has run here so far, where this athlete has not; none where this one has, or nobody."""
    held = [log for log in logs_here() if log.done]
    if any(_same(log, athlete) for log in held):
        return ()
    return tuple(sorted({log.code_name for log in held}))


def run_later(prescription: Prescription) -> str | None:
    """When the latest one was written that replaces this one and was run here; None for none.

    Of the same athlete and drill, and signed: one that anyone may have written replaces nothing.
    """
    mine = _moment(prescription.written_utc)
    later = {
        moment: log.written_utc
        for log in logs_here()
        if log.signed_by
        and log.done
        and _same(log, prescription)
        and log.drill == prescription.drill.title
        and (moment := _moment(log.written_utc)) is not None
        and (mine is None or moment > mine)
    }
    return later[max(later)] if later else None


def _same(one: Named, other: Named) -> bool:
    """Whether two are of one athlete; by the very name where either is from before ids."""
    if one.athlete_id and other.athlete_id:
        return one.athlete_id == other.athlete_id
    return one.code_name == other.code_name


def _moment(utc: str) -> datetime | None:
    try:
        moment = datetime.fromisoformat(utc)
    except ValueError:
        return None
    return moment if moment.tzinfo is not None else moment.replace(tzinfo=UTC)


def log_path(prescription: Prescription) -> Path:
    """Where the log of a prescription stands, also one that an older version has begun."""
    folder, ending = own_folder(DataFolder.PROGRESS), f"{prescription.check[:16]}.json"
    before = folder / f"{plain(prescription.code_name)}-{ending}"
    return before if before.exists() else folder / f"{in_file_name(prescription)}-{ending}"


def result_path(result: Result, folder: Path | None = None) -> Path:
    """Where a result is saved."""
    stamp = re.sub(r"[^0-9T]", "", result.started_utc[:26])  # to the microsecond
    trial = "-trial" if result.trial else ""
    name = f"{in_file_name(result)}-session{result.session.number}-{stamp}{trial}.json"
    return (own_folder(DataFolder.RESULTS) if folder is None else folder) / name


def signed_result(result: Result, key: Ed25519PrivateKey) -> Result:
    """The result with the signature of the computer at which it was held."""
    named = msgspec.structs.replace(result, held_by=public_of(key), held_signature="")
    content = _signed_content(msgspec.to_builtins(named))
    return msgspec.structs.replace(named, held_signature=sign(key, content))


def is_as_held(path: Path, result: Result) -> bool:
    """Whether a result's file is as the computer wrote it that held the session.

    True as well for one that bears no signature, as of an older version. Raises UserError.
    """
    if not (result.held_by or result.held_signature or result.session_id):
        return True
    table = read_json(path, dict[str, Any], _("the result of a session"))
    return is_signed(_signed_content(table), result.held_signature, result.held_by)


def _signed_content(table: dict[str, Any]) -> bytes:
    """As of a prescription (profiles/README.md), behind another line."""
    rest = {name: value for name, value in table.items() if name != "held_signature"}
    return SIGNED_AS + msgspec.json.encode(rest, order="sorted")


def save_result(result: Result, path: Path) -> None:
    """Save it, readable by its owner only. Raises UserError ``save_failed``."""
    if path.parent == own_folder(DataFolder.RESULTS):
        make_private(path.parent)
    save_json(path, result)


def read_result(path: Path) -> Result:
    """Read a result. Raises UserError ``file_missing`` or ``file_unreadable``."""
    return read_json(path, Result, _("the result of a session"))
