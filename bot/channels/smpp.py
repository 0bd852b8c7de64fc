"""SMS by SMPP 3.4: any carrier or gateway that speaks it. Addresses are "+" and country code.

Does: keep a link, send within the carrier's rate, turn every status into a `Delivery`, hand over
messages and receipts to `commit`. Never: answers a delivery before it is on disk, repeats a message
by itself, reads what a message says, lets the password or what a patient wrote into a log.

`Accepted` means that the carrier took it; whether the phone did, a `Receipt` says later, if ever.
Read next: `smpp_session` for one link, `smpp_inbound` for what comes in, `smpp_text` for parts.
"""

from __future__ import annotations

import asyncio
import logging
import secrets
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from bot.channels.smpp_account import SmppAccount
from bot.channels.smpp_inbound import Link, phone_number, remembered
from bot.channels.smpp_pace import Pace
from bot.channels.smpp_pdu import (
    ISDN,
    Address,
    Command,
    Deliver,
    Status,
    TypeOfNumber,
    bind_body,
    message_id,
    status_name,
    submit_body,
)
from bot.channels.smpp_receipts import receipt
from bot.channels.smpp_session import (
    BindRefusedError,
    LinkLostError,
    NotSentError,
    Session,
    open_session,
)
from bot.channels.smpp_text import encoded
from bot.errors import SettingsError
from bot.phone_numbers import is_e164
from bot.ports import (
    Accepted,
    Arrival,
    Clock,
    Commit,
    Delivery,
    Incoming,
    Later,
    Never,
    Outgoing,
    Unknown,
)

BUSY = frozenset({Status.ESME_RTHROTTLED, Status.ESME_RMSGQFUL})
"""The carrier wants less of it. Anything else but a bad number is tried again at our own pace."""

REFUSED = frozenset({Status.ESME_RBINDFAIL, Status.ESME_RINVPASWD, Status.ESME_RINVSYSID})
"""The account is not let in. Asking again soon gets many an account locked (common practice)."""

_log = logging.getLogger(__name__)


