"""A month of sessions of a made-up runner, as journals on the disk."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path

import msgspec

from feedback.athlete_files.drills import read_drill, read_plan
from feedback.athlete_files.prescriptions import prescribe
from feedback.journal.entries import Entry, MeasureEntry, PlayedEntry, RatingEntry, StateEntry
from feedback.journal.writer import SUFFIX, Header, limits_in_force
from feedback.session.interface import CaptureState, Facts, Rated, Start, StopAsked
from feedback.session.session import Session
from feedback.simulation.runner import Learner, Nature
from feedback.storage.folders import DataFolder, bundled_folder
from feedback.training.baseline import side_differences
from feedback.training.drill import DrillRun, lay_out
from feedback.training.goals import as_athlete, goals_for
from shared.clock import ClockAnchor
from shared.flow import Played, Side, View
from shared.messages import SessionState, StopReason
from shared.own_values import Baseline, OwnMeasure
from shared.targets import Athlete, PlanSession, Prescription, Question, SessionKind
from tests.feedback.making import cadence, cadence_target

BEGIN = datetime(2025, 3, 3, 17, 5, 11, tzinfo=UTC)
SPEED_KMH = 10.1
FACTS = Facts(capture=CaptureState.RUNNING, sound_on=True, frames_per_s=30.0)
NS_PER_S = 1_000_000_000


def own(name: str, side: Side | None, unit: str, mean: float, sd: float) -> OwnMeasure:
    sem = sd / 8.0
    return OwnMeasure(
        name=name,
        side=side,
        unit=unit,
        mean=mean,
        sd=sd,
        values=64,
        sem=sem,
        least_change=1.96 * 2**0.5 * sem,
        uncertainty=sd,
    )


def baseline(code_name: str) -> Baseline:
    measures = (
        own("cadence", None, "steps/min", 160.0, 1.2),
        own("strike_ahead", None, "cm", 27.0, 1.5),
        own("strike_ahead", Side.LEFT, "cm", 26.1, 1.5),
        own("strike_ahead", Side.RIGHT, "cm", 27.9, 1.5),
    )
    return Baseline(
        code_name=code_name,
        height_cm=166.0,
        view=View.SIDE,
        belt_speed_kmh=SPEED_KMH,
        taken_utc="2025-03-01T16:00:00+00:00",
        source="a made-up runner",
        steps=64,
        measures=measures,
        differences=side_differences(measures),
    )


def prescription(code_name: str = "Heron") -> Prescription:
    drill = read_drill(bundled_folder(DataFolder.DRILLS) / "steps_and_landing.toml")
    plan = read_plan(bundled_folder(DataFolder.PLANS) / "eight_sessions.toml")
    athlete = Athlete(
        code_name=code_name, height_cm=166.0, targets=(), view=View.SIDE, belt_speed_kmh=SPEED_KMH
    )
    goals = goals_for(baseline(code_name), drill, athlete.limits)
    return prescribe(athlete, baseline(code_name), drill, plan, goals, "2025-03-01T16:10:00+00:00")


@dataclass
class Month:
    """Holds the sessions of a plan with one learner; ``shorten`` divides their length."""

    folder: Path
    code_name: str = "Heron"
    shorten: float = 1.0
    pain: tuple[int, ...] = (2, 1, 1, 3, 1)
    prescription: Prescription = field(init=False)
    paths: list[Path] = field(init=False, default_factory=list)

    def __post_init__(self) -> None:
        self.prescription = prescription(self.code_name)
        nature = Nature(pain=self.pain, lost=0.0004)
        self.learner = Learner(self.prescription.goals, nature, seed=7)
        self._levels: dict[str, int] = {}

    def hold(self, sessions: int | None = None, days: float = 2.5) -> list[Path]:
        """The first so many sessions of the plan."""
        plan = self.prescription.plan
        assert plan is not None
        for number, session in enumerate(plan.sessions[:sessions], start=1):
            begin = BEGIN + timedelta(days=days * (number - 1), minutes=7 * number)
            self.paths.append(self._hold(number, session, begin))
        return self.paths

    def _hold(self, number: int, planned: PlanSession, begin: datetime) -> Path:
        anchor = ClockAnchor(self.learner.at_ns, begin.isoformat(timespec="microseconds"))
        limits = self.prescription.limits
        header = Header(
            versions={"beltside": "0.1.0", "python": "3.11"},
            anchor=anchor,
            source="a made-up runner",
            view=View.SIDE,
            athlete=as_athlete(self.prescription),
            athlete_text='code_name = "Heron"\n',
            limits=limits_in_force(limits, limits.longest_min * 60.0),
            kind=planned.kind,
            number=number,
            prescription=self.prescription,
            sound="made-up loudspeaker",
        )
        path = self.folder / f"{begin:%Y-%m-%dT%H%M%SZ}-{self.code_name.lower()}{SUFFIX}"
        write(path, header, self._run(number, planned))
        return path

    def _run(self, number: int, planned: PlanSession) -> list[Entry]:
        given, learner = self.prescription, self.learner
        blocks = lay_out(given.drill, SPEED_KMH, planned, number, self.shorten)
        course = DrillRun(
            blocks, given.goals, given.drill, given.limits, self._levels, self.shorten
        )
        session = Session(as_athlete(given), given.view, course=course)
        entries: list[Entry] = []
        now_ns = learner.at_ns + NS_PER_S
        learner.begin(now_ns)
        session.on_tick(now_ns, FACTS)
        entries += session.on_command(Start(), now_ns).journal
        beat: float | None = None
        steps = 0
        while session.state is not SessionState.STOPPED:
            aimed = {g.name: g.aimed[course.levels[g.name]] for g in given.goals if g.aimed}
            learner.follow(aimed)
            update = learner.step(beat)
            now_ns = update.captured_ns + 15_000_000
            entries += session.on_tick(now_ns, FACTS).journal
            outputs = session.on_update(update, now_ns)
            entries += outputs.journal
            beat = outputs.beat_spm
            for cue in outputs.cues:
                learner.hear(cue)
                sounded_ns = cue.decided_ns + 21_000_000
                played = Played(
                    kind=cue.kind,
                    captured_ns=cue.captured_ns,
                    decided_ns=cue.decided_ns,
                    sounded_ns=sounded_ns,
                )
                entries.append(PlayedEntry(played=played))
            steps += 1
            if steps % 10 == 0:
                asked = session.snapshot(now_ns).asked
                if asked is not None:
                    value = learner.answer(asked, number, 0.7)
                    rated = Rated(what=asked, value=value, source="the made-up runner")
                    entries += session.on_command(rated, now_ns).journal
        self._levels = course.levels
        return [*entries, session.summary(now_ns)]


def write(path: Path, header: Header, entries: list[Entry]) -> None:
    """A journal as the writer would leave it."""
    path.parent.mkdir(parents=True, exist_ok=True)
    lines = [msgspec.json.encode(one) for one in (header, *entries)]
    path.write_bytes(b"\n".join(lines) + b"\n")


def short_session(
    folder: Path, code_name: str, number: int, values: tuple[float, ...] = (160.0, 161.0)
) -> Path:
    """A small record that stands for a session, quickly made."""
    begin = BEGIN + timedelta(days=number, seconds=len(code_name))
    header = Header(
        versions={"beltside": "0.1.0"},
        anchor=ClockAnchor(0, begin.isoformat(timespec="microseconds")),
        source="a made-up runner",
        view=View.SIDE,
        athlete=Athlete(
            code_name=code_name,
            height_cm=170.0,
            targets=(cadence_target(),),
            view=View.SIDE,
            belt_speed_kmh=10.0,
        ),
        athlete_text="",
        limits={},
        kind=SessionKind.PRACTICE,
        number=number,
    )
    session = Session(header.athlete, View.SIDE)
    entries: list[Entry] = [*session.on_command(Start(), 1).journal]
    for step in range(24):
        value = values[step % len(values)]
        entries.append(MeasureEntry(measure=cadence(step + 1, value)))
    end_ns = 30 * NS_PER_S
    rated = RatingEntry(at_ns=end_ns, what=Question.PAIN, value=2, asked=True, source="screen")
    assert isinstance(entries[0], StateEntry)
    stop = StopAsked(reason=StopReason.RUNNER, source="the runner's screen")
    stopped = session.on_command(stop, end_ns).journal
    entries += [rated, *stopped, msgspec.structs.replace(session.summary(end_ns), steps=24)]
    path = folder / f"{begin:%Y-%m-%dT%H%M%SZ}-{code_name.lower()}{SUFFIX}"
    write(path, header, entries)
    return path
