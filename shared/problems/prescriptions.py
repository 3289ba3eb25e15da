"""The problems of prescriptions and their signatures: part of shared.problems (pure).

Each row: code, what happened, what it means, what to do.
"""

from __future__ import annotations

from typing import Final

PRESCRIPTIONS: Final[tuple[tuple[str, str, str, str], ...]] = (
    (
        "prescription_changed",
        "The prescription {path} was changed after it was written.",
        "Its limits may not be what the clinic set, so nothing was started.",
        "Ask the clinic for a new one. The clinic itself looks it through and signs it with "
        "'beltside sign'.",
    ),
    (
        "signature_wrong",
        "The prescription {path} was changed or damaged after it was signed.",
        "Its limits may not be what the clinic set, so nothing was started.",
        "Ask the clinic for a new one. A clinic that changed it on purpose signs it anew with "
        "'beltside sign'.",
    ),
    (
        "prescription_unsigned",
        "The prescription {path} is not signed.",
        "Nobody vouches for it: its speeds, limits and cautions may be anyone's. Nothing was "
        "started or taken in.",
        "Ask the clinic for a signed one; it signs older files with 'beltside sign'. If you know "
        "who made this one and want it all the same: add --accept-unsigned.",
    ),
    (
        "signer_unknown",
        "The prescription {path} is signed with a key that is not known here: {new}.",
        "It may come from another computer of the clinic, or from somebody else. Nothing was "
        "started. Known here: {known}.",
        "Ask the clinic, by a way you trust, which four groups its 'beltside clinics' shows. Only "
        "if they are the same, run 'beltside clinics --accept' with this file.",
    ),
    (
        "prescription_earlier",
        "A later prescription of this drill has been run here: one of {later}.",
        "{path} is of {earlier}: what was changed since does not stand in it. Nothing was started.",
        "Use the later one. When the clinic wants this one after all: add --earlier.",
    ),
    (
        "clinics_damaged",
        "The list of clinics that are known here, {path}, cannot be used ({why}).",
        "Whose prescription it is cannot be told, so nothing was started.",
        "Put it back from a copy. Or move it away: the key of the next prescription is then taken "
        "for the clinic's, and its four groups are shown to be compared.",
    ),
    (
        "clinic_missing",
        "No key with the groups {asked} was accepted here.",
        "Nothing was changed.",
        "Those that were are listed by: beltside clinics.",
    ),
    (
        "signing_key_damaged",
        "This station's key to sign with, {path}, cannot be used.",
        "Nothing was signed, taken in or started.",
        "Put it back from a copy. Or move it away: a new one is made, and results that answer "
        "earlier prescriptions are then taken in only with the old key under signers.",
    ),
    (
        "result_unsigned",
        "The result of this session will not be signed: {path} cannot be used.",
        "The session is held as always; the clinic may ask whether it was.",
        "Make room on the disk, or move that file away: a new one is made at the next session.",
    ),
)
