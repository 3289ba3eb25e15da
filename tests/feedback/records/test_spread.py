"""The uncertainty of a result from home: as of the same session held at a station."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest

from feedback.athlete_files.plan_log import Result, read_result, save_result
from feedback.journal.writer import Recording, read_journal
from feedback.records.home_results import Received, digest_received
from feedback.records.page.page import Figures
from feedback.records.progress_page import progress_page
from feedback.records.report import session_report
from feedback.records.summarise import digest
from feedback.records.summary import Digest
from feedback.training.block_results import BlockMean, BlockResult, BlockTally
from feedback.training.counting import SessionPart
from feedback.training.plan import Done
from shared.change import error_of_mean
from shared.messages import StopReason
from shared.problems import describe
from shared.targets import SessionKind
from tests.feedback.making import S, cadence
from tests.feedback.records.month import Month

KEY = ("cadence", None, "steps/min")


def blocks_of(recording: Recording) -> tuple[BlockResult, ...]:
    tally = BlockTally(recording.header.athlete)
    for entry in recording.entries:
        tally.take(entry)
    assert recording.summary is not None
    return tally.results(recording.summary.at_ns)


def sent(recording: Recording, blocks: tuple[BlockResult, ...]) -> Result:
    header = recording.header
    given = header.prescription
    assert given is not None
    return Result(
        made_with="Beltside 0.1.0",
        prescription=given.check,
        code_name=given.code_name,
        view=given.view,
        belt_speed_kmh=given.belt_speed_kmh,
        source="camera 0",
        trial=False,
        started_utc=header.anchor.wall_utc,
        session=Done(
            number=header.number or 1,
            started_unix_s=1,
            share_done=1.0,
            stop_reason=StopReason.FINISHED,
            pain_worst=2,
        ),
        kind=header.kind or SessionKind.PRACTICE,
        planned_s=1440.0,
        blocks=blocks,
        morning=None,
    )


@pytest.fixture(scope="module")
def recording(tmp_path_factory: pytest.TempPathFactory) -> Recording:
    paths = Month(tmp_path_factory.mktemp("month"), shorten=4.0).hold(6)
    return read_journal(paths[-1])  # with blocks with and without cues, in turn


def received(recording: Recording, blocks: tuple[BlockResult, ...]) -> Digest:
    given = recording.header.prescription
    assert given is not None
    return digest_received(Received(result=sent(recording, blocks), prescription=given))


def test_a_result_comes_to_what_the_journal_of_the_same_session_does(recording: Recording) -> None:
    here, home = digest(recording), received(recording, blocks_of(recording))
    compared = 0
    for mean in here.means:
        other = home.find(mean.measure, mean.side, mean.part, mean.unit)
        assert other is not None
        assert other.mean == pytest.approx(mean.mean, rel=1e-6)
        assert other.sd == pytest.approx(mean.sd, rel=1e-3)
        assert other.stated == pytest.approx(mean.stated, rel=1e-6)
        assert other.values == mean.values
        assert other.sem is not None
        assert mean.sem is not None
        # By blocks, not by batches of the whole session: like, not the same.
        assert 0.4 * mean.sem < other.sem < 2.5 * mean.sem
        compared += 1
    assert compared >= 9


def test_report_and_progress_of_a_result_give_its_uncertainty(recording: Recording) -> None:
    home = received(recording, blocks_of(recording))
    said = str(session_report(home, ()))
    assert " ± " in said
    assert "since baseline: " in said
    page = str(progress_page("Heron", home.view, 10.1, [home], [home]))
    assert " ± " in page
    assert "how much of this is noise is not known" not in page


def test_a_file_of_an_older_version_has_means_without_uncertainty(
    recording: Recording, tmp_path: Path
) -> None:
    result = sent(recording, blocks_of(recording))
    plain = msgspec.to_builtins(result)
    for block in plain["blocks"]:
        for mean in block["means"]:
            for name in ("sd", "sem", "stated", "freedom"):
                del mean[name]
    path = tmp_path / "old.json"
    save_result(msgspec.convert(plain, Result), path)
    path.write_bytes(msgspec.json.encode(plain))
    old = received(recording, read_result(path).blocks)
    new = received(recording, result.blocks)
    for part in (SessionPart.CUED, SessionPart.UNCUED):
        mean, known = old.find(*KEY[:2], part, KEY[2]), new.find(*KEY[:2], part, KEY[2])
        assert mean is not None
        assert known is not None
        assert mean.mean == pytest.approx(known.mean)
        assert (mean.sd, mean.sem, mean.stated) == (None, None, None)
    for page, has in ((session_report(old, ()), False), (session_report(new, ()), True)):
        table = next(part for part in page.parts if isinstance(part, Figures))
        assert (" ± " in str(table)) is has


def test_one_block_without_a_spread_leaves_the_whole_without(recording: Recording) -> None:
    blocks = list(blocks_of(recording))
    number = next(n for n, block in enumerate(blocks) if block.kind == "uncued" and block.means)
    means = tuple(msgspec.structs.replace(one, sd=None, sem=None) for one in blocks[number].means)
    blocks[number] = msgspec.structs.replace(blocks[number], means=means)
    mean = received(recording, tuple(blocks)).find(*KEY[:2], SessionPart.UNCUED, KEY[2])
    assert mean is not None
    assert mean.sem is None


def test_a_spread_below_nothing_is_refused() -> None:
    mean = BlockMean(name="cadence", side=None, unit="steps/min", mean=160.0, values=9, sd=1.0)
    plain = msgspec.to_builtins(mean)
    assert msgspec.convert(plain, BlockMean) == mean
    with pytest.raises(msgspec.ValidationError):
        msgspec.convert({**plain, "sd": -1.0}, BlockMean)


def test_only_good_values_without_doubt_are_counted(recording: Recording) -> None:
    from feedback.journal.entries import BlockEntry, MeasureEntry, ProblemEntry

    begin = next(entry for entry in recording.entries if isinstance(entry, BlockEntry))
    doubt = describe("second_person")
    tally = BlockTally(recording.header.athlete)
    good = [cadence(number, 160.0 + number) for number in range(24)]
    poor = msgspec.structs.replace(cadence(24, 100.0), quality=0.1)
    tally.take(begin)
    for measure in good:
        tally.take(MeasureEntry(measure=measure))
    tally.take(MeasureEntry(measure=poor))
    tally.take(ProblemEntry(at_ns=S, problem=doubt, over=False))
    tally.take(MeasureEntry(measure=cadence(25, 120.0)))
    tally.take(ProblemEntry(at_ns=2 * S, problem=doubt, over=True))
    (block,) = tally.results(3 * S)
    (mean,) = block.means
    assert (mean.values, mean.mean) == (24, 171.5)
    assert (mean.sem, mean.freedom) == error_of_mean(good)
