"""Messages that no console of ours would send, drawn from a seed."""

from __future__ import annotations

import random
from collections.abc import Callable
from typing import Final

import msgspec

from feedback.link.admission import Approach, Challenge, Proof, ToDoor, encode_at_door, sign
from feedback.link.pairing import SHARE_BYTES, PairConfirm, PairStart
from feedback.link.protocol import LARGEST_FROM_SCREEN_BYTES, encode
from shared.changes import Adjust, MoveBlock, Note, Undo
from shared.messages import (
    PROTOCOL,
    Confirm,
    FromScreen,
    GoOn,
    Hello,
    Pause,
    Ping,
    Rating,
    Role,
    Stop,
)
from shared.pictures import AskReplay, CheckDone, SaveReplay, SetEdges, WatchPictures
from shared.targets import Question

FINGERPRINT: Final = "ab" * 32
STRANGER: Final = bytes(range(1, 33))


def well_formed(name: str, fingerprint: str) -> tuple[bytes, ...]:
    """Every message there is, as somebody would send it who has no key."""
    inside: tuple[FromScreen, ...] = (
        Hello(protocol=PROTOCOL, token="", role=Role.CONSOLE),
        Hello(protocol=PROTOCOL, token="x" * 128, role=Role.RUNNER, run="run 1", seen=2**53),
        Hello(protocol=1, token="", role=Role.PANEL),
        Stop(asked_ns=1),
        Stop(asked_ns=-(2**63)),
        Confirm(),
        Pause(),
        GoOn(),
        Rating(what=Question.PAIN, value=10),
        Ping(at_ns=0),
        Adjust(id=1, number=0, revision=1, aim=180.0),
        Undo(id=2, number=0, revision=1),
        MoveBlock(id=3, now=1, to=2),
        Note(id=4, text="x" * 500),
        WatchPictures(most_per_s=30),
        AskReplay(id=5, seconds=20),
        SaveReplay(id=6, replay=5),
        SetEdges(edges=None),
        CheckDone(accepted=True),
    )
    at_door: tuple[ToDoor, ...] = (
        Approach(protocol=PROTOCOL, name=name),
        Approach(protocol=PROTOCOL, name="nobody"),
        Approach(protocol=99, name=name),
        sign(STRANGER, Challenge(nonce=bytes(32)), fingerprint, name),
        Proof(signature=bytes(64)),
        PairStart(protocol=PROTOCOL, name=name, share=b"A" + bytes(SHARE_BYTES - 1)),
        PairStart(protocol=PROTOCOL, name=name, share=b"B" + bytes(SHARE_BYTES - 1)),
        PairConfirm(mac=bytes(32)),
    )
    said = [encode(message) for message in inside]
    return (*said, *(encode_at_door(message) for message in at_door))


class Hostile:
    """An endless source of bad messages; the same for the same seed."""

    def __init__(self, seed: int, name: str = "front desk", fingerprint: str = FINGERPRINT) -> None:
        self._random = random.Random(seed)
        self._known = well_formed(name, fingerprint)
        self._kinds: tuple[Callable[[], bytes], ...] = (
            self._noise,
            self._bent,
            self._cut,
            self._joined_up,
            self._huge,
            self._nested,
            self._odd_fields,
            self._out_of_order,
        )

    def message(self) -> bytes:
        """The next one."""
        return self._random.choice(self._kinds)()

    def _one(self) -> bytes:
        return self._random.choice(self._known)

    def _noise(self) -> bytes:
        return self._random.randbytes(self._random.randrange(0, 700))

    def _bent(self) -> bytes:
        data = bytearray(self._one())
        for _ in range(self._random.randrange(1, 5)):
            data[self._random.randrange(len(data))] = self._random.randrange(256)
        return bytes(data)

    def _cut(self) -> bytes:
        data = self._one()
        return data[: self._random.randrange(len(data))]

    def _joined_up(self) -> bytes:
        return self._one() + self._one()

    def _huge(self) -> bytes:
        size = self._random.choice((513, 600, LARGEST_FROM_SCREEN_BYTES))
        return self._random.choice((b"\x00", b"\xc4", b"\xdb\xff\xff\xff\xff")).ljust(size, b"a")

    def _nested(self) -> bytes:
        return self._random.choice((b"\x91", b"\x81\xa1a")) * self._random.randrange(1, 250)

    def _odd_fields(self) -> bytes:
        values: tuple[object, ...] = (
            None,
            True,
            -1,
            2**64 - 1,
            1e308,
            float("nan"),
            "",
            "\x1b[2J",
            b"",
            [],
            {},
            [[]],
        )
        names = ("protocol", "name", "token", "role", "share", "mac", "id", "aim", "seen", "x" * 40)
        tags = ("hello", "approach", "stop", "proof", "pair_start", "pair_confirm", "adjust", "?")
        fields = {name: self._random.choice(values) for name in self._random.sample(names, 4)}
        return msgspec.msgpack.encode({"type": self._random.choice(tags), **fields})

    def _out_of_order(self) -> bytes:
        return self._one()
