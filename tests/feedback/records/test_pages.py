"""Report and progress page: what they say, that they fit one sheet, and stand alone."""

from __future__ import annotations

import re
import shutil
import subprocess
from html.parser import HTMLParser
from pathlib import Path

import msgspec
import pytest

from feedback.journal.entries import BlockEntry, NoteEntry, RatingEntry, StateEntry, TargetEntry
from feedback.journal.writer import add_entries, read_journal
from feedback.records.page.charts import Chart
from feedback.records.page.html import as_html
from feedback.records.page.page import ChartPart, Figures, PrintedPage, TextLines
from feedback.records.page.pdf import as_pdf
from feedback.records.progress_page import progress_page
from feedback.records.report import session_report
from feedback.records.store import Store
from feedback.records.summarise import digest, points
from feedback.records.summary import Digest, MeanValue
from feedback.records.sync import sync
from feedback.records.trends import comparable
from feedback.training.counting import SessionPart
from shared.flow import Side, View
from shared.identity import derived_id
from shared.targets import BlockKind, Question
from shared.units import NS_PER_S
from tests.feedback.records.month import Month, short_session


@pytest.fixture(scope="module")
def month(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    return Month(tmp_path_factory.mktemp("month") / "sessions", shorten=6.0).hold()


def report(path: Path) -> tuple[Digest, PrintedPage]:
    recording = read_journal(path)
    found = digest(recording)
    return found, session_report(found, points(recording))


def progress(month: list[Path], tmp_path: Path) -> PrintedPage:
    with Store(f"sqlite:///{tmp_path / 'store.sqlite'}") as store:
        sync(store, month[0].parent)
        digests = store.digests(derived_id("Heron"))
    compared = comparable(digests, View.SIDE, 10.1)
    return progress_page("Heron", View.SIDE, 10.1, digests, compared)


def words_of(page: PrintedPage) -> str:
    lines = [line for part in page.parts if isinstance(part, TextLines) for line in part.lines]
    return "\n".join((page.title, page.subtitle, *lines, *page.small_print))


def test_the_report_tells_who_changed_a_target_from_what_to_what_and_what_was_noted(
    month: list[Path],
) -> None:
    recording = read_journal(month[5])
    begun = next(e for e in recording.entries if isinstance(e, StateEntry))
    held = recording.header.prescription
    assert held is not None
    old = held.goals[0].targets[0]
    new = msgspec.structs.replace(old, low=150.0, high=158.0, beat_spm=154.0)
    who, at_ns = "console Desk 1", begun.at_ns + 90 * NS_PER_S
    added = (
        TargetEntry(at_ns=at_ns, target=new, source=who, old=old, revision=2, from_step=240),
        NoteEntry(at_ns=at_ns + NS_PER_S, text="shorter steps felt easy", source=who),
    )
    by_hand = msgspec.structs.replace(
        recording, entries=(*recording.entries[:-1], *added, recording.entries[-1])
    )
    said = words_of(session_report(digest(by_hand), points(by_hand)))
    assert f"Cadence set to 150 to 158 steps/min (was {old.low:g} to {old.high:g}) by {who}" in said
    assert f"note by {who}: shorter steps felt easy" in said


def test_the_report_says_what_was_done_in_plain_words_first(month: list[Path]) -> None:
    found, page = report(month[5])
    assert page.title == "Heron: Session 6 of 8, practice"
    first = page.parts[0]
    assert isinstance(first, TextLines)
    said = "\n".join(first.lines)
    assert "Cadence (steps/min): baseline 160.0; target " in said
    assert "with cues" in said
    assert "without cues" in said
    assert "Change since baseline: +" in said
    assert "worst pain 1 of 10" in said
    assert "not a diagnosis" in words_of(page)
    cued = found.find("cadence", None, SessionPart.CUED, "steps/min")
    assert cued is not None
    table = next(part for part in page.parts if isinstance(part, Figures))
    row = next(row for row in table.rows if row[0].startswith("Cadence"))
    assert row[1] == "160.0"
    assert row[2].startswith(f"{cued.mean:.1f} ± ")


def test_cued_means_come_from_the_blocks_that_cued_the_measure(month: list[Path]) -> None:
    # Told again from the entries themselves, by block.
    from feedback.journal.entries import BlockEntry, MeasureEntry

    sums: dict[str, list[float]] = {"cued": [], "uncued": []}
    block: BlockEntry | None = None
    for entry in read_journal(month[5]).entries:
        if isinstance(entry, BlockEntry):
            block = entry
        if isinstance(entry, MeasureEntry) and entry.measure.name == "cadence" and block:
            if block.cued is not None and block.cued.measure == "cadence":
                sums["cued"].append(entry.measure.value)
            elif block.kind == "uncued":
                sums["uncued"].append(entry.measure.value)
    found, _ = report(month[5])
    for part in (SessionPart.CUED, SessionPart.UNCUED):
        mean = found.find("cadence", None, part, "steps/min")
        values = sums[part.value]
        assert mean is not None
        assert mean.mean == pytest.approx(sum(values) / len(values), abs=0.02)
        assert abs(mean.values - len(values)) <= 0.02 * len(values)


def test_a_session_that_breaks_off_says_so(month: list[Path], tmp_path: Path) -> None:
    content = month[0].read_bytes()
    path = tmp_path / "torn.jsonl"
    path.write_bytes(content[: len(content) // 2])
    _, page = report(path)
    assert "record is incomplete" in words_of(page)
    as_pdf(page)


def test_a_session_without_a_step_has_a_report(month: list[Path], tmp_path: Path) -> None:
    path = tmp_path / "empty.jsonl"
    path.write_bytes(month[0].read_bytes().partition(b"\n")[0] + b"\n")
    _, page = report(path)
    assert "too few good steps" in words_of(page)
    as_pdf(page)
    as_html(page)


def test_a_baseline_shows_own_values_and_no_aim(tmp_path: Path) -> None:
    path = short_session(tmp_path, "Heron", 1)
    recording = read_journal(path)
    begin = BlockEntry(
        at_ns=2, number=1, count=1, kind=BlockKind.UNCUED, belt_speed_kmh=10.0, cued=None
    )
    held = msgspec.structs.replace(
        recording,
        header=msgspec.structs.replace(recording.header, kind=None, number=None, baseline=True),
        entries=(recording.entries[0], begin, *recording.entries[1:]),
    )
    found = digest(held)
    page = session_report(found, points(held))
    assert page.title == "Heron: Baseline, without cues"
    said = words_of(page)
    assert "Cadence (steps/min): baseline 160.5." in said
    assert "aim " not in said
    assert "No targets and no cues." in said
    (chart,) = [part.chart for part in page.parts if isinstance(part, ChartPart)]
    assert isinstance(chart, Chart)
    assert (list(chart.bands), list(chart.strips)) == ([], [])


class _Outside(HTMLParser):
    """Finds what a page would fetch from elsewhere."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in {"script", "link", "img", "iframe", "object"}:
            self.found.append(tag)
        self.found += [
            name for name, value in attrs if name in {"src", "href"} and value and value[0] != "#"
        ]


@pytest.mark.parametrize("which", ["report", "progress"])
def test_the_html_stands_alone(month: list[Path], tmp_path: Path, which: str) -> None:
    page = report(month[5])[1] if which == "report" else progress(month, tmp_path)
    text = as_html(page)
    outside = _Outside()
    outside.feed(text)
    assert outside.found == []
    assert "@import" not in text
    assert "url(" not in text
    assert text.count("<svg") == (3 if which == "report" else 2)


@pytest.mark.parametrize("which", ["report", "progress"])
def test_the_pdf_is_one_sheet_with_its_words_and_grey_only(
    month: list[Path], tmp_path: Path, which: str
) -> None:
    page = report(month[5])[1] if which == "report" else progress(month, tmp_path)
    pdf = tmp_path / "page.pdf"
    pdf.write_bytes(as_pdf(page))
    assert pdf.read_bytes().count(b"/Type /Page\n") == 1
    if shutil.which("pdftotext"):
        done = subprocess.run(
            ["pdftotext", str(pdf), "-"], capture_output=True, text=True, check=True
        )
        assert page.title in done.stdout
    colours = re.findall(r"rgb\(([\d.]+)%?,([\d.]+)%?,([\d.]+)%?\)", as_html(page))
    assert len(colours) > 10
    assert all(len(set(colour)) == 1 for colour in colours)


def test_names_cannot_break_the_page(month: list[Path]) -> None:
    found, _ = report(month[0])
    odd = msgspec.structs.replace(found, code_name='<b>&"走者', source="<script>alert(1)</script>")
    page = session_report(odd, ())
    text = as_html(page)
    assert "<script" not in text
    assert "<b>&" not in text
    as_pdf(page)


def test_progress_marks_tests_and_tells_real_change_from_noise(
    month: list[Path], tmp_path: Path
) -> None:
    page = progress(month, tmp_path)
    said = words_of(page)
    assert "11 sessions, from" in said
    assert "in the reminder test" in said
    chart = page.parts[1].chart  # type: ignore[union-attr]
    assert isinstance(chart, Chart)
    (tests,) = [one for one in chart.series if one.mark == "square"]
    # Over real dates, in days since the first session; each with its uncertainty.
    assert [round(at) for at, _value in tests.points] == [20, 23, 25]
    assert all(half is not None and half > 0 for half in tests.half)
    assert [label for _, label in chart.x_ticks] == [
        "3 Mar 25", "10 Mar 25", "17 Mar 25", "24 Mar 25",
    ]  # fmt: skip
    table = next(part for part in page.parts if isinstance(part, Figures))
    for row in table.rows:
        change, noise = float(row[3]), float(row[4])
        assert row[5] == ("measurable change" if abs(change) > noise else "no measurable change")


def test_a_difference_between_the_sides_is_told_only_beyond_noise_and_error(
    month: list[Path],
) -> None:
    found, _ = report(month[0])
    sides = {side: found.find("strike_ahead", side, SessionPart.ALL, "cm") for side in Side}
    left, right = sides[Side.LEFT], sides[Side.RIGHT]
    assert left is not None
    assert right is not None
    assert left.sem is not None
    for apart, stated, expected in (
        (0.1 * left.sem, left.sem, False),
        (20.0 * left.sem, left.sem, True),
        (20.0 * left.sem, 30.0 * left.sem, False),
        (20.0 * left.sem, None, False),
    ):
        moved = msgspec.structs.replace(right, mean=left.mean + apart, sem=left.sem, stated=stated)
        found = _with(found, left, msgspec.structs.replace(left, stated=stated))
        left = found.find("strike_ahead", Side.LEFT, SessionPart.ALL, "cm")
        assert left is not None
        assert left.sem is not None
        page = session_report(_with(found, right, moved), ())
        assert ("more on the right" in words_of(page)) is expected


def test_a_measure_that_is_not_given_any_more_is_said_not_to_be_relied_on(
    month: list[Path],
) -> None:
    found, page = report(month[0])
    warned = "Arm swing direction: no longer offered, so do not rely on it here."
    assert warned not in words_of(page)
    old = msgspec.structs.replace(found.means[0], measure="arm_direction", unit="deg", mean=31.0)
    found = msgspec.structs.replace(found, means=(*found.means, old))
    assert warned in words_of(session_report(found, ()))


def _with(found: Digest, old: MeanValue, new: MeanValue) -> Digest:
    means = tuple(new if mean == old else mean for mean in found.means)
    return msgspec.structs.replace(found, means=means)


def test_what_is_answered_after_the_end_stands_in_the_report(
    month: list[Path], tmp_path: Path
) -> None:
    path = tmp_path / month[5].name
    shutil.copyfile(month[5], path)
    before = digest(read_journal(path))
    end_ns = read_journal(path).entries[-1].at_ns  # type: ignore[union-attr]
    add_entries(
        path,
        [
            RatingEntry(
                at_ns=end_ns + 20 * NS_PER_S,
                what=Question.AWKWARDNESS,
                value=10,
                asked=True,
                source="asked after the run",
            )
        ],
    )
    recording = read_journal(path)
    assert recording.summary is not None, "the session still ended in order"
    found = digest(recording)
    assert [a.value for a in found.answers if a.what is Question.AWKWARDNESS][-1] == 10
    assert (found.run_s, found.lost) == (before.run_s, before.lost)
