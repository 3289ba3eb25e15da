"""The problems of who an athlete is: part of shared.problems (pure).

Each row: code, what happened, what it means, what to do.
"""

from __future__ import annotations

from typing import Final

ATHLETES: Final[tuple[tuple[str, str, str, str], ...]] = (
    (
        "athlete_ambiguous",
        'Several athletes may be meant by "{name}": {found}.',
        "Nothing was done: records of two people must never be mixed.",
        "Give the id instead of the name; its first eight digits are enough.",
    ),
    (
        "athlete_id_twice",
        "The profile {path} bears the same {field} as {other}.",
        "Nothing was started: the records of two people would be mixed.",
        "If it is a copy for somebody else, delete the line {field} in it, and the program writes "
        "a new one. If it is the same person, give both the same code_name.",
    ),
    (
        "athlete_id_missing",
        "The profile {path} has no {field}, and the same name stands in {other}.",
        "It cannot be given one ({why}). Nothing was started: the records of two people might be "
        "mixed.",
        "Let the program write to it, or write a line of your own: {field} = {new}. For the same "
        "person, write the same id into both.",
    ),
    (
        "athlete_id_given",
        "{name} now has an id of its own, {id}, written into {path}.",
        "By it the records are found, whatever the name.",
        "Nothing is to do. A copy of the profile for somebody else must not hold that line.",
    ),
    (
        "athlete_id_copied",
        "{path} was a copy of a profile that comes along; {name} now has an id of its own, {id}.",
        "By it the records are found, whatever the name.",
        "Nothing is to do.",
    ),
    (
        "athlete_id_derived",
        "The profile {path} could not be given an id of its own ({why}).",
        "The id that stands for the name {name} alone is used, {id}: another athlete of the very "
        "same name would be taken for this one.",
        "Let the program write to the file.",
    ),
    (
        "athlete_name_twice",
        "The same name, {name}, stands in {other}.",
        "They are taken for two athletes.",
        "If they are the same person, write the same {field} into both files.",
    ),
    (
        "athlete_name_mixed",
        "The same name, {name}, stands in {other}.",
        "What was kept of {name} before there were ids may be of either. It is given to neither, "
        "and is found under the id {old}. If it belongs to one of them, or they are the same "
        "person, write {field} = {old} into that file, or into both.",
        "Look through it with 'beltside records {old}'.",
    ),
    (
        "data_in_use",
        "Another program has been busy in {path} for {seconds} s.",
        "Nothing was changed there.",
        "Wait until the other one is done, or end it, and try again.",
    ),
)
