"""A carrier on the loopback address that speaks SMPP 3.4, for tests over real sockets.

`SmppPeer` does what a test tells it, at the moment it is told: refuse, withhold, hang up, deliver.
It reads and writes units with smpp34.
"""

from __future__ import annotations

import asyncio
import struct
from collections import deque
from collections.abc import Callable, Iterable
from typing import Any

import smpp34
import smsutil

HEADER = struct.Struct("!IIII")
SUBMIT_SM, DELIVER_SM, UNBIND, BIND_TRANSCEIVER, ENQUIRE_LINK = 0x04, 0x05, 0x06, 0x09, 0x15
RESPONSE = 0x8000_0000
WRONG_PASSWORD = 0x0E

NUMBER = "12345"
PATIENT = "447700900123"


def unit(command: int, sequence: int, body: bytes = b"", status: int = 0) -> bytes:
    """A unit in octets."""
    return HEADER.pack(16 + len(body), command, status, sequence) + body


class Peer:
    """One connection of a client."""

    def __init__(self, writer: asyncio.StreamWriter) -> None:
        self.writer = writer
        self.bound = False
        self.sequence = 0
        self.waiting: dict[int, asyncio.Future[int]] = {}


class SmppPeer:
    """The carrier. `submitted`: what it was sent, in order, whatever it answered. `withheld`: it
    answers no submit yet. `statuses`: what it answers to the next ones. `names`: how it
    writes the id of its n-th message."""

    system_id, password = "clinic", "s3cr3t-8"

    def __init__(self) -> None:
        self.submitted: list[smpp34.SubmitSm] = []
        self.statuses: deque[int] = deque()
        self.withheld = False
        self.names: Callable[[int], str] = lambda number: f"m{number}"
        self.accepted = 0
        self.peers: list[Peer] = []
        self._news = asyncio.Condition()
        self._server: asyncio.Server | None = None
        self._tasks: set[asyncio.Task[Any]] = set()
        self.port = 0

    async def start(self) -> None:
        """Listen, on the port of last time where there was one."""
        self._server = await asyncio.start_server(self._serve, "127.0.0.1", self.port)
        self.port = self._server.sockets[0].getsockname()[1]

    async def stop(self) -> None:
        """Hang up on everyone and listen no more."""
        assert self._server is not None
        self._server.close()
        self.drop()
        await self.release()
        await asyncio.gather(*self._tasks, return_exceptions=True)

    def drop(self) -> None:
        """Break all connections, without a word."""
        for peer in self.peers:
            peer.writer.transport.abort()
        self.peers.clear()

    async def release(self) -> None:
        """Answer what was withheld, on links that still stand."""
        self.withheld = False
        async with self._news:
            self._news.notify_all()

    async def until(self, condition: Callable[[], Any]) -> None:
        """Return once the condition holds."""
        async with asyncio.timeout(60), self._news:
            await self._news.wait_for(condition)

    async def bound(self) -> None:
        """Return once a client is logged in."""
        await self.until(lambda: any(peer.bound for peer in self.peers))

    # To the client

    def deliver(
        self,
        message: str | bytes,
        *,
        source: str = PATIENT,
        destination: str = NUMBER,
        tlvs: Iterable[tuple[int, bytes]] = (),
        **fields: Any,
    ) -> asyncio.Future[int]:
        """Deliver a message; the future is the status that the client answers."""
        peer = self.peers[-1]
        peer.sequence += 1
        octets = smsutil.encode(message) if isinstance(message, str) else message
        body = smpp34.DeliverSm(
            source,
            destination,
            octets,
            sequence_number=peer.sequence,
            tlvs=[smpp34.Tlv(tag, value) for tag, value in tlvs],
            **({"source_addr_ton": 1, "source_addr_npi": 1} | fields),
        )
        answered: asyncio.Future[int] = asyncio.get_running_loop().create_future()
        peer.waiting[peer.sequence] = answered
        peer.writer.write(body.encode())
        return answered

    def receipt(self, reference: str, stat: str = "DELIVRD", **fields: Any) -> asyncio.Future[int]:
        """Deliver a receipt in the usual layout."""
        text = (
            f"id:{reference} sub:001 dlvrd:001 submit date:2601050800 done date:260105080112 "
            f"stat:{stat} err:00A text:How is it"
        )
        return self.deliver(text, **({"esm_class": 0x04} | fields))

    # From the client

    async def _serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        self._tasks.add(asyncio.current_task())  # type: ignore[arg-type]
        peer = Peer(writer)
        self.peers.append(peer)
        try:
            while True:
                length, command, status, sequence = HEADER.unpack(await reader.readexactly(16))
                body = await reader.readexactly(length - 16)
                await self._hear(peer, command, status, sequence, body)
                async with self._news:
                    self._news.notify_all()
        except (asyncio.IncompleteReadError, ConnectionError):
            writer.close()
            if peer in self.peers:
                self.peers.remove(peer)
            async with self._news:
                self._news.notify_all()

    async def _hear(
        self, peer: Peer, command: int, status: int, sequence: int, body: bytes
    ) -> None:
        if command == BIND_TRANSCEIVER:
            self._bind(peer, sequence, body)
        elif command == SUBMIT_SM:
            decoded = smpp34.decode(HEADER.pack(16 + len(body), command, 0, sequence) + body)
            assert isinstance(decoded, smpp34.SubmitSm)
            self.submitted.append(decoded)
            # On its own, so that the link is read on while the response is withheld.
            self._tasks.add(asyncio.create_task(self._accept(peer, sequence)))
        elif command == DELIVER_SM | RESPONSE and sequence in peer.waiting:
            peer.waiting.pop(sequence).set_result(status)
        elif command in (ENQUIRE_LINK, UNBIND):
            peer.writer.write(unit(command | RESPONSE, sequence))

    def _bind(self, peer: Peer, sequence: int, body: bytes) -> None:
        name, password = body.split(b"\0")[:2]
        right = (name.decode(), password.decode()) == (self.system_id, self.password)
        peer.bound = right
        status = 0 if right else WRONG_PASSWORD
        peer.writer.write(unit(BIND_TRANSCEIVER | RESPONSE, sequence, b"carrier\0", status))

    async def _accept(self, peer: Peer, sequence: int) -> None:
        async with self._news:
            await self._news.wait_for(lambda: not self.withheld)
        if peer not in self.peers:
            return
        status = self.statuses.popleft() if self.statuses else 0
        body = b""
        if not status:
            self.accepted += 1
            body = self.names(self.accepted).encode() + b"\0"
        peer.writer.write(unit(SUBMIT_SM | RESPONSE, sequence, body, status))
        async with self._news:
            self._news.notify_all()


def text_of(parts: list[smpp34.SubmitSm]) -> str:
    """What a telephone would show for these parts."""
    octets = [p.short_message[6:] if p.esm_class & 0x40 else p.short_message for p in parts]
    if parts[0].data_coding == 8:
        return b"".join(octets).decode("utf-16-be")
    return "".join(str(smsutil.decode(part)) for part in octets)
