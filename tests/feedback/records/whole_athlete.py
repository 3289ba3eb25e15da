"""An athlete with one of every kind of file that the program keeps."""

from __future__ import annotations

import uuid
from datetime import timedelta
from pathlib import Path
from typing import Any

import msgspec

from feedback.athlete_files.athletes import own_folder as own_athletes
from feedback.athlete_files.baselines import save_baseline
from feedback.athlete_files.plan_log import PlanLog, Result, result_path, save_log, save_result
from feedback.athlete_files.prescriptions import prescribe, signed
from feedback.athlete_files.signatures import own_key
from feedback.athlete_files.trust import accept
from feedback.cli.commands.prescribe import keep
from feedback.journal.writer import Header, new_path, read_journal, sessions_folder
from feedback.records.files import replay_path
from feedback.records.home_results import Received, save_received
from feedback.records.reports import report_folder, stem_of
from feedback.storage.settings import data_folder
from feedback.training.block_results import BlockResult
from feedback.training.plan import Done
from shared.clock import ClockAnchor
from shared.flow import View
from shared.messages import StopReason
from shared.targets import Athlete, BlockKind, Prescription, SessionKind
from tests.feedback.making import cadence_target
from tests.feedback.records.month import BEGIN, baseline, short_session, write

PROFILE = """\
# {mark}
athlete_id = "{id}"
code_name = {name}
height_cm = 170
view = "side"

[[targets]]
measure = "cadence"
unit = "steps/min"
low = 160
"""


def whole_athlete(code_name: str, athlete_id: str, mark: str, made: Prescription) -> None:
    """Profile, session with track, replay and reports, baseline, prescription, log, results.

    ``mark`` is a text that stands in nobody else's files; ``made`` is anybody's prescription.
    """
    own: dict[str, Any] = {"code_name": code_name, "athlete_id": athlete_id}
    own_athletes().mkdir(parents=True, exist_ok=True)
    name = msgspec.json.encode(code_name).decode()
    profile = own_athletes() / f"{mark}.toml"
    profile.write_text(PROFILE.format(mark=mark, id=athlete_id, name=name), encoding="utf-8")
    journal = session_of(
        code_name, athlete_id, uid=uuid.uuid5(uuid.NAMESPACE_URL, mark).hex, source=mark
    )
    for beside in (journal.with_suffix(".track"), replay_path(journal, 1)):
        beside.write_text(mark)
    taken = msgspec.structs.replace(baseline(code_name), **own, source=mark)
    save_baseline(taken)
    athlete = Athlete(**own, height_cm=170.0, targets=(), view=View.SIDE)
    theirs = prescribe(athlete, taken, made.drill, made.plan, made.goals, made.written_utc)
    theirs = signed(theirs, own_key(data_folder()))
    keep(theirs, None)
    accept(theirs)
    done = Done(number=1, started_unix_s=1, share_done=1.0, stop_reason=StopReason.FINISHED)
    save_log(theirs, PlanLog(prescription=theirs.check, **own, done=(done,)))
    result = result_of(theirs, done, mark)
    save_result(result, result_path(result))
    save_received(Received(result=result, prescription=theirs), sessions_folder())
    folder = report_folder(athlete)
    folder.mkdir(parents=True)
    for name in (stem_of(journal.name), "progress"):
        for ending in (".html", ".pdf"):
            (folder / f"{name}{ending}").write_text(mark)


def session_of(code_name: str, athlete_id: str, uid: str, source: str = "", day: int = 1) -> Path:
    """The record of a short session, as it is written today."""
    old = short_session(sessions_folder() / "made", "Test", 1)
    recording = read_journal(old)
    old.unlink()
    old.parent.rmdir()
    anchor = ClockAnchor(0, (BEGIN + timedelta(days=day)).isoformat(timespec="microseconds"))
    athlete = Athlete(
        code_name=code_name,
        athlete_id=athlete_id,
        height_cm=170.0,
        targets=(cadence_target(),),
        view=View.SIDE,
        belt_speed_kmh=10.0,
    )
    header: Header = msgspec.structs.replace(
        recording.header, uid=uid, anchor=anchor, athlete=athlete, source=source
    )
    path = new_path(anchor, athlete, uid)
    write(path, header, list(recording.entries))
    return path


def result_of(made: Prescription, done: Done, mark: str) -> Result:
    """A result from home."""
    block = BlockResult(
        number=1, kind=BlockKind.CUED, seconds=60.0, steps=160, cued="cadence", cues={}, kept=(),
        means=(), answers=(),
    )  # fmt: skip
    return Result(
        made_with="Beltside 0.1.0",
        prescription=made.check,
        signed_by=made.signed_by,
        signature=made.signature,
        code_name=made.code_name,
        athlete_id=made.athlete_id,
        view=made.view,
        belt_speed_kmh=made.belt_speed_kmh,
        source=mark,
        trial=False,
        started_utc="2025-04-02T18:00:00+02:00",
        session=done,
        kind=SessionKind.PRACTICE,
        planned_s=60.0,
        blocks=(block,),
        morning=None,
    )


def files_here() -> dict[Path, bytes]:
    """All that is kept, but for what is everybody's."""
    shared = {"store.sqlite", "clinics.json", "signing.pem", "results.pem", ".in-use"}
    paths = (path for path in data_folder().rglob("*") if path.is_file())
    return {path: path.read_bytes() for path in paths if path.name not in shared}
