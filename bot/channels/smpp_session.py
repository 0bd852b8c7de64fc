"""One link to a carrier: bound once, used until it breaks, never repaired.

Does: pair responses with requests, answer the carrier's own, keep the link alive, hand over what is
delivered. Never: answers a delivery by itself, repeats a request, writes to a log (a bind holds the
password, a delivery what a patient wrote).

Own code, because the asyncio clients to be had answer a delivery before it can be on disk, end the
link at a receipt in a layout of the carrier's own, or refuse a text in an alphabet that is new to
them.
Read next: `smpp`.
"""

from __future__ import annotations

import asyncio
import secrets
import ssl
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass

from bot.channels.smpp_pdu import (
    HEADER,
    PDU_MAX,
    RESPONSE_BIT,
    Command,
    Deliver,
    Status,
    read_deliver,
    status_name,
    unit,
)
from bot.errors import BotError


class LinkLostError(BotError):
    """The link broke; a request that was written may have arrived."""


class NotSentError(LinkLostError):
    """The link was broken before the request was written."""


class NoResponseError(LinkLostError):
    """The carrier did not respond in time; the request may have arrived."""


class BindRefusedError(BotError):
    """The carrier does not let us in. `status`: its reason."""

    def __init__(self, status: int) -> None:
        super().__init__(f"the bind was refused ({status_name(status)})")
        self.status = status


@dataclass(frozen=True)
class Response:
    """The answer to a request of ours."""

    command: int
    status: int
    body: bytes


OnDelivered = Callable[["Session", int, Deliver], None]
"""Takes a delivery with its sequence number, to be answered by `Session.answer`."""


class Session:
    """A link. `name`: unlike any other's. `sent`: requests so far; `heard`: the highest one that
    was responded to. `patience`: how long a response may take [seconds]. `window`: requests to
    submit that may be without response at once [count]."""

    def __init__(
        self,
        reader: asyncio.StreamReader,
        writer: asyncio.StreamWriter,
        on_delivered: OnDelivered,
        *,
        patience: float,
        window: int,
    ) -> None:
        self.name = secrets.token_hex(4)
        self.sent = self.heard = 0
        self.why = ""
        self.window = asyncio.Semaphore(window)
        self.ended = asyncio.Event()
        self._reader, self._writer, self._patience = reader, writer, patience
        self._on_delivered = on_delivered
        self._waiting: dict[int, asyncio.Future[Response]] = {}
        self._reading = asyncio.create_task(self._read())

    @property
    def lost(self) -> bool:
        """Nothing comes or goes any more."""
        return self.ended.is_set()

    async def bind(self, body: bytes) -> None:
        """Log in, to send and to receive. Raises BindRefusedError, LinkLostError."""
        response = await self.ask(Command.BIND_TRANSCEIVER, body)
        if response.status != Status.ESME_ROK:
            raise BindRefusedError(response.status)

    async def ask(self, command: Command, body: bytes = b"") -> Response:
        """Send a request and wait for its response. Raises LinkLostError and its kinds."""
        if self.lost:
            raise NotSentError(self.why)
        self.sent = number = self.sent + 1
        future: asyncio.Future[Response] = asyncio.get_running_loop().create_future()
        self._waiting[number] = future
        self._writer.write(unit(command, number, body))
        try:
            async with asyncio.timeout(self._patience):
                await self._writer.drain()
                return await future
        except TimeoutError as error:
            raise NoResponseError("no response in time") from error
        except OSError as error:
            self._lose(type(error).__name__)
            raise LinkLostError(self.why) from error
        finally:
            del self._waiting[number]

    def answer(self, sequence: int, status: Status) -> None:
        """Answer a delivery. `ESME_ROK` only once it is on disk."""
        if not self.lost:
            command = Command.DELIVER_SM | RESPONSE_BIT
            self._writer.write(unit(command, sequence, b"\0", status))

    async def keep_alive(self, every: float) -> None:
        """Ask the carrier whether it is there, every so many seconds, until the link is lost."""
        while not self.lost:
            with suppress(TimeoutError):
                await asyncio.wait_for(self.ended.wait(), every)
                return
            try:
                await self.ask(Command.ENQUIRE_LINK)
            except LinkLostError as error:
                self._lose(f"the carrier does not answer: {error}")

    async def close(self) -> None:
        """Say goodbye where the link still stands, and give it back."""
        if not self.lost:
            self._writer.write(unit(Command.UNBIND, self.sent + 1))
            with suppress(OSError, TimeoutError):
                await asyncio.wait_for(self._writer.drain(), 1)
        self._lose("closed by us")
        self._reading.cancel()
        await asyncio.gather(self._reading, return_exceptions=True)

    async def _read(self) -> None:
        try:
            while not self.lost:
                header = await self._reader.readexactly(HEADER.size)
                length, command, status, sequence = HEADER.unpack(header)
                if not HEADER.size <= length <= PDU_MAX:
                    self._lose(f"a unit of {length} octets: this is not SMPP")
                    return
                body = await self._reader.readexactly(length - HEADER.size)
                self._hear(command, status, sequence, body)
        except asyncio.IncompleteReadError:
            self._lose("the carrier closed the connection")
        except Exception as error:  # whatever it is, those who wait must hear of it
            self._lose(f"reading failed ({type(error).__name__})")

    def _hear(self, command: int, status: int, sequence: int, body: bytes) -> None:
        if command & RESPONSE_BIT:
            self.heard = max(self.heard, sequence if sequence <= self.sent else 0)
            if command == Command.GENERIC_NACK and not status:
                status = Status.ESME_RINVCMDID  # a refusal, whatever it calls itself
            waiting = self._waiting.get(sequence)
            if waiting is not None and not waiting.done():
                waiting.set_result(Response(command, status, body))
        elif command == Command.DELIVER_SM:
            self._hear_delivered(sequence, body)
        elif command == Command.ENQUIRE_LINK:
            self._writer.write(unit(command | RESPONSE_BIT, sequence))
        elif command == Command.UNBIND:
            self._writer.write(unit(command | RESPONSE_BIT, sequence))
            self._lose("the carrier ended the session")
        elif command != Command.ALERT_NOTIFICATION:  # which takes no response
            refusal = unit(Command.GENERIC_NACK, sequence, status=Status.ESME_RINVCMDID)
            self._writer.write(refusal)

    def _hear_delivered(self, sequence: int, body: bytes) -> None:
        try:
            deliver = read_deliver(body)
        except ValueError:
            self.answer(sequence, Status.ESME_RSYSERR)
            return
        self._on_delivered(self, sequence, deliver)

    def _lose(self, why: str) -> None:
        if self.lost:
            return
        self.why = why
        self.ended.set()
        for waiting in self._waiting.values():
            if not waiting.done():
                waiting.set_exception(LinkLostError(why))
        self._writer.close()


async def open_session(
    host: str, port: int, on_delivered: OnDelivered, *, tls: bool, patience: float, window: int
) -> Session:
    """Connect. Raises OSError, or TimeoutError after `patience` [seconds]."""
    context = ssl.create_default_context() if tls else None
    async with asyncio.timeout(patience):
        reader, writer = await asyncio.open_connection(host, port, ssl=context)
    return Session(reader, writer, on_delivered, patience=patience, window=window)
