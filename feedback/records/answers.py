"""Whether a result from home is one more answer to a prescription, or a copy of one (pure).

The computer at which a session is held signs its result, with an id made as the session began. So
whatever is changed in a copy is seen, and a session that the plan repeats is told from a copy by
its id. Where nobody signed the result, as in files of older versions, a session of a plan is
answered once, and what was measured once is one session: what else would tell two of them apart,
anyone may write otherwise. No two sessions have the same means to the last digit, so a copy is
known though its time and its number are others. Who writes other values, too, has made up a
session, and nothing in an unsigned file can show that.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from feedback.athlete_files.plan_log import Result
from feedback.athlete_files.signatures import short
from feedback.records.result_limits import started_of
from feedback.records.summary import Digest, Origin
from feedback.records.wording import moment
from shared.language import _, mark

CONFIRM: Final = mark("If the runner confirms that it took place, add --confirmed.")
NOTHING: Final = mark("You need not do anything.")
SET_ASIDE: Final = (
    mark("its session is already here, set aside because it is past its retention time"),
    mark("To bring it back: beltside erase --bring-back."),
)


@dataclass(frozen=True)
class Taken:
    """A session from home that has been taken in."""

    digest: Digest
    aside: bool = False
    """It is past its time and waits to be erased."""


def uid_of_result(result: Result) -> str:
    """The same for the same session, so that what is sent twice counts once.

    By the prescription and the session's id, else by the moment: not by how that is written, nor
    by the session's number, which anyone may write otherwise.
    """
    if result.session_id:
        return _hashed("home session", result.prescription, result.session_id)
    return _hashed("home", result.prescription, started_of(result).isoformat())


def former_uid_of_result(result: Result) -> str:
    """As older versions named it: what was erased with one of them stays erased."""
    return _hashed("home", result.prescription, result.started_utc, str(result.session.number))


def uid_of_answer(prescription: str, number: int | None) -> str:
    """Of a prescription's session, whenever it was held: kept of what is erased."""
    return _hashed("home answer", prescription, str(number))


def uids_kept(digest: Digest) -> tuple[str, str]:
    """What is kept of an erased session from home, beside its uid, so that no copy comes back."""
    return uid_of_answer(digest.prescription, digest.number), uid_of_values(digest)


def uid_of_values(digest: Digest) -> str:
    """Of what was measured, whatever the session is called: kept of what is erased."""
    values = [f"{key}={count}x{mean!r}" for key, (mean, count) in sorted(_measured(digest).items())]
    return _hashed("home values", digest.prescription, *values)


def measured_the_same(one: Digest, other: Digest) -> bool:
    """Whether two are accounts of one session: half of their values or more are the same.

    Half, so that a copy is not another session by one value that was changed in it.
    """
    mine, others = _measured(one), _measured(other)
    both = mine.keys() & others.keys()
    same = [
        key
        for key in both
        if mine[key][1] == others[key][1]
        and math.isclose(mine[key][0], others[key][0], rel_tol=1e-9, abs_tol=1e-12)
    ]
    return bool(both) and 2 * len(same) >= len(both)


def _measured(digest: Digest) -> dict[str, tuple[float, int]]:
    """Each mean with its number of values; steps and seconds where there is no mean."""
    found = {
        f"{mean.measure}|{mean.side}|{mean.part.value}": (mean.mean, mean.values)
        for mean in digest.means
    }
    return found or {"steps": (digest.run_s, digest.steps)}


def _hashed(*parts: str) -> str:
    return hashlib.sha256("|".join(parts).encode()).hexdigest()[:32]


def why_refused(
    result: Result,
    found: Digest,
    taken: Sequence[Taken],
    erased: frozenset[str],
    aside: frozenset[str] = frozenset(),
    *,
    confirmed: bool,
) -> tuple[str, str] | None:
    """Why it is no answer to be taken in, and what is to be done; None for one that is.

    ``found`` is what the result comes to, ``taken`` are the athlete's sessions, ``erased`` the
    uids of what was erased on purpose, ``aside`` those of all that is set aside.
    ``confirmed``: a person vouches that the session was held, where only that can tell.
    """
    same = [one for one in taken if _answers(one.digest, result)]
    uid = uid_of_result(result)
    if result.session_id and result.session_id in {one.digest.uid for one in taken}:
        return _("it was run at a station of the clinic, whose record is in the store"), _(NOTHING)
    again = _again(uid, result, same)
    if again is not None:
        return again
    if {uid, result.session_id} & aside:
        return _(SET_ASIDE[0]), _(SET_ASIDE[1])
    if {uid, former_uid_of_result(result), result.session_id} & erased:
        return _("its session was erased on purpose"), _(NOTHING)
    return None if confirmed else _unproved(result, found, same, erased)


def _again(uid: str, result: Result, same: Iterable[Taken]) -> tuple[str, str] | None:
    for one in same:
        at_once = uid != one.digest.uid and run_at_once(result, one.digest)
        if uid != one.digest.uid and not at_once:
            continue
        if at_once and datetime.fromisoformat(one.digest.started_utc) != started_of(result):
            why = _("the session of {moment} with the same prescription still ran when it began")
            return (
                why.format(moment=moment(one.digest.started_utc)),
                _("Ask how the session was run."),
            )
        if one.aside:
            return _(SET_ASIDE[0]), _(SET_ASIDE[1])
        return _("it has already been accepted"), _(NOTHING)
    return None


def _unproved(
    result: Result, found: Digest, same: Iterable[Taken], erased: frozenset[str]
) -> tuple[str, str] | None:
    """What a person has to tell: nothing in the file can."""
    number = result.session.number
    keys = {one.digest.held_by for one in same if one.digest.held_by}
    if keys and not result.held_by:
        why = _("it is not signed by the computer that ran it, as earlier results were")
        return why, f"{_('Ask for the file exactly as the program wrote it.')} {_(CONFIRM)}"
    if keys and result.held_by not in keys:
        why = _("it was held at another computer ({key}) than those before it")
        return why.format(key=short(result.held_by)), _(CONFIRM)
    unsigned = [one for one in same if not (one.digest.held_by and result.held_by)]
    if any(one.digest.number == number for one in unsigned):
        why = _("session {number} of its prescription has been answered before")
        do = _("A second one cannot be distinguished from a copy.")
        return why.format(number=number), f"{do} {_(CONFIRM)}"
    for one in unsigned:
        if measured_the_same(found, one.digest):
            why = _("it has the same values as the session of {when}, so it is probably a copy")
            do = _("If the runner confirms that it was another session, add --confirmed.")
            return why.format(when=moment(one.digest.started_utc)), do
    if not result.held_by and uid_of_answer(result.prescription, number) in erased:
        why = _("an answer to session {number} of its prescription was erased on purpose")
        return why.format(number=number), _(CONFIRM)
    if not result.held_by and uid_of_values(found) in erased:
        why = _("a session with the same values was erased on purpose")
        return why, _(CONFIRM)
    return None


def run_at_once(result: Result, other: Digest) -> bool:
    """Whether a session was still run while this one was: one runner cannot do both."""
    begin, other_begin = started_of(result), datetime.fromisoformat(other.started_utc)
    end = begin + timedelta(seconds=sum(block.seconds for block in result.blocks))
    other_end = other_begin + timedelta(seconds=other.run_s)
    return other_begin == begin or (other_begin < end and begin < other_end)


def _answers(one: Digest, result: Result) -> bool:
    return one.origin is Origin.HOME and one.prescription == result.prescription
