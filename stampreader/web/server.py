"""Listening: on this computer only, and on the local network where the phone is asked for."""

from __future__ import annotations

import asyncio
import secrets
import socket
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from datetime import timedelta

import uvicorn

from stampreader.errors import UsageError
from stampreader.web.app import CONFIRMING, EVERYBODY, PHOTOS, make_app
from stampreader.web.guard import Gate
from stampreader.web.keys import Keyring, Terms
from stampreader.web.pages_phone import link_of
from stampreader.web.workplace import Workplace

LAPTOP = "127.0.0.1"
PHONE_TERMS = Terms(
    link=timedelta(minutes=10),
    session=timedelta(hours=3),
    idle=timedelta(minutes=45),
    may_confirm=False,
)
"""How long the phone's keys hold."""
MOST_CONNECTIONS = 60
PATIENCE_S = 5


@dataclass(frozen=True, slots=True)
class Listening:
    """The addresses that were opened, each with a link in it.

    Attributes:
        laptop: link for this computer.
        phone: link for the phone; empty without one.
    """

    laptop: str
    phone: str = ""


def serve(
    shared: Workplace,
    *,
    port: int = 0,
    phone_address: str | None = None,
    ready: Callable[[Listening], None],
    joined: Callable[[Gate, str], None],
) -> None:
    """Serve the page until it is stopped.

    Args:
        shared: what all pages share.
        port: port on this computer; 0 for a free one.
        phone_address: address of this computer on the local network; `None` to stay off it.
        ready: told the links once the page can be opened.
        joined: told when a link was opened, with a new one for the same gate.

    Raises:
        UsageError: an address or port cannot be listened on.
    """
    with closing(listen(LAPTOP, port)) as own:
        shared.gates = [_gate(own, shared, Terms(), trusted=True)]
        sockets = [own]
        if phone_address is not None:
            sockets.append(listen(phone_address, 0))
            shared.gates.append(_gate(sockets[1], shared, PHONE_TERMS, trusted=False))
        shared.opened = lambda gate: joined(gate, link_of(gate))
        try:
            asyncio.run(_serve(shared, sockets, ready))
        finally:
            for one in sockets[1:]:
                one.close()


def listen(address: str, port: int) -> socket.socket:
    """A socket that listens on one address only.

    Raises:
        UsageError: it cannot.
    """
    try:
        family = socket.AF_INET6 if ":" in address else socket.AF_INET
        own = socket.socket(family, socket.SOCK_STREAM)
        own.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        own.bind((address, port))
        own.listen(64)
    except (OSError, OverflowError) as error:
        raise UsageError(
            f"cannot listen on {address} port {port} ({getattr(error, 'strerror', error)})",
            remedy="Leave --port out for a free one, or give another --phone-address.",
        ) from error
    return own


def local_address() -> str:
    """The address of this computer on the local network; no packet is sent to find it.

    Raises:
        UsageError: there is no network.
    """
    probe = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
    with closing(probe):
        try:
            probe.connect(("192.0.2.1", 9))  # reserved for documentation, RFC 5737
            found = str(probe.getsockname()[0])
        except OSError as error:
            raise UsageError(
                "this computer is on no network that a phone could reach",
                remedy="Join the phone's hotspot or a wireless network, or give --phone-address.",
            ) from error
    return found


def _gate(own: socket.socket, shared: Workplace, terms: Terms, *, trusted: bool) -> Gate:
    address, port = own.getsockname()[:2]
    host = f"[{address}]:{port}" if ":" in address else f"{address}:{port}"
    return Gate(
        host=host,
        base="/" + secrets.token_hex(4),
        keys=Keyring(shared.clock, terms),
        trusted=trusted,
        allowed=EVERYBODY,
        confirming=CONFIRMING,
        photos=PHOTOS,
    )


async def _serve(
    shared: Workplace, sockets: list[socket.socket], ready: Callable[[Listening], None]
) -> None:
    servers = [uvicorn.Server(_config(make_app(shared, gate))) for gate in shared.gates]

    def stop() -> None:
        for server in servers:
            server.should_exit = True

    shared.stop = stop
    links = [link_of(gate) for gate in shared.gates]
    asyncio.get_running_loop().call_soon(ready, Listening(*links))
    await _all_until_one_stops(servers, sockets, stop)


async def _all_until_one_stops(
    servers: list[uvicorn.Server], sockets: list[socket.socket], stop: Callable[[], None]
) -> None:
    """The signal that ends the program reaches the server started last; it ends the others."""
    tasks = []
    for server, own in zip(servers, sockets, strict=True):
        tasks.append(asyncio.create_task(server.serve(sockets=[own])))
        await asyncio.sleep(0)
    await asyncio.wait(tasks, return_when=asyncio.FIRST_COMPLETED)
    stop()
    await asyncio.gather(*tasks)


def _config(app: object) -> uvicorn.Config:
    return uvicorn.Config(
        app,  # type: ignore[arg-type]
        log_level="error",
        access_log=False,
        server_header=False,
        proxy_headers=False,
        lifespan="off",
        ws="none",
        limit_concurrency=MOST_CONNECTIONS,
        h11_max_incomplete_event_size=16 * 1024,
        http="h11",
        timeout_keep_alive=PATIENCE_S,
        timeout_graceful_shutdown=PATIENCE_S,
    )
