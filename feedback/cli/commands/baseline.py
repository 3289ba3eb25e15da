"""``beltside baseline``: the runner's own values, measured without any cue, and stored."""

from __future__ import annotations

import argparse

import msgspec
from rich.table import Table

from feedback.athlete_files.baselines import other_speed, save_baseline
from feedback.cli.common.athlete import athlete_asked_for
from feedback.cli.common.hold_session import Plot, cautions_confirmed, hold, source_of
from feedback.cli.common.keep_records import finish, look_at_age, tell_track
from feedback.cli.common.save_elsewhere import keep, keep_record
from feedback.cli.common.tell import plain, tell_outcome, tell_unmeasured
from feedback.journal.entries import Entry, EventEntry, ProblemEntry
from feedback.session.track_file import BaselineSetUp
from feedback.storage.folders import DataFolder, own_folder
from feedback.terminal.guard import OK, PROBLEM, say, tell
from feedback.terminal.tables import PlainConsole
from feedback.texts.measures import full_title
from feedback.texts.training import phrase
from feedback.training.baseline import BaselineRun, BaselineState, side_differences
from shared.as_typed import as_typed
from shared.catalogue import CATALOGUE
from shared.flow import EventKind, View
from shared.language import _
from shared.messages import StopReason
from shared.own_values import Baseline
from shared.problems import UserError

SHOWN_EVERY = 10


def run(options: argparse.Namespace) -> int:
    """Take a baseline. Raises UserError when it is refused, with the reason."""
    look_at_age()
    profile = athlete_asked_for(options.athlete)
    athlete = profile.athlete
    speed_kmh = options.belt_kmh or athlete.belt_speed_kmh
    if speed_kmh is None:
        raise UserError("belt_speed_missing")
    athlete = msgspec.structs.replace(athlete, belt_speed_kmh=speed_kmh)
    view: View = options.view or athlete.view
    for line in profile.left_out:
        say(line)
    if not cautions_confirmed(options):
        say(_("Nothing was started."))
        return OK
    say(
        _("Baseline for {code_name} from {spoken} at {speed_kmh:g} km/h, without cues.").format(
            code_name=athlete.code_name, spoken=view.spoken, speed_kmh=speed_kmh
        )
    )
    say(_("Run normally. It ends automatically."))
    set_up = BaselineSetUp(steps=int(options.steps), belt_speed_kmh=speed_kmh)
    course = BaselineRun(set_up.steps, set_up.belt_speed_kmh)
    plot = Plot(
        athlete=athlete,
        view=view,
        course=course,
        speech=frozenset(),
        text=profile.text,
        set_up=set_up,
    )
    with hold(options, plot, _Counting(course), {}) as held:
        tell_track(held.track)
        taker = course.taker
        if held.outcome.reason is not StopReason.FINISHED or held.outcome.problem is not None:
            code = tell_outcome(held.outcome, held.record)
            if code != OK:
                return code
        elif held.outcome.tally.unmeasured:
            tell_unmeasured(held.outcome.tally.unmeasured)
        if taker.state is BaselineState.REFUSED:
            raise UserError(taker.refusal)
        if taker.state is BaselineState.TAKING:
            raise UserError("baseline_cut_short", steps=taker.steps, wanted=taker.wanted)
        measures = taker.measures()
        baseline = Baseline(
            code_name=athlete.code_name,
            athlete_id=athlete.athlete_id,
            height_cm=athlete.height_cm,
            view=view,
            belt_speed_kmh=speed_kmh,
            taken_utc=held.anchor.wall_utc,
            source=source_of(options).describe(),
            steps=taker.steps,
            measures=measures,
            differences=side_differences(measures),
        )
        _show(baseline)
        lost = held.outcome.save_problem
        if lost is not None:
            tell(lost)
            keep_record(held.outcome, held.journal)
        path = keep(
            lambda folder: save_baseline(baseline, folder), own_folder(DataFolder.BASELINES)
        )
        say(_("Stored as {path}").format(path=path))
        asked = as_typed(options.athlete)
        asked += other_speed(profile.athlete, speed_kmh)
        say(
            _(
                "Next: beltside prescribe --athlete {asked} --drill NAME (see beltside drills)"
            ).format(asked=asked)
        )
        return finish(options, held, OK if lost is None else PROBLEM)


class _Counting:
    """Says how far it is, and what stands in the way."""

    def __init__(self, course: BaselineRun) -> None:
        self._course = course
        self._shown = 0
        self._told: set[str] = set()

    def __call__(self, entry: Entry) -> None:
        match entry:
            case EventEntry(event=event) if event.kind is EventKind.CONTACT:
                steps = self._course.taker.steps
                if steps >= self._shown + SHOWN_EVERY:
                    self._shown = steps - steps % SHOWN_EVERY
                    say(
                        _("  {shown} of {wanted} steps").format(
                            shown=self._shown, wanted=self._course.taker.wanted
                        )
                    )
            case ProblemEntry(problem=problem, over=False) if problem.code not in self._told:
                self._told.add(problem.code)
                say(
                    _("  Note: {title} {action}").format(title=problem.title, action=problem.action)
                )


def _show(baseline: Baseline) -> None:
    console = PlainConsole()
    title = _("Baseline values over {steps} steps").format(steps=baseline.steps)
    table = Table(title=title, box=None, title_justify="left")
    table.add_column("measure", no_wrap=True)
    table.add_column("side")
    for heading in ("mean", _("step SD"), "change"):
        table.add_column(heading, justify="right")
    table.add_column("unit")
    for own in baseline.measures:
        spec = CATALOGUE[own.name]
        if own.unit != spec.units[0]:
            continue
        decimals = spec.decimals
        table.add_row(
            full_title(own.name),
            own.side or ("both" if spec.by_side else ""),
            plain(own.mean, decimals),
            plain(own.sd, max(1, decimals)),
            plain(own.least_change, max(1, decimals)),
            own.unit,
        )
    console.print(table)
    for one in baseline.differences:
        spec = CATALOGUE[one.name]
        if one.unit == spec.units[0] and one.told:
            more = "right" if one.difference > 0 else "left"
            by = plain(abs(one.difference), max(1, spec.decimals))
            console.print(
                _("{full_title}: {by} {unit} more on the {more}.").format(
                    full_title=full_title(one.name), by=by, unit=one.unit, more=more
                )
            )
    console.print(phrase("baseline_noise"), soft_wrap=True)
