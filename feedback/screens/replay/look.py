"""How a replay is looked at, without any drawing: what each act does, and what is shown (pure)."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from feedback.screens.replay.arrival import Film
from feedback.screens.replay.model import (
    AFTER_NS,
    BEFORE_NS,
    Contact,
    Pair,
    Run,
    Speed,
    frame_at,
    nearest_frame,
    pair_up,
)
from feedback.screens.replay.zoom import WHOLE, Feet, PicturePart
from feedback.texts import runner as wording
from feedback.texts.replay import say
from shared.flow import Side
from shared.pictures import Mark, Picture
from shared.units import NS_PER_S

_NS_PER_MS: Final = 1_000_000


class Do(StrEnum):
    """What can be done in the replay."""

    PLAY = "play"
    BACK = "back"
    ON = "on"
    FIRST = "first"
    LAST = "last"
    FULL = "speed_1"
    HALF = "speed_2"
    QUARTER = "speed_4"
    BODY = "body"
    ZOOM = "zoom"
    BOTH = "both"
    PREVIOUS_LEFT = "previous_left"
    NEXT_LEFT = "next_left"
    PREVIOUS_RIGHT = "previous_right"
    NEXT_RIGHT = "next_right"
    OLDER = "older"
    NEWER = "newer"
    ANEW = "anew"
    CANCEL = "cancel"
    SAVE = "save"


SPEEDS: Final = {Do.FULL: Speed.FULL, Do.HALF: Speed.HALF, Do.QUARTER: Speed.QUARTER}
CONTACTS: Final = {
    Do.PREVIOUS_LEFT: (Side.LEFT, False),
    Do.NEXT_LEFT: (Side.LEFT, True),
    Do.PREVIOUS_RIGHT: (Side.RIGHT, False),
    Do.NEXT_RIGHT: (Side.RIGHT, True),
}
"""Of which side, and whether later than the picture that is shown."""


@dataclass(frozen=True, slots=True)
class Shot:
    """What one place shows."""

    picture: Picture | None
    caption: str
    detail: str = ""
    side: Side | None = None
    part: PicturePart = WHOLE
    marks: tuple[Mark, ...] = ()
    """Drawn at the feet."""
    body: bool = True


class Look:
    """One replay or none, and where in it somebody looks.

    It shows one picture, or with ``both`` a left contact beside a right one, which then move
    together by the time from their own contact.
    """

    def __init__(self, film: Film | None = None, before: Look | None = None) -> None:
        """Look at ``film`` in the same way as ``before``, from its newest contact."""
        self.film = film
        self.pairs: tuple[Pair, ...] = ()
        self.pair = 0
        """Number of the pair that is looked at, from the newest."""
        self.body: bool = before is None or before.body
        self.zoom: bool = before is not None and before.zoom
        self._one = Run(0, 0, 0)
        self._two = Run(-BEFORE_NS, AFTER_NS, 0)
        self._feet = Feet((), 1.0)
        if film is not None:
            clip = film.clip
            newest = clip.contacts[-1].frame if clip.contacts else len(clip.times_ns) - 1
            self._one = Run(clip.first_ns, clip.last_ns, clip.times_ns[newest])
            self._feet = Feet((picture.xy for picture in film.pictures), film.shape)
            self.pairs = pair_up(clip.contacts)
        self.both: bool = before is not None and before.both and bool(self.pairs)
        if before is not None:
            self._set_speed(before.speed, 0)

    @property
    def playing(self) -> bool:
        """Whether it moves by itself."""
        return self._run.playing

    @property
    def speed(self) -> Speed:
        """How fast it plays."""
        return self._one.speed

    @property
    def frame(self) -> int:
        """Number of the picture that is shown alone."""
        return 0 if self.film is None else frame_at(self.film.clip.times_ns, self._one.at_ns)

    @property
    def from_contact_ns(self) -> int:
        """How long after their contacts the two pictures side by side are."""
        return self._two.at_ns

    def tick(self, now_ns: int) -> None:
        """Move on while it plays."""
        self._run.tick(now_ns)

    def can(self, act: Do) -> bool:
        """Whether an act has something to do here; those for the station are not known here."""
        if act in CONTACTS:
            return self._contact(act) is not None
        match act:
            case Do.BOTH:
                return bool(self.pairs)
            case Do.OLDER:
                return self.both and self.pair + 1 < len(self.pairs)
            case Do.NEWER:
                return self.both and self.pair > 0
            case Do.FULL | Do.HALF | Do.QUARTER:
                return True
        return self.film is not None

    def do(self, act: Do, now_ns: int) -> None:
        """Do it; nothing where it has nothing to do."""
        if not self.can(act):
            return
        run = self._run
        match act:
            case Do.PLAY:
                run.pause() if run.playing else run.play(now_ns)
            case Do.BACK | Do.ON:
                self._step(-1 if act is Do.BACK else 1)
            case Do.FIRST | Do.LAST:
                run.go(run.first_ns if act is Do.FIRST else run.last_ns)
            case Do.FULL | Do.HALF | Do.QUARTER:
                self._set_speed(SPEEDS[act], now_ns)
            case Do.BODY:
                self.body = not self.body
            case Do.ZOOM:
                self.zoom = not self.zoom
            case Do.BOTH:
                self._switch_both()
            case Do.OLDER | Do.NEWER:
                self._to_pair(self.pair + (1 if act is Do.OLDER else -1))
            case _ if act in CONTACTS:
                self._to_contact(act)

    def go_to(self, at_ns: int) -> None:
        """Go to the picture, or side by side to the contacts, nearest to this time."""
        if self.film is None:
            return
        if self.both:
            self._to_pair(min(range(len(self.pairs)), key=lambda at: self._far(at, at_ns)))
        else:
            times_ns = self.film.clip.times_ns
            self._one.go(times_ns[nearest_frame(times_ns, at_ns)])

    def single(self, room: float, nothing: str = "") -> Shot:
        """What is shown alone, in a place of this shape (width over height).

        ``nothing``: what is said while there is no replay.
        """
        if self.film is None:
            return Shot(None, nothing)
        clip, frame = self.film.clip, self.frame
        picture = self.film.pictures[frame]
        caption = say(
            "where",
            ago=self._ago(picture.captured_ns),
            number=frame + 1,
            count=len(self.film.pictures),
        )
        detail = ""
        contact = next((one for one in clip.contacts if one.frame == frame), None)
        if contact is not None:
            caption = say("where_contact", side=say(f"side_{contact.side}"), where=caption)
            detail = _apart(picture.captured_ns - contact.at_ns)
        return Shot(
            picture,
            caption,
            detail,
            side=None if contact is None else contact.side,
            part=self._feet.both(room) if self.zoom else WHOLE,
            marks=clip.marks,
            body=self.body,
        )

    def beside(self, side: Side, room: float) -> Shot:
        """What is shown of one side, in a place of this shape, while both are."""
        if self.film is None or not self.pairs:
            return Shot(None, "")
        pair = self.pairs[self.pair]
        contact = pair.left if side is Side.LEFT else pair.right
        if contact is None:
            return Shot(None, say("no_contact", side=say(f"side_{side}_small")), side=side)
        clip = self.film.clip
        frame = nearest_frame(clip.times_ns, contact.at_ns + self._two.at_ns)
        picture = self.film.pictures[frame]
        xy = self.film.pictures[contact.frame].xy
        return Shot(
            picture,
            say("contact_at", side=say(f"side_{side}"), ago=self._ago(contact.at_ns)),
            _apart(picture.captured_ns - contact.at_ns),
            side=side,
            part=self._feet.landing(xy, side, room) if self.zoom else WHOLE,
            marks=clip.marks,
            body=self.body,
        )

    # ---- inside

    @property
    def _run(self) -> Run:
        return self._two if self.both else self._one

    def _set_speed(self, speed: Speed, now_ns: int) -> None:
        for run in (self._one, self._two):
            run.set_speed(speed, now_ns)

    def _step(self, pictures: int) -> None:
        assert self.film is not None  # noqa: S101 - told to the type checker by ``can``
        clip = self.film.clip
        if self.both:
            self._two.go(self._two.at_ns + pictures * clip.interval_ns)
        else:
            frame = min(max(self.frame + pictures, 0), len(clip.times_ns) - 1)
            self._one.go(clip.times_ns[frame])

    def _contact(self, act: Do) -> Contact | None:
        if self.film is None or self.both:
            return None
        side, later = CONTACTS[act]
        clip = self.film.clip
        return (clip.next_contact if later else clip.previous_contact)(side, self.frame)

    def _to_contact(self, act: Do) -> None:
        contact = self._contact(act)
        if contact is not None and self.film is not None:
            self._one.go(self.film.clip.times_ns[contact.frame])

    def _to_pair(self, number: int) -> None:
        self.pair = number
        self._two.go(0)

    def _switch_both(self) -> None:
        """Side by side begins with the contact that is shown, else with the newest."""
        self._run.pause()
        self.both = not self.both
        if self.both:
            shown = (
                number
                for number, pair in enumerate(self.pairs)
                if any(contact.frame == self.frame for contact in _of(pair))
            )
            self._to_pair(next(shown, 0))

    def _far(self, number: int, at_ns: int) -> int:
        return min(abs(at_ns - contact.at_ns) for contact in _of(self.pairs[number]))

    def _ago(self, at_ns: int) -> str:
        last_ns = at_ns if self.film is None else self.film.clip.last_ns
        return wording.number((last_ns - at_ns) / NS_PER_S, 2)


def _of(pair: Pair) -> tuple[Contact, ...]:
    return tuple(contact for contact in (pair.left, pair.right) if contact is not None)


def _apart(after_ns: int) -> str:
    """How far a picture is from the contact that it is shown for."""
    ms = round(after_ns / _NS_PER_MS)
    if ms == 0:
        return say("picture_exact")
    return say("picture_after" if ms > 0 else "picture_before", ms=abs(ms))
