"""A carrier on the loopback address that speaks SMPP 3.4, for tests over real sockets.

`SmppPeer` does what a test tells it, at the moment it is told: refuse, withhold, repeat, hang up.
It reads and writes units with smpp34, a codec that shares nothing with ours. Run as a program, this
file is smpp34's own server, which does things its own way:

    python smpp_peer.py     prints its port, then "up"; echoes each text as an answer and sends a
                            receipt in decimal for an id given in hexadecimal
"""

from __future__ import annotations

import asyncio
import socket
import struct
from collections import deque
from collections.abc import Callable, Iterable
from typing import Any

import smpp34
import smsutil

HEADER = struct.Struct("!IIII")
SUBMIT_SM, DELIVER_SM, UNBIND, BIND_TRANSCEIVER, ENQUIRE_LINK = 0x04, 0x05, 0x06, 0x09, 0x15
RESPONSE = 0x8000_0000
GENERIC_NACK = RESPONSE
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
    answers nothing to a submit. `statuses`: what it answers to the next ones, -1 for a nack.
    `on_bind`: "let in", "hang up", "say nothing". `names`: how it writes the id of its n-th
    message."""

    system_id, password = "clinic", "s3cr3t-8"

    def __init__(self) -> None:
        self.submitted: list[smpp34.SubmitSm] = []
        self.heard: list[int] = []
        self.binds: list[bytes] = []
        self.statuses: deque[int] = deque()
        self.withheld = self.deaf = False
        self.on_bind = "let in"
        self.names: Callable[[int], str] = lambda number: f"m{number}"
        self.before_response: Callable[[int], Any] | None = None
        self.connections = 0
        self.accepted = 0
        self.peers: list[Peer] = []
        self._held: list[tuple[Peer, int]] = []
        self._news = asyncio.Condition()
        self._server: asyncio.Server | None = None
        self._tasks: set[asyncio.Task[Any]] = set()
        self.port = 0

    async def __aenter__(self) -> SmppPeer:
        await self.start()
        return self

    async def __aexit__(self, *details: object) -> None:
        await self.stop()

    async def start(self) -> None:
        """Listen, on the port of last time where there was one."""
        self._server = await asyncio.start_server(self._serve, "127.0.0.1", self.port)
        self.port = self._server.sockets[0].getsockname()[1]

    async def stop(self) -> None:
        """Hang up on everyone and listen no more."""
        assert self._server is not None
        self._server.close()
        self.drop()
        await asyncio.gather(*self._tasks, return_exceptions=True)

    def drop(self) -> None:
        """Break all connections, without a word."""
        for peer in self.peers:
            peer.writer.transport.abort()
        self.peers.clear()

    async def until(self, condition: Callable[[], Any]) -> None:
        """Return once the condition holds."""
        async with asyncio.timeout(5), self._news:
            await self._news.wait_for(condition)

    async def bound(self) -> None:
        """Return once a client is logged in."""
        await self.until(lambda: any(peer.bound for peer in self.peers))

    # To the client

    async def release(self) -> None:
        """Answer what was withheld, with success."""
        self.withheld = False
        held, self._held = self._held, []
        for peer, sequence in held:
            await self._accept(peer, sequence)

    def write(self, octets: bytes) -> None:
        """Send any octets at all."""
        self.peers[-1].writer.write(octets)

    def deliver(
        self,
        message: str | bytes,
        *,
        source: str = PATIENT,
        destination: str = NUMBER,
        tlvs: Iterable[tuple[int, bytes]] = (),
        sequence: int | None = None,
        **fields: Any,
    ) -> asyncio.Future[int]:
        """Deliver a message; the future is the status that the client answers."""
        peer = self.peers[-1]
        peer.sequence = sequence or peer.sequence + 1
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
        self.connections += 1
        try:
            while True:
                length, command, status, sequence = HEADER.unpack(await reader.readexactly(16))
                body = await reader.readexactly(length - 16)
                await self._hear(peer, command, status, sequence, body)
                async with self._news:
                    self.heard.append(command)
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
        if self.deaf:
            return
        if command == BIND_TRANSCEIVER:
            self._bind(peer, sequence, body)
        elif command == SUBMIT_SM:
            decoded = smpp34.decode(HEADER.pack(16 + len(body), command, 0, sequence) + body)
            assert isinstance(decoded, smpp34.SubmitSm)
            self.submitted.append(decoded)
            if self.withheld:
                self._held.append((peer, sequence))
            else:
                # On its own, so that the link is read on whatever happens before the response.
                self._tasks.add(asyncio.create_task(self._accept(peer, sequence)))
        elif command == DELIVER_SM | RESPONSE and sequence in peer.waiting:
            peer.waiting.pop(sequence).set_result(status)
        elif command in (ENQUIRE_LINK, UNBIND):
            peer.writer.write(unit(command | RESPONSE, sequence))

    def _bind(self, peer: Peer, sequence: int, body: bytes) -> None:
        self.binds.append(body)
        if self.on_bind == "hang up":
            peer.writer.close()
            return
        if self.on_bind == "say nothing":
            return
        name, password = body.split(b"\0")[:2]
        right = (name.decode(), password.decode()) == (self.system_id, self.password)
        peer.bound = right
        status = 0 if right else WRONG_PASSWORD
        peer.writer.write(unit(BIND_TRANSCEIVER | RESPONSE, sequence, b"carrier\0", status))

    async def _accept(self, peer: Peer, sequence: int) -> None:
        status = self.statuses.popleft() if self.statuses else 0
        if status < 0:
            peer.writer.write(unit(GENERIC_NACK, sequence))
            return
        if status:
            peer.writer.write(unit(SUBMIT_SM | RESPONSE, sequence, status=status))
            return
        self.accepted += 1
        if self.before_response is not None:
            await self.before_response(self.accepted)
        body = self.names(self.accepted).encode() + b"\0"
        peer.writer.write(unit(SUBMIT_SM | RESPONSE, sequence, body))


def text_of(parts: list[smpp34.SubmitSm]) -> str:
    """What a telephone would show for these parts."""
    octets = [p.short_message[6:] if p.esm_class & 0x40 else p.short_message for p in parts]
    if parts[0].data_coding == 8:
        return b"".join(octets).decode("utf-16-be")
    return "".join(str(smsutil.decode(part)) for part in octets)


async def _other_server() -> None:
    """smpp34's server: echo what comes, and send a receipt for it."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    server = smpp34.Server("127.0.0.1", port, system_id="other")
    await server.start()
    print(port, "up", flush=True)
    client: Any = None
    count = 0x1A
    while True:
        event = await server.next()
        if isinstance(event, smpp34.Esme):
            client = event
        elif isinstance(event, smpp34.SubmitSmEvent):
            count += 1
            event.accept(f"{count:X}")
            receipt = f"id:{count:010d} sub:001 dlvrd:001 stat:DELIVRD err:000 text:"
            to = {"destination_addr": NUMBER, "source_addr": event.destination_addr}
            await client.deliver_sm(short_message=receipt.encode(), esm_class=4, **to)
            echo = {"short_message": event.short_message, "data_coding": event.data_coding}
            await client.deliver_sm(**echo, esm_class=event.esm_class & 0x40, **to)


if __name__ == "__main__":
    asyncio.run(_other_server())
