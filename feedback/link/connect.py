"""How a console calls a station over the network: to be let in, or to be paired."""

from __future__ import annotations

import asyncio
import os
import socket
import ssl
from functools import lru_cache
from typing import Final, TypeVar

from websockets.asyncio.client import ClientConnection, connect
from websockets.exceptions import ConnectionClosed, WebSocketException

from feedback.link.address import Address
from feedback.link.admission import (
    Approach,
    Challenge,
    FromDoor,
    ToDoor,
    decode_from_door,
    encode_at_door,
    sign,
)
from feedback.link.certificate import client_context, fingerprint_of
from feedback.link.consoles import KnownStation
from feedback.link.pairing import ConsoleExchange, PairDone, PairShare
from feedback.link.transport import quiet
from feedback.texts.network import phrase
from shared.language import _
from shared.messages import LARGEST_MESSAGE_BYTES, PROTOCOL, Refused
from shared.problems import UserError

REACH_S: Final = 1.5
"""For the first packet to be answered, on a network at hand. The system sends a lost one again
after 1 s and then more and more rarely, so a call that begins anew finds a mended cable sooner."""
_MOST_ADDRESSES: Final = 2
"""Of those that a typed name has."""
OPEN_S: Final = 3.0
"""From then on to the end of the handshakes."""
_ANSWER_S: Final = 3.0
_NAME_IN_TLS: Final = "station.beltside"
"""Sent in the clear by TLS, so it is the same for all stations."""


Message = TypeVar("Message", PairShare, PairDone)
_tls: Final = lru_cache(maxsize=16)(client_context)
"""Made once for each station, since many places may be called for it."""


class Swapped(Exception):  # noqa: N818 - not an error of ours
    """What answers has another certificate; nothing was sent to it."""


class _Closed(Exception):  # noqa: N818
    """The station is there, and takes no code now."""


async def reach(place: Address) -> socket.socket:
    """A TCP connection to it. Raises OSError, TimeoutError."""
    loop = asyncio.get_running_loop()
    failed: Exception = TimeoutError()
    found = await loop.getaddrinfo(place.host, place.port, type=socket.SOCK_STREAM)
    for family, kind, protocol, _name, address in found[:_MOST_ADDRESSES]:
        reached = socket.socket(family, kind, protocol)
        try:
            reached.setblocking(False)
            async with asyncio.timeout(REACH_S):
                await loop.sock_connect(reached, address)
        except (OSError, TimeoutError) as error:
            reached.close()
            failed = error
        except BaseException:
            reached.close()
            raise
        else:
            return reached
    raise failed


async def dial(
    place: Address, trusted: bytes | None, reached: socket.socket | None = None
) -> ClientConnection:
    """Call it; only one with the certificate ``trusted`` (DER) is spoken to, None: anyone.

    ``reached`` is a connection to it, if there is one already. Raises Swapped, OSError,
    TimeoutError, WebSocketException.
    """
    tls = _tls(trusted)
    try:
        return await connect(
            f"wss://{_NAME_IN_TLS}",
            sock=reached or await reach(place),
            ssl=tls,
            server_hostname=_NAME_IN_TLS,
            open_timeout=OPEN_S,
            close_timeout=0.5,
            ping_interval=None,
            compression=None,
            proxy=None,  # the station is on the same network
            user_agent_header=None,
            max_size=LARGEST_MESSAGE_BYTES,
            max_queue=4,
            logger=quiet,
        )
    except ssl.SSLCertVerificationError as error:
        raise Swapped from error


async def approach(connection: ClientConnection, station: KnownStation) -> str:
    """Prove to be the console that the station knows; the words of its refusal, or empty.

    The Hello is to come next. Raises ConnectionClosed, TimeoutError.
    """
    challenge = await _ask(connection, Approach(protocol=PROTOCOL, name=station.called))
    if isinstance(challenge, Refused):
        return challenge.why
    if not isinstance(challenge, Challenge):
        raise ConnectionClosed(None, None)
    proof = sign(station.seed, challenge, station.fingerprint, station.called)
    await connection.send(encode_at_door(proof))
    return ""


def pair_with(place: Address, code: str, name: str) -> KnownStation:
    """Be paired with the station there, by the code that it shows; takes some seconds at most.

    Raises UserError: ``station_silent``, ``pairing_closed``, ``pairing_failed``.
    """
    try:
        return asyncio.run(_pair(place, code, name))
    except _Closed as closed:
        raise UserError("pairing_closed", address=str(place)) from closed
    except (OSError, TimeoutError, WebSocketException) as error:
        why = plain_why(error)
        raise UserError("station_silent", str(error), address=str(place), why=why) from error


def plain_why(error: Exception) -> str:
    """Why a call failed, without what only programs understand."""
    match error:
        case TimeoutError():
            return phrase("no_answer")
        case ssl.SSLError() | WebSocketException():
            return phrase("not_a_station")
        case socket.gaierror():
            return phrase("no_such_name")
        case OSError(errno=int(number)) if number > 0:
            return os.strerror(number).lower()
    return phrase("no_answer")


async def _pair(place: Address, code: str, name: str) -> KnownStation:
    connection = await dial(place, None)
    try:
        tls = connection.transport.get_extra_info("ssl_object")
        certificate: bytes = tls.getpeercert(binary_form=True)
        fingerprint = fingerprint_of(certificate)
        exchange = ConsoleExchange(code, name, fingerprint, PROTOCOL, os.urandom)
        share = _expected(await _ask(connection, exchange.start()), PairShare)
        confirm = exchange.on_share(share)
        if confirm is None:
            raise _not_ours()
        kept = exchange.on_done(_expected(await _ask(connection, confirm), PairDone))
        if kept is None:
            raise _not_ours()
    finally:
        await connection.close()
    return KnownStation(
        name=kept.station,
        fingerprint=fingerprint,
        certificate=certificate,
        called=kept.name,
        seed=kept.seed,
        host=place.host,
        port=place.port,
    )


async def _ask(connection: ClientConnection, message: ToDoor) -> FromDoor | None:
    await connection.send(encode_at_door(message))
    return decode_from_door(await asyncio.wait_for(connection.recv(), _ANSWER_S))


def _expected(message: FromDoor | None, kind: type[Message]) -> Message:
    if isinstance(message, Refused) and message.why == phrase("pairing"):
        raise _Closed
    if isinstance(message, Refused):
        do = _("Check the code shown at the station now, and type that.")
        raise UserError("pairing_failed", why=message.why.rstrip("."), do=do)
    if not isinstance(message, kind):
        raise _not_ours()
    return message


def _not_ours() -> UserError:
    why = _("the computer that answered did not know the code")
    do = _(
        "Someone may be intercepting the connection. Check the address, and pair over your own "
        "network."
    )
    return UserError("pairing_failed", why=why, do=do)
