"""The problems of who an athlete is: part of shared.problems (pure).

Each row: code, what happened, what it means, what to do.
"""

from __future__ import annotations

from typing import Final

ATHLETES: Final[tuple[tuple[str, str, str, str], ...]] = (
    (
        "athlete_ambiguous",
        '"{name}" could be any of several athletes: {found}.',
        "Nothing was done: records of two people must never be mixed.",
        "Give the id instead of the name; its first eight digits are enough.",
    ),
    (
        "athlete_id_twice",
        "The profile {path} has the same {field} as {other}.",
        "Nothing was started: the records of two people would be mixed.",
        "If it is a copy for someone else, delete the line {field} in it, and the program writes "
        "a new one. If it is the same person, give both the same code_name.",
    ),
    (
        "athlete_id_missing",
        "The profile {path} has no {field}, and {other} has the same name.",
        "An id could not be added ({why}). Nothing was started: the records of two people might be "
        "mixed.",
        "Allow the program to write to it, or add this line yourself: {field} = {new}. For the "
        "same person, put the same id in both.",
    ),
    (
        "athlete_id_given",
        "{name} now has a unique id, {id}, saved in {path}.",
        "Records are found by this id, whatever the name.",
        "You need not do anything. A copy of the profile for someone else must not contain that "
        "line.",
    ),
    (
        "athlete_id_copied",
        "{path} was a copy of a bundled profile; {name} now has a unique id, {id}.",
        "Records are found by this id, whatever the name.",
        "You need not do anything.",
    ),
    (
        "athlete_id_derived",
        "A unique id could not be added to the profile {path} ({why}).",
        "An id made from the name {name} is used, {id}: another athlete with exactly the same name "
        "would be mistaken for this one.",
        "Allow the program to write to the file.",
    ),
    (
        "athlete_name_twice",
        "The same name, {name}, is used in {other}.",
        "They are treated as two athletes.",
        "If they are the same person, put the same {field} in both files.",
    ),
    (
        "athlete_name_mixed",
        "The same name, {name}, is used in {other}.",
        "Older records of {name}, from before ids were used, may belong to either. They are "
        "assigned to neither, and are found under the id {old}. If they belong to one of them, or "
        "both are the same person, put {field} = {old} in that file, or in both.",
        "To see them: 'beltside records {old}'.",
    ),
    (
        "data_in_use",
        "Another program has been busy in {path} for {seconds} s.",
        "Nothing was changed there.",
        "Wait until it has finished, or close it, and try again.",
    ),
    (
        "profile_changed",
        "The profile {path} was changed by another program.",
        "Nothing was saved: those changes would be lost.",
        "Read the file again, then make your changes once more.",
    ),
    (
        "profile_exists",
        "There is a file {path} already.",
        "Nothing was saved: it would have replaced that file.",
        "Choose another code name.",
    ),
)
