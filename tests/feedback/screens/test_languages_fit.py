"""Every text in its place in the languages there are, longer than English as they are."""

from __future__ import annotations

import pytest

from feedback.texts import languages
from shared.child_environment import LANGUAGE_VARIABLE
from shared.language import ENGLISH
from tests.feedback.screens.looking import run_checks

pytestmark = pytest.mark.window
CHECKS = {
    "panel_look": (
        "check_no_text_is_cut_and_nothing_overlaps",
        "check_nothing_moves_when_something_is_told",
    ),
    "look": (
        "check_every_text_fits_its_place",
        "check_every_problem_can_be_read_at_two_metres",
        "check_number_and_every_line_can_be_read_at_two_metres",
    ),
    "page_look": ("check_every_page_fits_at_every_size",),
    "setup_look": (
        "check_every_row_of_the_list_is_whole",
        "check_every_button_shows_its_whole_word",
    ),
    "look_replay": ("check_nothing_is_cut_on_the_smallest_screen",),
}
OTHERS = [code for code in languages.known() if code != ENGLISH]


@pytest.mark.parametrize("code", OTHERS)
@pytest.mark.parametrize("module", CHECKS)
def test_texts_fit(module: str, code: str) -> None:
    names = CHECKS[module]
    assert run_checks(module, *names, **{LANGUAGE_VARIABLE: code}) == dict.fromkeys(names, "")
