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
        "Ask the clinic for a new one. At the clinic: check it and sign it with 'beltside sign'.",
    ),
    (
        "signature_wrong",
        "The prescription {path} was changed or damaged after it was signed.",
        "Its limits may not be what the clinic set, so nothing was started.",
        "Ask the clinic for a new one. At the clinic, after a deliberate change: sign it again "
        "with 'beltside sign'.",
    ),
    (
        "prescription_unsigned",
        "The prescription {path} is not signed.",
        "There is no proof of who wrote it with its speeds, limits and cautions. Nothing was "
        "started or accepted.",
        "Ask the clinic for a signed one; it signs older files with 'beltside sign'. If you know "
        "who wrote this one and want to use it anyway: add --accept-unsigned.",
    ),
    (
        "signer_unknown",
        "The prescription {path} is signed with a key that is not known here: {new}.",
        "It may come from another computer at the clinic, or from someone else. Nothing was "
        "started. Known here: {known}.",
        "Ask the clinic, for example by phone, which four groups its 'beltside clinics' shows. "
        "Only if they match, run 'beltside clinics --accept' with this file.",
    ),
    (
        "prescription_earlier",
        "A later prescription of this drill, dated {later}, has already been run here.",
        "{path} is dated {earlier} and does not contain later changes. Nothing was started.",
        "Use the later one. If the clinic does want this one: add --earlier.",
    ),
    (
        "clinics_damaged",
        "The list of known clinics, {path}, cannot be used ({why}).",
        "It is not known who wrote the prescription, so nothing was started.",
        "Restore it from a backup. Or move it away: the key of the next prescription is then taken "
        "to be the clinic's, and its four groups are shown for you to compare.",
    ),
    (
        "clinic_missing",
        "No key with the groups {asked} was accepted here.",
        "Nothing was changed.",
        "To list the accepted keys: beltside clinics.",
    ),
    (
        "signing_key_damaged",
        "This station's signing key, {path}, cannot be used.",
        "Nothing was signed, accepted or started.",
        "Restore it from a backup. Or move it away: a new one is made, and results of earlier "
        "prescriptions are then accepted only with the old key under signers.",
    ),
    (
        "result_unsigned",
        "The result of this session will not be signed: {path} cannot be used.",
        "The session runs normally; the clinic may ask you to confirm it.",
        "Free up disk space, or move that file away: a new one is made at the next session.",
    ),
)
