"""Every script's letters on the printed page: which font draws them, and in what order."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from feedback.records.page import fonts
from feedback.records.page.page import PrintedPage, TextLines
from feedback.records.page.pdf import as_pdf
from tests.feedback.outside import drawn_in


def page(title: str, *lines: str) -> PrintedPage:
    return PrintedPage(title=title, subtitle="", parts=(TextLines("Notes", lines),), small_print=())


@pytest.fixture
def no_fonts(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Iterator[None]:
    monkeypatch.setattr(fonts, "font_folders", lambda: (tmp_path,))
    fonts._fonts.cache_clear()
    yield
    fonts._fonts.cache_clear()


@pytest.mark.parametrize("name", ["走る人", "김철수", "Иван", "Νίκος", "דנה", "سارة"])
@pytest.mark.parametrize("font", [fonts.PLAIN, fonts.BOLD])
def test_a_name_is_drawn_whole_in_a_font_that_goes_into_the_file(name: str, font: str) -> None:
    assert fonts.can_draw(name)
    assert "?" not in "".join(run.text for run in fonts.runs(name, font))
    assert b"/FontFile2" in as_pdf(page(name))
    assert b"/FontFile2" not in as_pdf(page("Heron"))


def test_hebrew_is_drawn_from_the_right_and_leaves_our_words_where_they_are() -> None:
    drawn = "".join(run.text for run in fonts.runs("דנה 3: Session 2 of 8", fonts.PLAIN))
    assert drawn == "3 הנד: Session 2 of 8"


def test_arabic_letters_are_joined() -> None:
    """Forms at a word's begin, middle and end (Unicode, Arabic Presentation Forms-B)."""
    drawn = "".join(run.text for run in fonts.runs("بيت", fonts.PLAIN))
    assert drawn == "\ufe96\ufef4\ufe91"  # final teh, medial yeh, initial beh, from the left


def test_each_letter_keeps_to_the_font_of_the_page_where_that_has_it() -> None:
    runs = fonts.runs("Heron 走 2", fonts.PLAIN)
    assert [run.text for run in runs] == ["Heron ", "走", " 2"]
    assert [run.font for run in runs][::2] == [fonts.PLAIN, fonts.PLAIN]


def test_lines_fit_also_where_no_space_is_between_words() -> None:
    text = "Note: " + "走る人は今日も元気に走った" * 12
    lines = list(fonts.lines_of(text, fonts.PLAIN, 9.5, 300.0))
    assert len(lines) > 4
    assert all(fonts.width_of(line, fonts.PLAIN, 9.5) <= 300.0 for line in lines)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")


@pytest.mark.usefixtures("no_fonts")
def test_without_any_font_the_page_says_what_it_leaves_out() -> None:
    assert [run.text for run in fonts.runs("走者 Heron", fonts.PLAIN)] == ["?? Heron"]
    assert b"no font for some letters" in drawn_in(as_pdf(page("走者")))
    assert b"no font for some letters" not in drawn_in(as_pdf(page("Müller")))


def test_a_broken_font_is_passed_over(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    (tmp_path / "DejaVuSans.ttf").write_bytes(b"no font at all")
    monkeypatch.setattr(fonts, "font_folders", lambda: (tmp_path,))
    fonts._fonts.cache_clear()
    try:
        assert not fonts.can_draw("Иван")
    finally:
        fonts._fonts.cache_clear()
