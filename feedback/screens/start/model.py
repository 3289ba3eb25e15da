"""Which page of the start window is shown, what it is about, and where Back leads (pure)."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from enum import StrEnum
from pathlib import Path
from typing import Final

from shared.flow import View
from shared.language import mark


class PageName(StrEnum):
    """The pages, by name."""

    PEOPLE = "people"
    NEW_RUNNER = "new_runner"
    PROFILE = "profile"
    WAY = "way"
    """Of one runner: from the camera check to the report, or today's session of a plan."""
    RECORDS = "records"
    VIDEO = "video"
    """A video file, to be measured."""
    CAMERA = "camera"
    SOUND = "sound"
    SETTINGS = "settings"
    CHECK = "check"
    """Whether this computer has what a session needs."""
    HOME = "home"
    """A prescription file, for whoever runs at home."""


SECTIONS: Final[tuple[tuple[PageName, str], ...]] = (
    (PageName.PEOPLE, mark("People")),
    (PageName.CAMERA, mark("Camera")),
    (PageName.SOUND, mark("Sound")),
    (PageName.SETTINGS, mark("Settings")),
)
"""What the list at the side offers, in its order; the other pages belong to a person or a file."""

_BELONGS: Final = {
    PageName.NEW_RUNNER: PageName.PEOPLE,
    PageName.PROFILE: PageName.PEOPLE,
    PageName.WAY: PageName.PEOPLE,
    PageName.RECORDS: PageName.PEOPLE,
    PageName.VIDEO: PageName.PEOPLE,
    PageName.CHECK: PageName.SETTINGS,
}


@dataclass(frozen=True, slots=True)
class Context:
    """What a page is about; a page takes what it knows and hands on the rest."""

    profile: Path | None = None
    """The runner's profile, a TOML file: what ``--athlete`` takes."""
    person_id: str = ""
    """The runner's ``athlete_id``; empty where none has been given yet."""
    code_name: str = ""
    prescription: Path | None = None
    """The file that is run, or was opened by a double click."""
    view: View | None = None
    """Where the camera is to stand; None: as the profile says."""
    note: str = ""
    """A line to show above the page once, such as what has just been saved."""


NOTHING: Final = Context()


@dataclass(frozen=True, slots=True)
class Place:
    """One page, and what it is about."""

    page: PageName
    context: Context = NOTHING


@dataclass(frozen=True, slots=True)
class History:
    """The page shown now, and those that Back leads to, the nearest last."""

    now: Place
    before: tuple[Place, ...] = field(default=())

    def opened(self, place: Place) -> History:
        """A page opened from the one shown now; the same one again takes its place."""
        if place.page is self.now.page:
            return replace(self, now=place)
        return History(place, (*self.before, self.now))

    def chosen(self, page: PageName) -> History:
        """A section chosen in the list at the side: Back leads to the page before once more."""
        if page is self.now.page:
            return self
        return History(
            Place(page), (*(one for one in self.before if one.page is not page), self.now)
        )

    def back(self) -> History:
        """The page before; the same where there is none."""
        if not self.before:
            return self
        return History(self.before[-1], self.before[:-1])

    @property
    def can_go_back(self) -> bool:
        """Whether there is a page before."""
        return bool(self.before)

    @property
    def section(self) -> PageName:
        """The section that the page shown now belongs to."""
        return _BELONGS.get(self.now.page, self.now.page)