class SmppChannel:
    """A `Channel` to telephones by one SMPP account.

    `patience`: how long a response may take. `alive_every`: between two questions whether the
    carrier is there. `first_pause`, `longest_pause`: between tries to connect, doubling from one
    to the other. `parts_wait`: how long a long message may be incomplete before it is handed over
    as far as it came; its words may be a warning sign. `look_every`: how often that is looked at.
    Raises `SettingsError` for names that SMPP cannot carry.
    """

    def __init__(
        self,
        account: SmppAccount,
        *,
        clock: Clock,
        name: str = "sms",
        patience: timedelta = timedelta(seconds=20),
        alive_every: timedelta = timedelta(seconds=30),
        first_pause: timedelta = timedelta(seconds=1),
        longest_pause: timedelta = timedelta(seconds=60),
        parts_wait: timedelta = timedelta(minutes=2),
        look_every: timedelta = timedelta(seconds=5),
    ) -> None:
        if account.problems():
            raise SettingsError(account.problems())
        self.name = name
        self._account, self._clock = account, clock
        self._patience, self._alive_every = patience, alive_every
        self._first_pause, self._longest_pause = first_pause, longest_pause
        self._parts_wait, self._look_every = parts_wait, look_every
        self._source = account.source()
        self._pace = Pace(account.messages_per_second, first_pause, longest_pause)
        self._memory = remembered(None)
        self._session: Session | None = None
        self._came: asyncio.Queue[tuple[Session, int, Deliver]] = asyncio.Queue()
        self._reference = secrets.randbelow(256)
        self._held_until: datetime | None = None
        self._told: set[int] = set()
        self._ended: dict[str, int] = {}
        self._closed = False

    async def close(self) -> None:
        """Unbind. A later `send` says `Later`."""
        self._closed = True
        if self._session is not None:
            await self._session.close()

    # Out

    async def send(self, outgoing: Outgoing) -> Delivery:
        """Send one message, in as many parts as it takes, within the carrier's rate.

        An urgent one does not wait for the end of a pause that the carrier asked for. When a part
        fails, its delivery counts and a repetition starts from the first part: a telephone shows
        a long message only when it is complete. Never raises.
        """
        if not is_e164(outgoing.address):
            return Never("not a telephone number with country code")
        try:
            return await self._send_parts(outgoing)
        except NotSentError as error:
            return Later(f"not connected: {error}")
        except LinkLostError as error:
            return Unknown(f"{error}")
        except Exception as error:  # the port promises that nothing is raised; it may have left
            return Unknown(f"unexpected {type(error).__name__}")

    async def _send_parts(self, outgoing: Outgoing) -> Delivery:
        self._reference = (self._reference + 1) % 256
        text = encoded(outgoing.text, self._reference)
        to = Address(outgoing.address.removeprefix("+"), TypeOfNumber.INTERNATIONAL, ISDN)
        references = []
        for octets in text.bodies:
            await self._pace.turn()
            held = self._held()
            if held and not outgoing.urgent:
                return Later("the carrier asked for less", held)
            body = submit_body(
                self._source,
                to,
                octets,
                text.data_coding,
                headed=text.headed,
                validity=self._account.validity,
            )
            session = self._session
            if session is None or self._closed:
                return Later("not connected")
            async with session.window:
                response = await session.ask(Command.SUBMIT_SM, body)
            if response.status != Status.ESME_ROK:
                return self._refusal(response.status)
            self._pace.accepted()
            self._told.clear()
            references.append(message_id(response.body))
        return Accepted(" ".join(references))

    def _held(self) -> timedelta | None:
        """How long the carrier still wants less, None if it takes messages."""
        if self._held_until is None or self._clock.now() >= self._held_until:
            return None
        return self._held_until - self._clock.now()

    def _refusal(self, status: int) -> Delivery:
        """What a status means for the message."""
        why = f"the carrier said {status_name(status)}"
        if status in BUSY:
            wait = self._pace.slower()
            self._held_until = self._clock.now() + wait
            return Later(why, wait)
        if status == Status.ESME_RINVDSTADR:
            return Never(why)
        if status not in self._told:  # once each: thirty lines a second help nobody
            self._told.add(status)
            _log.warning("%s: a message was refused, and is tried again: %s", self.name, why)
        return Later(why)

    # In

    async def listen(self, commit: Commit, cursor: str | None) -> None:
        """Stay connected and take what comes, until cancelled. `cursor`: see `smpp_inbound`."""
        self._memory = remembered(cursor)
        async with asyncio.TaskGroup() as group:
            group.create_task(self._take_for_ever(commit))
            group.create_task(self._connect_for_ever())

    async def _connect_for_ever(self) -> None:
        failures = 0
        while True:
            pause = min(self._longest_pause, self._first_pause * 2.0 ** min(failures, 16))
            try:
                session = await self._connect()
                failures, pause = 0, self._first_pause
                await self._use(session)
                _log.warning("%s: the link is gone: %s", self.name, session.why)
            except BindRefusedError as error:
                if error.status in REFUSED:
                    pause = self._longest_pause
                self._say_refused(error.status, pause)
            except Exception as error:  # for ever: a line that gives up is a line nobody hears
                # The name alone where it is not ours: others' words may hold anything.
                why = str(error) if isinstance(error, LinkLostError) else type(error).__name__
                seconds = round(pause.total_seconds(), 1)
                _log.warning(
                    "%s: cannot connect (%s). Trying again in %s s", self.name, why, seconds
                )
            failures += 1
            await asyncio.sleep(pause.total_seconds())

    async def _connect(self) -> Session:
        """A link that is bound."""
        account = self._account
        session = await open_session(
            account.host,
            account.port,
            lambda *delivery: self._came.put_nowait(delivery),
            tls=account.tls,
            patience=self._patience.total_seconds(),
            window=account.window,
        )
        try:
            await session.bind(bind_body(account.system_id, account.password, account.system_type))
        except BaseException:
            await session.close()
            raise
        _log.info("%s: connected to %s:%s", self.name, account.host, account.port)
        return session

    async def _use(self, session: Session) -> None:
        """Keep the link until it breaks."""
        self._session = session
        try:
            await session.keep_alive(self._alive_every.total_seconds())
        finally:
            self._session = None
            await session.close()
            self._ended[session.name] = session.heard

    def _say_refused(self, status: int, pause: timedelta) -> None:
        _log.error(
            "%s: the carrier refused the bind (%s); check smpp.system_id and smpp.password, and "
            "that no other program uses the account. Trying again in %s s",
            self.name, status_name(status), round(pause.total_seconds(), 1),
        )  # fmt: skip

    async def _take_for_ever(self, commit: Commit) -> None:
        """One delivery after another, as they came; between them, what waits too long."""
        while True:
            try:
                async with asyncio.timeout(self._look_every.total_seconds()):
                    session, sequence, deliver = await self._came.get()
            except TimeoutError:
                await self._give_up_waiting(commit)
                continue
            if not session.lost:  # else the carrier sends it again
                await self._take(commit, session, sequence, deliver)
                await self._give_up_waiting(commit)

    async def _take(
        self, commit: Commit, session: Session, sequence: int, deliver: Deliver
    ) -> None:
        """Keep a delivery, and only then answer it."""
        try:
            link = Link(session.name, sequence)
            self._forget_confirmed(session)
            await self._keep(commit, link, deliver)
        except Exception as error:
            # The name alone: an exception's words may hold what a patient wrote.
            _log.error(
                "%s: a delivery was not kept (%s); the carrier is told to send it again",
                self.name, type(error).__name__,
            )  # fmt: skip
            session.answer(sequence, Status.ESME_RX_T_APPN)
            return
        asked = session.sent
        session.answer(sequence, Status.ESME_ROK)
        self._memory = self._memory.answered(link, asked)

    async def _keep(self, commit: Commit, link: Link, deliver: Deliver) -> None:
        region, alphabet = self._account.region, self._account.alphabet
        address = phone_number(deliver.source, region)
        told = receipt(deliver, self.name, address, alphabet)
        if told is not None:
            # Some carriers leave sender and receiver as they were in the message itself.
            if told.address == phone_number(self._source, region):
                told = replace(told, address=phone_number(deliver.destination, region))
            await commit([told], None)
            return
        now = self._clock.now()
        memory, messages = self._memory.take(deliver, address, link, now, alphabet)
        if memory.count != self._memory.count:
            await commit(self._named(messages), memory.text())
        self._memory = memory

    def _forget_confirmed(self, session: Session) -> None:
        """Here, and not when a link ends: only one task at a time may change the memory."""
        heard = self._ended | {session.name: session.heard}
        self._ended.clear()
        for name, number in heard.items():
            self._memory = self._memory.confirmed(name, number)

    async def _give_up_waiting(self, commit: Commit) -> None:
        """Hand over long messages that will not be complete any more, as far as they came."""
        try:
            memory, messages = self._memory.overdue(
                self._clock.now(), self._parts_wait, self._account.alphabet
            )
            if messages:
                await commit(self._named(messages), memory.text())
            self._memory = memory
        except Exception as error:
            _log.error(
                "%s: an incomplete message was not kept (%s); it is tried again",
                self.name, type(error).__name__,
            )  # fmt: skip

    def _named(self, messages: Sequence[Incoming]) -> list[Arrival]:
        return [replace(message, channel=self.name) for message in messages]
