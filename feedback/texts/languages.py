"""Settles which language a process speaks, and loads the catalogue of its texts.

The first of these that names one: ``--language CODE``, the environment ``BELTSIDE_LANGUAGE`` (which
processes that we start are given), ``language`` in preferences.toml, the system's ``LC_ALL``,
``LC_MESSAGES`` or ``LANG``. The system may be set to a language that there is no catalogue of, and
is then addressed in English; whoever asks for such a language elsewhere is told.
"""

from __future__ import annotations

import argparse
import gettext
import os
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Final

from shared.child_environment import LANGUAGE_VARIABLE
from shared.language import ENGLISH, _, _n, mark, use
from shared.problems import UserError

FOLDER: Final = Path(__file__).parent / "catalogues"
"""One ``CODE.po`` a language, for people, and the ``CODE.mo`` made of it, for the program."""
OPTION: Final = "--language"
OPTION_HELP: Final = mark("language of all texts, such as en or de (default: as the system says)")
_OF_THE_SYSTEM: Final = ("LC_ALL", "LC_MESSAGES", "LANG")


def known() -> tuple[str, ...]:
    """The codes of all languages that can be asked for."""
    return tuple(sorted({ENGLISH, *(path.stem for path in FOLDER.glob("*.mo"))}))


def taken_out(arguments: Sequence[str]) -> tuple[str | None, list[str]]:
    """The language that is typed, if any, and what else is typed.

    It is looked for before all else is parsed, since the help has to be in it. Without a language
    behind it the option stays among the rest, for the parser to complain of.
    """
    end = arguments.index("--") if "--" in arguments else len(arguments)
    for at, one in enumerate(arguments[:end]):
        if one == OPTION and at + 1 < end:
            return arguments[at + 1], [*arguments[:at], *arguments[at + 2 :]]
        if one.startswith(f"{OPTION}="):
            return one.partition("=")[2], [*arguments[:at], *arguments[at + 1 :]]
    return None, list(arguments)


def settle(typed: str | None = None, environment: Mapping[str, str] | None = None) -> None:
    """Use the language that is asked for, from now on.

    Raises UserError ``language_unknown``, or what reading preferences.toml raises.
    """
    around = os.environ if environment is None else environment
    asked = typed or around.get(LANGUAGE_VARIABLE) or _preferred()
    if asked is not None:
        code = _code(asked)
        if code not in known():
            raise UserError("language_unknown", language=asked, known=", ".join(known()))
        speak(code)
        return
    speak(_of_the_system(around))


def follow(environment: Mapping[str, str] | None = None) -> None:
    """Use the language of the program that started this one. Never fails: then it is English."""
    around = os.environ if environment is None else environment
    code = _code(around.get(LANGUAGE_VARIABLE, ""))
    speak(code if code in known() else ENGLISH)


def speak(code: str) -> None:
    """Use the language ``code``, which is one of :func:`known`."""
    # The texts of argparse come through gettext functions of its own.
    vars(argparse).update(_=_, ngettext=_n)
    use(code, gettext.NullTranslations() if code == ENGLISH else catalogue(code))


def catalogue(code: str) -> gettext.GNUTranslations:
    """The texts of a language. Raises OSError where there is none."""
    with (FOLDER / f"{code}.mo").open("rb") as file:
        return gettext.GNUTranslations(file)


def _preferred() -> str | None:
    # Read only where it matters: not in the processes that a session starts.
    from feedback.storage.preferences import read_preferences

    return read_preferences().language or None


def _of_the_system(environment: Mapping[str, str]) -> str:
    """The first of the variables that is set decides, as POSIX has it."""
    value = next((found for name in _OF_THE_SYSTEM if (found := environment.get(name))), "")
    code = _code(value)
    return code if code in known() else ENGLISH


def _code(value: str) -> str:
    """``de_DE.UTF-8`` and ``de-AT`` are ``de``."""
    return value.replace("-", "_").partition(".")[0].partition("@")[0].partition("_")[0].lower()
