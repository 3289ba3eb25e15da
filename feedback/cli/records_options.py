"""What can be typed for reports, progress, export, home results, erasing and the store."""

from __future__ import annotations

import argparse
import re
from pathlib import Path

from feedback.cli.options import Parser, add_belt_speed, add_view, command
from feedback.cli.training_options import add_accept_unsigned

_REPORT_EXAMPLES = """\
examples:
  beltside report                    the newest session of all
  beltside report heron              the newest one of Heron
  beltside report heron --session 3 --out report.pdf

It writes one page as HTML and as PDF, and says where. Nothing is sent anywhere."""

_PROGRESS_EXAMPLES = """\
examples:
  beltside progress heron
  beltside progress heron --view behind --belt-kmh 10 --out progress.html

Only sessions with the same view and belt speed are compared (default: those of the newest one)."""

_EXPORT_EXAMPLES = """\
examples:
  beltside export heron --out heron.csv
  beltside export heron --out heron.json
  beltside export heron --format fhir --out heron-fhir.json

CSV: one line per value. JSON: everything. FHIR: an R4 Bundle of Observations."""

_RECEIVE_EXAMPLES = """\
examples:
  beltside receive heron-session3.json
  beltside receive heron-session3.json --athlete Heron --prescription heron.toml

A result is accepted once, and only for a prescription that this clinic has signed: with this
station's key, or with one under signers in records.toml. It must be unchanged since the computer
that ran the session wrote it: a changed file is refused."""

_ERASE_EXAMPLES = """\
examples:
  beltside erase Heron               asks for the code name once more
  beltside erase --older-than 730    all sessions older than two years
  beltside erase --expired           older than keep_days in records.toml
  beltside erase --bring-back        bring back what erase_by_itself has set aside for a week

Erased data is removed from the store, from this computer's files and, at its next sync, from
every other station of the same store. This cannot be undone."""

_RECORDS_EXAMPLES = """\
examples:
  beltside records                   everyone who has records
  beltside records heron             every session and every file of Heron"""

_REMEASURE_EXAMPLES = """\
examples:
  beltside remeasure SESSION.track   a session of 'beltside run --track'

The landmarks are measured and cued again by this version; differences from the record are
listed."""

_REBUILD_EXAMPLES = """\
examples:
  beltside rebuild                   fill the store again from the sessions' own records"""


def add_records(commands: argparse._SubParsersAction[Parser]) -> None:
    """Every command around what is kept."""
    records = command(commands, "records", "list the stored records", _RECORDS_EXAMPLES)
    records.add_argument("athlete", nargs="?", metavar="NAME", help="a code name")
    _add_report(command(commands, "report", "write a session's report", _REPORT_EXAMPLES))
    _add_progress(command(commands, "progress", "write an athlete's progress", _PROGRESS_EXAMPLES))
    _add_export(command(commands, "export", "write sessions to a file", _EXPORT_EXAMPLES))
    receive = command(commands, "receive", "accept a result from home", _RECEIVE_EXAMPLES)
    receive.add_argument("file", type=Path, metavar="FILE", help="the result file you received")
    receive.add_argument("--athlete", metavar="NAME", help="the athlete it must belong to")
    receive.add_argument(
        "--prescription", type=Path, metavar="FILE", help="the prescription it belongs to"
    )
    add_accept_unsigned(receive)
    receive.add_argument(
        "--confirmed",
        action="store_true",
        help="the runner has told that this session was held, though its file cannot prove it: "
        "it comes from an older version or another computer than those before",
    )
    _add_erase(command(commands, "erase", "erase an athlete, or old sessions", _ERASE_EXAMPLES))
    what = "measure a session again from its landmarks"
    remeasure = command(commands, "remeasure", what, _REMEASURE_EXAMPLES)
    remeasure.add_argument("file", type=Path, metavar="TRACK", help="the .track of a session")
    command(commands, "rebuild", "fill the store from the records", _REBUILD_EXAMPLES)


def _add_report(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("athlete", nargs="?", metavar="NAME", help="a code name")
    parser.add_argument(
        "--session",
        type=_count,
        metavar="N",
        help="the athlete's N-th session as in 'beltside records' (default: the newest)",
    )
    _add_out(parser)


def _add_progress(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("athlete", metavar="NAME", help="a code name")
    add_view(parser, what="camera position")
    add_belt_speed(parser, what="the belt's speed")
    _add_out(parser)


def _add_out(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--out", type=Path, metavar="FILE", help="one file, .html or .pdf (default: both)"
    )


def _add_export(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("athlete", metavar="NAME", help="a code name")
    parser.add_argument("--out", type=Path, required=True, metavar="FILE", help="where to")
    parser.add_argument(
        "--format",
        choices=["csv", "json", "fhir"],
        help="default: from the file name, .csv or .json",
    )


def _add_erase(parser: argparse.ArgumentParser) -> None:
    what = parser.add_mutually_exclusive_group(required=True)
    what.add_argument("athlete", nargs="?", metavar="NAME", help="a code name, all of it")
    what.add_argument(
        "--older-than", type=_count, metavar="DAYS", help="all sessions older than this"
    )
    what.add_argument("--expired", action="store_true", help="past their retention time")
    help_text = "bring back sessions that were set aside automatically"
    what.add_argument("--bring-back", action="store_true", help=help_text)
    parser.add_argument("--yes", action="store_true", help="do not ask")


def _count(text: str) -> int:
    if not re.fullmatch(r"[1-9][0-9]{0,5}", text):
        raise argparse.ArgumentTypeError(f"{text!r} is not a whole number from 1 on")
    return int(text)
