"""``beltside sign``: looks a prescription through that was changed by hand, and signs it anew."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import msgspec
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from feedback.athlete_files.prescriptions import read_draft, read_prescription, signed, written_anew
from feedback.athlete_files.signatures import own_key, public_of, short
from feedback.cli.commands.prescribe import goal_words, keep
from feedback.cli.common.hold_session import ask_yes_no
from feedback.records.home_results import prescriptions_here
from feedback.storage.settings import data_folder
from feedback.terminal.guard import OK
from feedback.terminal.tables import PlainConsole
from feedback.texts.training import sessions_of
from feedback.training.goals import speeds_of
from shared.clock import anchor_now
from shared.language import _
from shared.problems import UserError
from shared.reading import read_toml
from shared.targets import Prescription

NOT_COMPARED = ("check", "signed_by", "signature")


def run(options: argparse.Namespace) -> int:
    """Show what is to be signed, ask, sign. Raises UserError for what cannot be prescribed."""
    path = options.file.expanduser()
    draft = read_draft(path)
    console = PlainConsole(soft_wrap=True)
    key = own_key(data_folder())
    if _is_signed_here(path, key):
        console.print(
            _(
                "{path} is signed by this station and unchanged since. You need not do anything."
            ).format(path=path)
        )
        return OK
    _show(console, draft)
    _show_origin(console, path, draft)
    question = _("Is all of this correct, and do you want this station to sign it?")
    if not (options.yes or ask_yes_no(question) is True):
        console.print(_("Nothing was signed, and the file is unchanged."))
        return OK
    now_utc = anchor_now().wall_utc
    prescription = signed(written_anew(draft, now_utc), key)
    out = keep(prescription, path if options.out is None else options.out.expanduser())
    console.print(_("Written to {out}").format(out=out))
    console.print(_("Signed by this station: {short}").format(short=short(prescription.signed_by)))
    console.print(_("The plan starts again at its first session; --number N starts at another."))
    return OK


def _is_signed_here(path: Path, key: Ed25519PrivateKey) -> bool:
    try:
        return read_prescription(path).signed_by == public_of(key)
    except UserError:  # as after a change by hand
        return False


def _show(console: PlainConsole, draft: Prescription) -> None:
    console.print(
        _("{title}, for {code_name}, camera {view}").format(
            title=draft.drill.title, code_name=draft.code_name, view=draft.view
        )
    )
    speeds = " / ".join(f"{speed:g}" for speed in speeds_of(draft))
    console.print(_("Belt: {speeds} km/h").format(speeds=speeds))
    for goal in draft.goals:
        for line in goal_words(goal):
            console.print(f"  {line}")
    for field, value in msgspec.to_builtins(draft.limits).items():
        console.print(_("  limits.{field} = {value}").format(field=field, value=value))
    asked = ", ".join(draft.drill.ask_at_end) or "nothing"
    console.print(
        _("Pain is asked every {pain_every_min:g} min; at the end: {asked}").format(
            pain_every_min=draft.drill.pain_every_min, asked=asked
        )
    )
    if draft.plan is not None:
        console.print(
            _("Plan: {title} ({sessions_of})").format(
                title=draft.plan.title, sessions_of=sessions_of(draft.plan)
            )
        )


def _show_origin(console: PlainConsole, path: Path, draft: Prescription) -> None:
    """What was changed since, where the one that it comes from is kept here."""
    before = _before(path, draft)
    if before is None:
        console.print(_("The original prescription is not stored here: check everything."))
        return
    changes = list(_changes(_plain(before), _plain(draft), ""))
    console.print(
        _("Compared with the one of {replace} stored here:").format(
            replace=before.written_utc[:16].replace("T", " ")
        )
    )
    for change in changes:
        console.print(f"  {change}")
    if not changes:
        console.print(_("  nothing was changed"))


def _before(path: Path, draft: Prescription) -> Prescription | None:
    signature = read_toml(path).get("signature") or None
    for one in prescriptions_here():
        if signature == one.signature or (signature is None and one.check == draft.check):
            return one
    try:
        return read_prescription(path)  # signed elsewhere, and as it was
    except UserError:
        return None


def _plain(prescription: Prescription) -> dict[str, Any]:
    plain: dict[str, Any] = msgspec.to_builtins(prescription)
    return {name: value for name, value in plain.items() if name not in NOT_COMPARED}


def _changes(old: Any, new: Any, place: str) -> Iterator[str]:
    """Each field that differs, with both values."""
    if isinstance(old, dict) and isinstance(new, dict):
        for name in {**old, **new}:
            inside = f"{place}.{name}" if place else name
            yield from _changes(old.get(name), new.get(name), inside)
    elif isinstance(old, list | tuple) and isinstance(new, list | tuple) and len(old) == len(new):
        for number, (one, other) in enumerate(zip(old, new, strict=True)):
            yield from _changes(one, other, f"{place}[{number}]")
    elif old != new:
        yield f"{place}: {_short(old)} -> {_short(new)}"


def _short(value: Any) -> str:
    text = "nothing" if value is None else str(value)
    return text if len(text) <= 60 else f"{text[:59]}…"
