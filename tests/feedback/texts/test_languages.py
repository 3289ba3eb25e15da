"""Which language a process speaks, and that its catalogue is what the program asks for."""

from __future__ import annotations

import re
import string
from datetime import datetime
from pathlib import Path

import pytest
from babel.messages.catalog import Message

from feedback.storage.preferences import Preferences, save_preferences
from feedback.texts import extract, languages, numbers
from shared.child_environment import LANGUAGE_VARIABLE, child_environment
from shared.language import _, in_table, language
from shared.problems import UserError
from tests.feedback.texts.german import german


@pytest.fixture
def own_data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))


def settled(typed: str | None, environment: dict[str, str]) -> str:
    with german():  # which sees to it that English is back afterwards
        languages.settle(typed, environment)
        return language()


def test_what_is_typed_goes_before_the_environment_and_that_before_the_system(
    own_data: None,
) -> None:
    system = {"LANG": "de_DE.UTF-8"}
    assert settled(None, {}) == "en"
    assert settled(None, system) == "de"
    assert settled(None, {**system, "LC_ALL": "C"}) == "en"
    assert settled(None, {"LANG": "fr_FR.UTF-8"}) == "en"
    save_preferences(Preferences(language="en"))
    assert settled(None, system) == "en"
    assert settled(None, {**system, LANGUAGE_VARIABLE: "de"}) == "de"
    assert settled("de-AT", {LANGUAGE_VARIABLE: "en"}) == "de"


def test_a_language_without_texts_is_refused_with_those_there_are(own_data: None) -> None:
    with pytest.raises(UserError) as caught:
        settled("xx", {})
    assert caught.value.problem.code == "language_unknown"
    assert "en" in caught.value.problem.action
    assert "de" in caught.value.problem.action


def test_the_option_is_found_wherever_it_is_typed() -> None:
    taken = languages.taken_out
    assert taken(["--language", "de", "run"]) == ("de", ["run"])
    assert taken(["run", "--language=de", "--loop"]) == ("de", ["run", "--loop"])
    assert taken(["run", "--", "--language", "de"])[0] is None
    assert taken(["run", "--language"]) == (None, ["run", "--language"])


def test_a_process_that_is_started_speaks_the_same() -> None:
    with german():
        around = child_environment({})
    assert settled(None, around) == "de"
    languages.follow({LANGUAGE_VARIABLE: "xx"})
    assert language() == "en"


def test_one_english_word_may_have_two_translations() -> None:
    with german():
        assert in_table("clinician.card_inside", "on target") == "im Ziel"
        assert in_table("clinician.now_inside", "on target") == "Im Ziel"
        assert _("no text of ours") == "no text of ours"
    assert in_table("clinician.now_inside", "on target") == "on target"


def test_numbers_and_days_are_written_as_the_language_does() -> None:
    when = datetime(2026, 3, 5, 17, 4)
    assert (numbers.decimal(-1.25, 2), numbers.general(0.5)) == ("-1.25", "0.5")
    assert numbers.day_and_time(when) == "2026-03-05 17:04"
    assert numbers.days(1) == "1 day"
    with german():
        assert (numbers.decimal(3.0, 1, sign=True), numbers.general(0.5)) == ("+3,0", "0,5")
        assert numbers.day_and_time(when) == "05.03.2026 17:04"
        assert numbers.days(2) == "2 Tage"


@pytest.fixture(scope="module")
def texts() -> dict[tuple[object, object], Message]:
    return {(one.id, one.context): one for one in extract.all_texts() if one.id}


@pytest.mark.parametrize("code", extract.codes())
def test_the_catalogue_has_every_text_and_no_other(
    code: str, texts: dict[tuple[object, object], Message]
) -> None:
    catalogue = {(one.id, one.context): one for one in extract.read(code) if one.id}
    assert catalogue.keys() == texts.keys(), "run: python -m feedback.texts.extract"
    lacking = [one for one in catalogue.values() if not all(_strings(one))]
    assert not lacking, [one.id for one in lacking][:20]


@pytest.mark.parametrize("code", extract.codes())
def test_the_compiled_catalogue_is_that_of_its_text(code: str) -> None:
    made = (languages.FOLDER / f"{code}.mo").read_bytes()
    assert made == extract.compiled(extract.read(code)), "run: python -m feedback.texts.extract"


@pytest.mark.parametrize("code", extract.codes())
def test_a_translation_has_the_places_of_its_text(code: str) -> None:
    for one in extract.read(code):
        if not one.id or not all(_strings(one)):
            continue
        texts = [one.id] if isinstance(one.id, str) else list(one.id)
        for text, said in zip(texts, _strings(one), strict=False):
            assert _places(said) == _places(text), (text, said)


def test_a_missing_place_would_be_seen() -> None:
    assert _places("{a} %(b)s {c:.1f}") == {"a", "c", "%(b)s"}
    assert _places("{a}") != _places("{b}")


def _strings(message: Message) -> list[str]:
    found = message.string
    return [found] if isinstance(found, str) else list(found or ())


def _places(text: str) -> set[str]:
    try:
        named = {name for _, name, _, _ in string.Formatter().parse(text) if name is not None}
    except ValueError:  # braces that are no places, as in "{side,behind"
        named = set()
    return named | set(re.findall(r"%\(\w+\)\w|%[srd]", text))
