"""A station and a screen that speak different languages: each is worded where it is read."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest

from feedback.journal.entries import ProblemEntry, in_english
from feedback.link.protocol import encode
from feedback.texts.network import phrase
from feedback.texts.runner import answer
from shared.changes import Answered
from shared.language import Said, Text, told, worded
from shared.messages import FromStation, Refused
from shared.problems import Problem, describe
from tests.feedback.texts.german import german

FROM_STATION: msgspec.msgpack.Decoder[FromStation] = msgspec.msgpack.Decoder(FromStation)


def test_an_answer_from_an_english_station_is_read_in_german() -> None:
    sent = encode(Answered(id=7, done=False, why=answer("answer_note_empty")))
    assert b"The note is empty." in sent
    with german():
        read = FROM_STATION.decode(sent)
        assert isinstance(read, Answered)
        assert read.why == "Die Notiz ist leer."


def test_an_answer_from_a_german_station_is_read_in_english() -> None:
    with german():
        kept = Answered(id=7, done=False, why=answer("answer_note_empty"))
        assert kept.why == "Die Notiz ist leer."
        sent = encode(kept)
    read = FROM_STATION.decode(sent)
    assert isinstance(read, Answered)
    assert read.why == "The note is empty."


def test_what_is_refused_names_the_same_values() -> None:
    with german():
        sent = encode(Refused(why=phrase("protocol", theirs=2, ours=3)))
    read = FROM_STATION.decode(sent)
    assert isinstance(read, Refused)
    assert read.why == phrase("protocol", theirs=2, ours=3)


def test_a_problem_is_worded_anew_with_the_reason_in_it() -> None:
    with german():
        problem = describe("link_refused", why=told("The note is empty."))
        sent = msgspec.json.encode(problem)
        assert problem.title.count("Die Notiz ist leer.") == 1
    read = msgspec.json.decode(sent, type=Problem)
    assert read.title == "The screen could not connect to the station (The note is empty.)."


def test_records_are_in_english_and_keep_what_they_were_made_of() -> None:
    with german():
        problem = describe("file_missing", path="/a/b.toml")
        assert problem.title == "Unter /a/b.toml gibt es keine Datei."
        entry = in_english(ProblemEntry(at_ns=1, problem=problem, over=False))
        line = msgspec.json.encode(entry)
    assert b"There is no file at /a/b.toml." in line
    assert "Datei" not in line.decode()
    with german():
        again = msgspec.json.decode(line, type=ProblemEntry)
        assert again.problem.title == "Unter /a/b.toml gibt es keine Datei."


def test_a_record_of_an_older_version_is_read_as_it_is() -> None:
    line = b'{"code":"x","title":"An old title.","meaning":"m","action":"a"}'
    with german():
        assert msgspec.json.decode(line, type=Problem).title == "An old title."


@pytest.mark.parametrize(
    "said",
    [
        Said("{a}"),
        Said("{a.__class__}", values=(("a", 1),)),
        Said("{a[0]}", values=(("a", "text"),)),
        Said("{a:>999999999}", values=(("a", "text"),)),
        Said("{a:.999999f}", values=(("a", 1.5),)),
        Said("{", values=(("a", 1.5),)),
        Said("{a!r}" * 5000, values=(("a", "long"),)),
    ],
)
def test_a_text_from_elsewhere_cannot_reach_beyond_its_values(said: Said) -> None:
    shown = worded(said, "as it was sent")
    assert shown == "as it was sent" or (said == Said("{a}") and shown == "{a}")


def test_a_text_that_travels_is_not_encoded_by_mistake() -> None:
    assert isinstance(told("{path}", path=Path("/x")), Text)
    with pytest.raises(TypeError):
        msgspec.json.encode(told("The note is empty."))
