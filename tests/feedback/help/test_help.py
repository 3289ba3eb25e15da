"""The help pages: each can be found, reads well in a terminal, and names only what exists."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator

import pytest

from feedback.cli.commands.help import plain
from feedback.cli.main import build_parser, main
from feedback.help import TOPICS, folder, matching, page
from feedback.texts import languages
from shared.language import ENGLISH

OTHERS = [code for code in languages.known() if code != ENGLISH]


@pytest.fixture
def speak() -> Iterator[None]:
    """The test may speak another language; English is spoken after it."""
    yield
    languages.speak(ENGLISH)


@pytest.mark.parametrize("code", languages.known())
def test_every_page_is_a_topic_and_every_topic_has_a_page_in_every_language(code: str) -> None:
    assert sorted(TOPICS) == sorted(path.stem for path in folder(code).glob("*.md"))


@pytest.mark.usefixtures("speak")
@pytest.mark.parametrize("code", languages.known())
@pytest.mark.parametrize("topic", TOPICS)
def test_a_page_begins_with_its_title_and_says_something(topic: str, code: str) -> None:
    languages.speak(code)
    found = page(topic)
    assert found.text.startswith(f"# {found.title}\n")
    assert len(found.text.split()) > 60
    assert "|---" not in found.text, "a terminal shows no table"
    assert "](" not in found.text, "a terminal follows no link"


def test_another_name_has_no_page() -> None:
    with pytest.raises(KeyError):
        page("../help/camera")


@pytest.mark.usefixtures("speak")
@pytest.mark.parametrize("code", languages.known())
@pytest.mark.parametrize("topic", TOPICS)
@pytest.mark.parametrize("width", [40, 90])
def test_a_page_fits_a_terminal_and_loses_no_word(topic: str, width: int, code: str) -> None:
    languages.speak(code)
    text = page(topic).text
    lines = plain(text, width)
    for line in lines:
        unbroken = max(map(len, re.findall(r'\S*"[^"]+"\S*', line)), default=0)
        fits = len(line) <= width or line.startswith("    ") or len(line) - unbroken < 5
        assert fits, line
    assert not [line for line in lines if line.startswith(("#", "```"))]
    assert letters(" ".join(lines)) == letters(re.sub(r"(?m)^```\w*$", "", text))


def letters(text: str) -> str:
    # A heading in capitals has SS for ß.
    return re.sub(r"[^a-z0-9]", "", text.casefold())


def test_what_can_be_typed_is_not_broken_and_lists_stand_apart() -> None:
    text = (
        "# A title\n\nSome words `beltside run --file x`\ngo on.\n- one item\n  of two lines\n"
        "- two\n\nThen:\n\n```\nbeltside demo\n```\n\n## More\n\n1. first\n2. second\n"
    )
    assert plain(text, 30) == [
        "A TITLE",
        "",
        "Some words",
        '"beltside run --file x" go on.',
        "",
        "- one item of two lines",
        "- two",
        "",
        "Then:",
        "",
        "    beltside demo",
        "",
        "MORE",
        "",
        "1. first",
        "2. second",
    ]


def test_help_lists_the_topics_and_shows_one(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["help"]) == 0
    listed = capsys.readouterr().out
    for topic in TOPICS:
        assert f"{topic} " in listed
        assert page(topic).title in listed
    assert main(["help", "camera"]) == 0
    shown = capsys.readouterr().out
    assert "THE ENDS OF THE BELT" in shown
    assert "hip height" in shown


def test_help_shows_commands_as_they_can_be_typed_here(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("BELTSIDE_TYPED", "./run")
    assert main(["help", "home"]) == 0
    shown = capsys.readouterr().out
    assert "    ./run home mine.toml\n" in shown
    assert "beltside home" not in shown


def test_an_unknown_topic_is_told_with_those_that_there_are(
    capsys: pytest.CaptureFixture[str],
) -> None:
    with pytest.raises(SystemExit) as ended:
        build_parser().parse_args(["help", "cadense"])
    assert ended.value.code == 2
    told = capsys.readouterr().err
    assert "'cadense' is no topic" in told
    assert ", ".join(TOPICS) in told
    assert len(told.splitlines()) == 1


def test_the_page_on_the_command_line_names_every_command() -> None:
    (commands,) = (
        action.choices
        for action in build_parser()._subparsers._group_actions  # type: ignore[union-attr]
        if action.choices is not None
    )
    text = page("command-line").text
    assert [name for name in commands if f"`{name}`" not in text] == []


def marks(text: str) -> dict[str, object]:
    """What a translation has to have in common with its original, word for word."""
    blocks = re.findall(r"(?ms)^```\w*\n(.*?)^```", text)
    prose = re.sub(r"(?ms)^```.*?^```", "", text)
    return {
        "headings": [line.split(" ")[0] for line in re.findall(r"(?m)^#+ .*", text)],
        "what is typed": blocks,
        "words of the program": Counter(re.findall(r"`([^`]+)`", prose)),
        "items": len(re.findall(r"(?m)^(?:- |\d+\. )", prose)),
        "paragraphs": len(re.findall(r"\n\n+", prose.strip())),
        # Pos1 is a key.
        "figures": Counter(re.findall(r"\d+", re.sub(r"`[^`]+`|Pos1", "", prose))),
    }


@pytest.mark.parametrize("code", OTHERS)
@pytest.mark.parametrize("topic", TOPICS)
def test_a_translated_page_has_all_that_the_english_one_has(topic: str, code: str) -> None:
    name = f"{topic}.md"
    english, translated = (
        (folder(one) / name).read_text(encoding="utf-8") for one in (ENGLISH, code)
    )
    wanted, found = marks(english), marks(translated)
    apart = {what: (wanted[what], found[what]) for what in wanted if wanted[what] != found[what]}
    assert not apart, f"{code}/{name} says other things than the English page"
    typed = "".join(re.findall(r"(?ms)^```\w*\n.*?^```", english)).splitlines()
    long = {line for line in english.splitlines() if len(line.split()) > 5}
    assert not (long - {*typed}) & {*translated.splitlines()}, "still in English"


@pytest.mark.usefixtures("speak")
def test_titles_and_search_are_in_the_language_in_use() -> None:
    languages.speak("de")
    assert page("sounds").title == "Was die Töne bedeuten"
    assert matching("Töne BEDEUTEN")[0] == "sounds"
    assert matching("sounds mean") == ()
    languages.speak(ENGLISH)
    assert page("sounds").title == "What the sounds mean"


@pytest.mark.usefixtures("speak")
def test_help_is_printed_in_the_language_that_is_asked_for(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["--language", "de", "help", "sounds"]) == 0
    shown = capsys.readouterr().out
    assert "WAS DIE TÖNE BEDEUTEN" in shown
    assert "wieder im Ziel" in shown
    assert "back on target" not in shown


@pytest.mark.usefixtures("speak")
def test_a_page_that_is_not_translated_is_shown_in_english(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    languages.speak("de")
    monkeypatch.setattr("feedback.help.language", lambda: "xx")
    assert page("sounds").title == "What the sounds mean"
