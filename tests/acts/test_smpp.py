"""SMS by SMPP 3.4 against a carrier on the loopback address: real client, real sockets.

Each test says what a patient, the carrier or the network does, and what must come of it.
"""

from __future__ import annotations

import asyncio
import contextlib
import logging
import sys
from collections.abc import AsyncIterator, Callable, Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from stand_ins import smpp_peer
from stand_ins.smpp_peer import ENQUIRE_LINK, NUMBER, SmppPeer, text_of

from bot.channels.smpp import SmppChannel
from bot.channels.smpp_account import SmppAccount
from bot.channels.smpp_inbound import MISSING, REPEAT_WITHIN, phone_number
from bot.channels.smpp_pace import PACE_LEAST, Pace
from bot.channels.smpp_pdu import Address
from bot.channels.smpp_text import NOT_TEXT, decoded, encoded
from bot.clock import SteppedClock
from bot.commands.smpp_door import smpp_channel, smpp_problems
from bot.errors import SettingsError
from bot.ports import (
    Accepted,
    Arrival,
    Delivery,
    Incoming,
    Later,
    Never,
    Outgoing,
    Receipt,
    ReceiptState,
    Unknown,
)
from bot.settings import Settings, read_settings
from dialogs.rendering import segments

START = datetime(2026, 1, 5, 8, tzinfo=UTC)
SHORT = timedelta(milliseconds=20)
OK, TEMPORARY = 0x00, 0x64
THROTTLED, QUEUE_FULL, NO_SUCH_NUMBER = 0x58, 0x14, 0x0B


class Inbox:
    """Where arrivals are committed, with the cursor. Told to fail, it keeps nothing."""

    def __init__(self) -> None:
        self.arrivals: list[Arrival] = []
        self.cursor: str | None = None
        self.ids: set[str] = set()
        self.failures_left = 0
        self.open = asyncio.Event()
        self.open.set()
        self._news = asyncio.Condition()

    async def commit(self, arrivals: Sequence[Arrival], cursor: str | None) -> None:
        """Keep the batch."""
        await self.open.wait()
        if self.failures_left:
            self.failures_left -= 1
            raise OSError("the disk is full; the patient wrote 3 10")
        async with self._news:
            self.arrivals.extend(arrivals)
            self.cursor = self.cursor if cursor is None else cursor
            self._news.notify_all()

    @property
    def texts(self) -> list[str]:
        """What people wrote."""
        return [a.text for a in self.arrivals if isinstance(a, Incoming)]

    @property
    def receipts(self) -> list[Receipt]:
        """What the carrier told."""
        return [a for a in self.arrivals if isinstance(a, Receipt)]

    async def until(self, condition: Callable[[], Any]) -> None:
        """Return once the condition holds."""
        async with asyncio.timeout(5), self._news:
            await self._news.wait_for(condition)


def account(port: int, **fields: Any) -> SmppAccount:
    given_fields = {
        "system_id": SmppPeer.system_id,
        "password": SmppPeer.password,
        "sender": NUMBER,
        "messages_per_second": 1000,
        "region": "GB",
    }
    return SmppAccount("127.0.0.1", port, **(given_fields | fields))


def channel_to(port: int, clock: SteppedClock, **options: Any) -> SmppChannel:
    fields = options.pop("fields", {})
    quick = {"patience": timedelta(seconds=2), "first_pause": SHORT, "longest_pause": 4 * SHORT}
    quick |= {"look_every": SHORT}
    return SmppChannel(account(port, **fields), clock=clock, **(quick | options))


@contextlib.asynccontextmanager
async def listening(channel: SmppChannel, inbox: Inbox) -> AsyncIterator[None]:
    task = asyncio.create_task(channel.listen(inbox.commit, inbox.cursor))
    try:
        yield
    finally:
        assert not task.done(), "listening ends only when cancelled"
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)
        await channel.close()


@pytest.fixture
async def peer() -> AsyncIterator[SmppPeer]:
    """The carrier."""
    async with SmppPeer() as running:
        yield running


@pytest.fixture
def clock() -> SteppedClock:
    """A clock that stands still."""
    return SteppedClock(START)


@pytest.fixture
def inbox() -> Inbox:
    """Where what comes in is kept."""
    return Inbox()


@pytest.fixture
async def channel(peer: SmppPeer, clock: SteppedClock, inbox: Inbox) -> AsyncIterator[SmppChannel]:
    """The channel, listening and bound."""
    made = channel_to(peer.port, clock)
    async with listening(made, inbox):
        await connected(peer, made)
        yield made


async def connected(peer: SmppPeer, channel: SmppChannel) -> None:
    """Return once a message goes through."""
    await peer.bound()
    async with asyncio.timeout(5):
        while isinstance(await channel.send(outgoing("hello")), Later):
            await asyncio.sleep(0.005)
    peer.submitted.clear()
    peer.accepted = 0


def outgoing(text: str = "How is it?", to: str = "+447700900123", **fields: Any) -> Outgoing:
    return Outgoing(id=1, channel="sms", address=to, text=text, **fields)


# Sending


async def test_a_message_leaves_as_the_carrier_needs_it(
    peer: SmppPeer, channel: SmppChannel
) -> None:
    """Number without plus and marked international, receipt asked for, life limited, GSM-7."""
    delivery = await channel.send(outgoing("How is it?"))

    (sent,) = peer.submitted
    assert delivery == Accepted("m1")
    assert (sent.destination_addr, sent.dest_addr_ton, sent.dest_addr_npi) == ("447700900123", 1, 1)
    assert (sent.source_addr, sent.source_addr_ton) == (NUMBER, 3)
    assert (sent.registered_delivery, sent.data_coding, sent.esm_class) == (1, 0, 0)
    assert sent.validity_period == "000000120000000R"
    assert sent.short_message == b"How is it?"


@pytest.mark.parametrize(
    ("text", "parts", "coding"),
    [
        pytest.param("a" * 160, 1, 0, id="160 letters"),
        pytest.param("a" * 161, 2, 0, id="161 letters"),
        pytest.param("a" * 159 + "€", 2, 0, id="159 and a euro sign, which is two"),
        pytest.param("a" * 152 + "€" + "b" * 20, 2, 0, id="a euro sign across the seam"),
        pytest.param("Tendon £@_{}[]~^|\\ €", 1, 0, id="the odd letters of GSM-7"),
        pytest.param("é" * 306, 2, 0, id="two full parts"),
        pytest.param("é" * 307, 3, 0, id="one letter more"),
        pytest.param("\u2019" * 70, 1, 8, id="70 of UCS-2"),
        pytest.param("\u2019" * 71, 2, 8, id="71 of UCS-2"),
        pytest.param("\u2019" * 66 + "😀" + "x" * 20, 2, 8, id="an emoji across the seam"),
        pytest.param("😀" * 200, 7, 8, id="many emoji"),
    ],
)
async def test_a_text_arrives_whole_in_as_few_parts_as_counted(
    peer: SmppPeer, channel: SmppChannel, text: str, parts: int, coding: int
) -> None:
    """What a telephone shows is what was written, and costs what was counted beforehand."""
    delivery = await channel.send(outgoing(text))

    assert isinstance(delivery, Accepted)
    assert delivery.reference.split() == [f"m{n + 1}" for n in range(parts)]
    assert len(peer.submitted) == parts == segments(text).count
    assert {sent.data_coding for sent in peer.submitted} == {coding}
    assert text_of(peer.submitted) == text
    assert all(len(sent.short_message) <= 160 for sent in peer.submitted)


@given(st.text(st.sampled_from("a€{é\u2019😀\n"), min_size=1, max_size=400))
def test_no_text_is_cut_inside_a_letter(text: str) -> None:
    """Each part can be read alone, and the parts make the text."""
    made = encoded(text, 7)

    heads = 6 if made.headed else 0
    read = [decoded(body[heads:], made.data_coding) for body in made.bodies]

    assert "".join(read) == text
    assert "\ufffd" not in "".join(read)
    assert len(made.bodies) == segments(text).count


async def test_the_parts_of_a_text_say_which_they_are(peer: SmppPeer, channel: SmppChannel) -> None:
    """Header: five octets, element 0, three octets, reference, total, number; then another one."""
    await channel.send(outgoing("a" * 200))
    await channel.send(outgoing("b" * 200))

    heads = [sent.short_message[:6] for sent in peer.submitted]
    first, second = heads[0][3], heads[2][3]
    assert [head[:3] for head in heads] == [b"\x05\x00\x03"] * 4
    assert [tuple(head[4:]) for head in heads] == [(2, 1), (2, 2)] * 2
    assert heads[1][3] == first
    assert second == (first + 1) % 256
    assert {sent.esm_class for sent in peer.submitted} == {0x40}


@pytest.mark.parametrize(
    ("status", "expected"),
    [
        pytest.param(THROTTLED, Later, id="too fast"),
        pytest.param(QUEUE_FULL, Later, id="queue full"),
        pytest.param(NO_SUCH_NUMBER, Never, id="no such number"),
        pytest.param(0x0A, Later, id="our own number is wrong: no fault of the patient's"),
        pytest.param(0x08, Later, id="the carrier is ill"),
        pytest.param(0x45, Later, id="submit failed"),
        pytest.param(0x0411, Later, id="a status of the carrier's own"),
        pytest.param(-1, Later, id="not understood, and no status"),
    ],
)
async def test_each_status_has_its_meaning(
    peer: SmppPeer, channel: SmppChannel, status: int, expected: type
) -> None:
    """And the link stays: the next message goes through."""
    peer.statuses.append(status)

    delivery = await channel.send(outgoing())

    assert type(delivery) is expected
    assert isinstance(await channel.send(outgoing(urgent=True)), Accepted)
    assert peer.connections == 1


async def test_a_throttled_carrier_is_left_alone_for_growing_pauses(
    peer: SmppPeer, channel: SmppChannel, clock: SteppedClock
) -> None:
    """Nothing ordinary leaves until the pause is over; each refusal doubles it, success ends it."""
    peer.statuses.extend([THROTTLED, QUEUE_FULL, OK, THROTTLED])
    waits = []
    for _ in range(2):
        delivery = await channel.send(outgoing())
        assert isinstance(delivery, Later)
        assert delivery.wait is not None
        waits.append(delivery.wait)
        asked = len(peer.submitted)
        assert await channel.send(outgoing()) == Later("the carrier asked for less", delivery.wait)
        assert len(peer.submitted) == asked
        clock.move_by(delivery.wait)

    assert isinstance(await channel.send(outgoing()), Accepted)
    again = await channel.send(outgoing())

    assert waits == [SHORT, 2 * SHORT]
    assert isinstance(again, Later)
    assert again.wait == SHORT


async def test_an_escalation_does_not_wait_for_the_pause(
    peer: SmppPeer, channel: SmppChannel
) -> None:
    """The carrier may refuse it, but it is asked."""
    peer.statuses.append(THROTTLED)
    await channel.send(outgoing())

    assert isinstance(await channel.send(outgoing(urgent=True)), Accepted)


def test_the_pace_halves_and_comes_back() -> None:
    """Half as fast at each refusal down to the least; doubled after twenty that went through."""
    pace = Pace(8, SHORT, 4 * SHORT)
    rates = []
    for _ in range(5):
        pace.slower()
        rates.append(pace.rate)

    back = []
    for _ in range(5):
        for _ in range(20):
            pace.accepted()
        back.append(pace.rate)

    assert rates == [4, 2, 1, PACE_LEAST, PACE_LEAST]
    assert back == [2, 4, 8, 8, 8]


async def test_no_more_are_unanswered_than_agreed(
    peer: SmppPeer, clock: SteppedClock, inbox: Inbox
) -> None:
    """With a window of two, the third waits for a response."""
    channel = channel_to(peer.port, clock, fields={"window": 2, "messages_per_second": 1e6})
    async with listening(channel, inbox):
        await connected(peer, channel)
        peer.withheld = True
        sending = [asyncio.create_task(channel.send(outgoing())) for _ in range(5)]
        await peer.until(lambda: len(peer.submitted) == 2)
        for _ in range(5):
            await peer.deliver("by now a third would have come")
        unanswered = len(peer.submitted)

        await peer.release()

        assert unanswered == 2
        assert [type(d) for d in await asyncio.gather(*sending)] == [Accepted] * 5


async def test_what_was_in_flight_when_the_line_broke_is_unknown(
    peer: SmppPeer, channel: SmppChannel
) -> None:
    """It may have arrived: neither sent again by itself nor taken for sent; then it reconnects."""
    peer.withheld = True
    sending = [asyncio.create_task(channel.send(outgoing())) for _ in range(3)]
    await peer.until(lambda: len(peer.submitted) == 3)

    peer.drop()
    deliveries = await asyncio.gather(*sending)
    peer.withheld = False
    await peer.bound()

    assert [type(d) for d in deliveries] == [Unknown] * 3
    await connected(peer, channel)


async def test_a_response_that_never_comes_is_unknown(
    peer: SmppPeer, clock: SteppedClock, inbox: Inbox
) -> None:
    """After the patience is over, and the link stays."""
    channel = channel_to(peer.port, clock, patience=timedelta(milliseconds=100))
    async with listening(channel, inbox):
        await connected(peer, channel)
        peer.withheld = True

        delivery = await channel.send(outgoing())

        assert delivery == Unknown("no response in time")
        peer.withheld = False
        assert isinstance(await channel.send(outgoing()), Accepted)


async def test_without_a_link_it_is_later(clock: SteppedClock) -> None:
    """Nothing left, so nothing can be doubled."""
    channel = channel_to(9, clock)

    assert await channel.send(outgoing()) == Later("not connected")
    await channel.close()


@pytest.mark.parametrize("address", ["12345", "447700900123", "+0123456789", "ana", "+44 7700"])
async def test_what_is_no_number_is_never(channel: SmppChannel, address: str) -> None:
    """And the carrier is not asked."""
    assert isinstance(await channel.send(outgoing(to=address)), Never)


# The link


async def test_a_silent_carrier_is_found_out(
    peer: SmppPeer, clock: SteppedClock, inbox: Inbox
) -> None:
    """It is asked whether it is there; when it does not answer, the link is made anew."""
    channel = channel_to(peer.port, clock, alive_every=SHORT, patience=timedelta(milliseconds=100))
    async with listening(channel, inbox):
        await connected(peer, channel)
        await peer.until(lambda: peer.heard.count(ENQUIRE_LINK) >= 3)
        before = peer.connections

        peer.deaf = True
        await peer.until(lambda: peer.connections == before + 1)
        peer.deaf = False

        await connected(peer, channel)


async def test_the_carriers_own_questions_are_answered(
    peer: SmppPeer, channel: SmppChannel, inbox: Inbox
) -> None:
    """Keep-alive, an unknown command, an alert, a unit cut short: the link bears them all."""
    peer.write(smpp_peer.unit(ENQUIRE_LINK, 900))
    peer.write(smpp_peer.unit(0x103, 901, b"\0"))
    peer.write(smpp_peer.unit(0x102, 902))
    peer.write(smpp_peer.unit(0x05, 903, b"\0\1"))
    peer.write(smpp_peer.unit(0x8000_0004, 99999, b"x\0"))

    assert await peer.deliver("3") == OK
    answers = [ENQUIRE_LINK | 0x8000_0000, 0x8000_0000, 0x8000_0005]
    assert [c for c in peer.heard if c in answers][:3] == answers
    assert inbox.texts == ["3"]
    assert peer.connections == 1


async def test_an_unbind_is_answered_and_the_link_made_anew(
    peer: SmppPeer, channel: SmppChannel
) -> None:
    """As carriers do before maintenance."""
    peer.write(smpp_peer.unit(smpp_peer.UNBIND, 900))

    await peer.until(lambda: peer.connections == 2)
    assert smpp_peer.UNBIND | smpp_peer.RESPONSE in peer.heard
    await connected(peer, channel)


@pytest.mark.parametrize("octets", [b"HTTP/1.1 400 Bad Request\r\n\r\n", b"\0\0\0\4" + b"\0" * 12])
async def test_what_is_not_smpp_ends_the_link(
    peer: SmppPeer, channel: SmppChannel, octets: bytes
) -> None:
    """A length that cannot be would make all that follows nonsense."""
    peer.write(octets)

    await peer.until(lambda: peer.connections == 2)
    await connected(peer, channel)


@pytest.mark.parametrize("manner", ["hang up", "say nothing"])
async def test_a_carrier_that_does_not_let_in_is_tried_again(
    peer: SmppPeer, clock: SteppedClock, inbox: Inbox, manner: str
) -> None:
    """For ever, and once it does, messages flow."""
    peer.on_bind = manner
    channel = channel_to(peer.port, clock, patience=timedelta(milliseconds=200))
    async with listening(channel, inbox):
        await peer.until(lambda: len(peer.binds) >= 3)
        assert await channel.send(outgoing()) == Later("not connected")

        peer.on_bind = "let in"

        await connected(peer, channel)


async def test_pauses_between_tries_grow(
    peer: SmppPeer, clock: SteppedClock, inbox: Inbox, caplog: pytest.LogCaptureFixture
) -> None:
    """Doubling from the first to the longest."""
    peer.on_bind = "hang up"
    pauses = {"first_pause": 5 * SHORT, "longest_pause": 20 * SHORT}
    async with listening(channel_to(peer.port, clock, **pauses), inbox):
        await peer.until(lambda: len(peer.binds) >= 5)

    said = [r.args[-1] for r in caplog.records if r.args and "cannot connect" in r.msg]
    assert said[:4] == [0.1, 0.2, 0.4, 0.4]


async def test_a_wrong_password_is_said_and_never_shown(
    peer: SmppPeer, clock: SteppedClock, inbox: Inbox, caplog: pytest.LogCaptureFixture
) -> None:
    """The log names the key to look at, and the longest pause is kept: accounts get locked."""
    caplog.set_level(logging.DEBUG)
    channel = channel_to(peer.port, clock, fields={"password": "wr0ng-pw"})
    async with listening(channel, inbox):
        await peer.until(lambda: len(peer.binds) >= 2)

    lines = [r.getMessage() for r in caplog.records if r.name.startswith("bot.")]
    assert "ESME_RINVPASWD" in lines[0]
    assert "check smpp.system_id and smpp.password" in lines[0]
    assert "Trying again in 0.1 s" in lines[0], "the longest pause at once"
    assert "wr0ng-pw" not in caplog.text + repr(channel._account)
    assert await channel.send(outgoing()) == Later("not connected")


@pytest.mark.parametrize(
    ("fields", "key"),
    [
        pytest.param({"password": "ninechars"}, "smpp.password", id="a password of nine"),
        pytest.param({"system_id": "x" * 16}, "smpp.system_id", id="a name of sixteen"),
        pytest.param({"system_type": "x" * 13}, "smpp.system_type", id="a type of thirteen"),
        pytest.param({"password": "schlüss"}, "smpp.password", id="a letter outside ASCII"),
    ],
)
def test_names_that_smpp_cannot_carry_are_refused(
    clock: SteppedClock, fields: dict[str, str], key: str
) -> None:
    """At once, with the key and without the value."""
    with pytest.raises(SettingsError) as raised:
        channel_to(1, clock, fields=fields)

    assert key in str(raised.value)
    assert next(iter(fields.values())) not in str(raised.value)


def test_names_of_just_the_longest_length_are_taken(clock: SteppedClock) -> None:
    """Eight, fifteen, twelve."""
    longest = {"password": "x" * 8, "system_id": "x" * 15, "system_type": "x" * 12}

    assert channel_to(1, clock, fields=longest).name == "sms"


# Receiving


async def test_a_text_arrives_as_it_was_written(
    peer: SmppPeer, channel: SmppChannel, inbox: Inbox
) -> None:
    """With the sender's number as we write it."""
    assert await peer.deliver("3 10") == OK

    (message,) = inbox.arrivals
    assert isinstance(message, Incoming)
    assert (message.channel, message.address, message.text) == ("sms", "+447700900123", "3 10")


@pytest.mark.parametrize(
    ("octets", "coding", "text"),
    [
        pytest.param(b"\x1be 5 \x00", 0, "€ 5 @", id="GSM-7"),
        pytest.param("3 \u2019😀".encode("utf-16-be"), 8, "3 \u2019😀", id="UCS-2"),
        pytest.param("3 é".encode("latin-1"), 3, "3 é", id="Latin-1"),
        pytest.param("3 é".encode("latin-1"), 0, "3 é", id="Latin-1 said to be the default"),
        pytest.param(b"3", 1, "3", id="IA5"),
        pytest.param("боль".encode("iso8859_5"), 6, "боль", id="Cyrillic"),
        pytest.param(b"3", 0xF1, "3", id="GSM-7 with a message class"),
        pytest.param("\u2019".encode("utf-16-be"), 0x18, "\u2019", id="UCS-2 with a message class"),
        pytest.param("\u2019".encode("utf-16-be"), 0xE0, "\u2019", id="UCS-2 with a waiting mark"),
        pytest.param(b"\0\1", 4, NOT_TEXT, id="a picture"),
        pytest.param(b"\0\1", 0xF5, NOT_TEXT, id="data with a message class"),
        pytest.param(b"\0\1", 0x3F, NOT_TEXT, id="something reserved"),
        pytest.param(b"", 0, "", id="nothing"),
        pytest.param(b"3\x1b", 0, "3 ", id="half an escape"),
        pytest.param(b"\x003\xd8", 8, "3\ufffd", id="half a letter"),
    ],
)
async def test_every_alphabet_is_read_and_none_ends_the_link(
    peer: SmppPeer, channel: SmppChannel, inbox: Inbox, octets: bytes, coding: int, text: str
) -> None:
    """Whatever comes is kept and answered."""
    assert await peer.deliver(octets, data_coding=coding) == OK

    assert inbox.texts == [text]
    assert peer.connections == 1


@given(st.binary(max_size=40), st.integers(0, 255))
def test_no_octets_make_reading_fail(octets: bytes, coding: int) -> None:
    """Any octets under any data coding give some text."""
    assert isinstance(decoded(octets, coding), str)


def header(number: int, total: int = 3, reference: int = 9) -> bytes:
    return bytes((5, 0, 3, reference, total, number))


def wide_header(number: int, total: int = 3, reference: int = 777) -> bytes:
    """A header with a port before the sixteen-bit reference."""
    ports = b"\x05\x04\x0b\x84\x23\xf0"
    return bytes((12,)) + ports + b"\x08\x04" + reference.to_bytes(2) + bytes((total, number))


LONG = ["My calf is swo", "llen and it is ", "hot"]


@pytest.mark.parametrize(
    "order",
    [(1, 2, 3), (3, 1, 2), (2, 3, 1), (1, 1, 2, 3), (3, 2, 3, 1, 2), (1, 2, 3, 3, 1)],
    ids=lambda order: "".join(map(str, order)),
)
@pytest.mark.parametrize("manner", ["header", "wide header", "parameters"])
async def test_a_long_message_is_put_together(
    peer: SmppPeer, channel: SmppChannel, inbox: Inbox, order: Sequence[int], manner: str
) -> None:
    """In any order, with parts twice, each part answered only once it is on disk."""
    for number in order:
        text = LONG[number - 1].encode()
        if manner == "parameters":
            tlvs = [(0x020C, b"\0\x09"), (0x020E, b"\3"), (0x020F, bytes((number,)))]
            answer = peer.deliver(text, tlvs=tlvs)
        else:
            head = header(number) if manner == "header" else wide_header(number)
            answer = peer.deliver(head + text, esm_class=0x40)
        assert await answer == OK

    assert inbox.texts == ["My calf is swollen and it is hot"]


async def test_letters_cut_in_half_are_whole_again(
    peer: SmppPeer, channel: SmppChannel, inbox: Inbox
) -> None:
    """Other senders do split an escape pair or an emoji over two parts."""
    euro, emoji = b"5 \x1be now", "a😀b".encode("utf-16-be")
    cuts = [(euro[:3], euro[3:], 0, 1), (emoji[:4], emoji[4:], 8, 2)]
    for first, second, coding, reference in cuts:
        for number, part in ((1, first), (2, second)):
            head = header(number, 2, reference)
            await peer.deliver(head + part, esm_class=0x40, data_coding=coding)

    assert inbox.texts == ["5 € now", "a😀b"]


async def test_a_long_message_in_one_piece(
    peer: SmppPeer, channel: SmppChannel, inbox: Inbox
) -> None:
    """message_payload carries what short_message cannot."""
    text = "long " * 100

    assert await peer.deliver(b"", tlvs=[(0x0424, text.encode())]) == OK

    assert inbox.texts == [text]


async def test_a_part_that_never_comes(
    peer: SmppPeer, channel: SmppChannel, inbox: Inbox, clock: SteppedClock
) -> None:
    """The rest is handed over after a while, marked: it may hold a warning sign."""
    await peer.deliver(header(1) + b"My calf is swollen", esm_class=0x40)
    await peer.deliver(header(3) + b"and hot", esm_class=0x40)
    clock.move_by(timedelta(seconds=119))
    await peer.deliver("after 119 seconds")
    clock.move_by(timedelta(seconds=1))
    await inbox.until(lambda: len(inbox.texts) == 2)

    assert inbox.texts == ["after 119 seconds", f"My calf is swollen {MISSING} and hot"]


async def test_parts_survive_a_restart(peer: SmppPeer, clock: SteppedClock, inbox: Inbox) -> None:
    """The first part was answered, so the carrier has forgotten it; we have not."""
    first = channel_to(peer.port, clock)
    async with listening(first, inbox):
        await connected(peer, first)
        await peer.deliver(header(1, 2) + b"swollen ", esm_class=0x40)

    second = channel_to(peer.port, clock)
    async with listening(second, inbox):
        await connected(peer, second)
        await peer.deliver(header(2, 2) + b"and hot", esm_class=0x40)

    assert inbox.texts == ["swollen and hot"]


async def test_a_part_that_never_comes_is_tried_again_when_not_kept(
    peer: SmppPeer, channel: SmppChannel, inbox: Inbox, clock: SteppedClock
) -> None:
    """The part was answered long ago: nobody else has it any more."""
    await peer.deliver(header(1, 2) + b"hot", esm_class=0x40)
    inbox.failures_left = 2

    clock.move_by(timedelta(minutes=2))
    await inbox.until(lambda: inbox.texts)

    assert inbox.texts == [f"hot {MISSING}"]
    assert inbox.failures_left == 0


async def test_a_late_part_is_not_lost(
    peer: SmppPeer, channel: SmppChannel, inbox: Inbox, clock: SteppedClock
) -> None:
    """It comes by itself, marked as a piece."""
    await peer.deliver(header(1, 2) + b"hot", esm_class=0x40)
    clock.move_by(timedelta(minutes=2))
    await inbox.until(lambda: inbox.texts)

    await peer.deliver(header(2, 2) + b"and swollen", esm_class=0x40)
    clock.move_by(timedelta(minutes=2))
    await inbox.until(lambda: len(inbox.texts) == 2)

    assert inbox.texts == [f"hot {MISSING}", f"{MISSING} and swollen"]


async def test_a_reference_used_again_starts_the_next_message(
    peer: SmppPeer, channel: SmppChannel, inbox: Inbox
) -> None:
    """The unfinished one is handed over as far as it came."""
    await peer.deliver(header(1, 2) + b"old", esm_class=0x40)
    await peer.deliver(header(1, 2) + b"new ", esm_class=0x40)
    await peer.deliver(header(2, 2) + b"one", esm_class=0x40)

    assert inbox.texts == [f"old {MISSING}", "new one"]


async def test_two_senders_do_not_mix(peer: SmppPeer, channel: SmppChannel, inbox: Inbox) -> None:
    """The same reference of two telephones is two messages."""
    for number in (1, 2):
        for source in ("447700900123", "447700900456"):
            text = header(number, 2) + f"{source[-3:]}.{number} ".encode()
            await peer.deliver(text, source=source, esm_class=0x40)

    assert inbox.texts == ["123.1 123.2 ", "456.1 456.2 "]


async def test_the_answer_leaves_only_after_the_commit(
    peer: SmppPeer, channel: SmppChannel, inbox: Inbox
) -> None:
    """As long as the disk takes, the carrier keeps the message; meanwhile the link works."""
    inbox.open.clear()
    answer = peer.deliver("3")
    assert isinstance(await channel.send(outgoing()), Accepted)
    before = answer.done()

    inbox.open.set()

    assert not before
    assert await answer == OK
    assert inbox.texts == ["3"]


async def test_a_commit_that_fails_is_not_acknowledged_and_the_link_lives(
    peer: SmppPeer, channel: SmppChannel, inbox: Inbox, caplog: pytest.LogCaptureFixture
) -> None:
    """The carrier is told to send again, the log says nothing of what was written."""
    inbox.failures_left = 2
    answers = [await peer.deliver("3 10"), await peer.deliver(header(1, 2) + b"x", esm_class=0x40)]
    later = [await peer.deliver("3 10"), await peer.deliver(header(1, 2) + b"x", esm_class=0x40)]

    assert answers == [TEMPORARY, TEMPORARY]
    assert later == [OK, OK]
    assert inbox.texts == ["3 10"]
    assert peer.connections == 1
    assert "OSError" in caplog.text
    assert "3 10" not in caplog.text


async def test_the_same_words_twice_are_two_answers(
    peer: SmppPeer, channel: SmppChannel, inbox: Inbox
) -> None:
    """A patient says 3 to one question and 3 to the next."""
    assert [await peer.deliver("3"), await peer.deliver("3")] == [OK, OK]

    assert inbox.texts == ["3", "3"]
    assert len({message.message_id for message in inbox.arrivals}) == 2  # type: ignore[union-attr]


async def test_the_same_delivery_under_the_same_number_is_one(
    peer: SmppPeer, channel: SmppChannel, inbox: Inbox
) -> None:
    """A carrier that did not wait for the answer."""
    assert [await peer.deliver("3", sequence=7), await peer.deliver("3", sequence=7)] == [OK, OK]

    assert inbox.texts == ["3"]


@pytest.mark.parametrize(
    ("confirmed", "after", "expected"),
    [
        pytest.param(False, REPEAT_WITHIN, ["3"], id="its answer may be lost"),
        pytest.param(False, REPEAT_WITHIN + timedelta(seconds=1), ["3", "3"], id="too long after"),
        pytest.param(True, SHORT, ["3", "3"], id="its answer had arrived: the patient says it"),
    ],
)
async def test_a_delivery_of_the_last_link_comes_again(
    peer: SmppPeer,
    channel: SmppChannel,
    inbox: Inbox,
    clock: SteppedClock,
    confirmed: bool,
    after: timedelta,
    expected: list[str],
) -> None:
    """Once where the carrier cannot know that we have it, else anew."""
    await peer.deliver("3")
    if confirmed:
        await channel.send(outgoing())
    peer.drop()
    await connected(peer, channel)
    clock.move_by(after)

    assert await peer.deliver("3") == OK

    assert inbox.texts == expected


async def test_a_delivery_of_the_last_run_comes_again(
    peer: SmppPeer, clock: SteppedClock, inbox: Inbox
) -> None:
    """Killed between the commit and the answer: the carrier sends it again, and it is one."""
    for _ in range(2):
        run = channel_to(peer.port, clock)
        async with listening(run, inbox):
            await peer.bound()
            assert await peer.deliver("3") == OK

    assert inbox.texts == ["3"]


async def test_a_delivery_on_a_dead_link_is_left_to_the_carrier(
    peer: SmppPeer, channel: SmppChannel, inbox: Inbox
) -> None:
    """What waited behind another when the line broke is not answered, so it comes again."""
    inbox.open.clear()
    peer.deliver("first")
    peer.deliver("second")
    await channel.send(outgoing())
    peer.drop()
    await peer.bound()
    inbox.open.set()

    await peer.deliver("first")
    await peer.deliver("second")

    assert inbox.texts == ["first", "second"]


async def test_a_repeated_delivery_does_not_hide_the_next_answer(
    peer: SmppPeer, channel: SmppChannel, inbox: Inbox
) -> None:
    """Delivered again after the link broke, then said again by the patient."""
    await peer.deliver("3")
    peer.drop()
    await connected(peer, channel)

    await peer.deliver("3")
    await peer.deliver("3")

    assert inbox.texts == ["3", "3"]


@pytest.mark.parametrize(
    ("address", "expected"),
    [
        pytest.param(Address("447700900123", 1, 1), "+447700900123", id="international"),
        pytest.param(Address("+447700900123"), "+447700900123", id="with plus"),
        pytest.param(Address("00447700900123"), "+447700900123", id="with 00"),
        pytest.param(Address("447400123456"), "+447400123456", id="not said, from abroad"),
        pytest.param(Address("07400123456"), "+447400123456", id="not said, at home"),
        pytest.param(Address("07400123456", 2), "+447400123456", id="national"),
        pytest.param(Address("60123", 3), "60123", id="a short code"),
        pytest.param(Address("Carrier", 5), "Carrier", id="a name"),
    ],
)
def test_numbers_are_written_one_way(address: Address, expected: str) -> None:
    """With plus and country code, so that a patient is found by them."""
    assert phone_number(address, "GB") == expected


# Receipts


@pytest.mark.parametrize(
    ("stat", "state"),
    [
        ("DELIVRD", ReceiptState.DELIVERED),
        ("ACCEPTD", ReceiptState.ON_ITS_WAY),
        ("ENROUTE", ReceiptState.ON_ITS_WAY),
        ("EXPIRED", ReceiptState.FAILED),
        ("DELETED", ReceiptState.FAILED),
        ("UNDELIV", ReceiptState.FAILED),
        ("REJECTD", ReceiptState.FAILED),
        ("UNKNOWN", ReceiptState.UNKNOWN),
        ("undeliverable", ReceiptState.FAILED),
        ("SKIPPED", ReceiptState.UNKNOWN),
    ],
)
async def test_each_state_has_its_meaning(
    peer: SmppPeer, channel: SmppChannel, inbox: Inbox, stat: str, state: ReceiptState
) -> None:
    """And what we wrote is not kept a second time."""
    assert await peer.receipt("m1", stat) == OK

    (told,) = inbox.receipts
    assert (told.reference, told.address, told.state) == ("m1", "+447700900123", state)
    assert "How is it" not in told.raw
    assert inbox.texts == []


@pytest.mark.parametrize(
    ("text", "fields", "reference", "state"),
    [
        pytest.param(
            b"whatever",
            {"esm_class": 4, "tlvs": [(0x1E, b"7F\0"), (0x0427, b"\5")]},
            "7F",
            ReceiptState.FAILED,
            id="in parameters alone",
        ),
        pytest.param(
            b"id:9 stat:DELIVRD",
            {"esm_class": 4, "tlvs": [(0x0427, b"\7")]},
            "9",
            ReceiptState.DELIVERED,
            id="a parameter that does not know, a text that does",
        ),
        pytest.param(
            b"447700900123,9,OK,2026",
            {"esm_class": 4},
            "",
            ReceiptState.UNKNOWN,
            id="another layout",
        ),
        pytest.param(b"", {"esm_class": 4}, "", ReceiptState.UNKNOWN, id="nothing at all"),
        pytest.param(
            b"id:9 sub:1 stat:UNDELIV err:1", {}, "9", ReceiptState.FAILED, id="not marked as one"
        ),
        pytest.param(
            b"id:9 stat:ENROUTE", {"esm_class": 0x20}, "9", ReceiptState.ON_ITS_WAY, id="on the way"
        ),
        pytest.param(
            "id:9 stat:DELIVRD".encode("utf-16-be"),
            {"esm_class": 4, "data_coding": 8},
            "9",
            ReceiptState.DELIVERED,
            id="in UCS-2",
        ),
    ],
)
async def test_other_layouts_are_read_or_kept_as_they_came(
    peer: SmppPeer,
    channel: SmppChannel,
    inbox: Inbox,
    text: bytes,
    fields: dict[str, Any],
    reference: str,
    state: ReceiptState,
) -> None:
    """Never guessed, never taken for a patient's words."""
    assert await peer.deliver(text, **fields) == OK

    (told,) = inbox.receipts
    assert (told.reference, told.state) == (reference, state)
    assert inbox.texts == []


async def test_a_receipt_with_the_numbers_as_they_were(
    peer: SmppPeer, channel: SmppChannel, inbox: Inbox
) -> None:
    """Sender and receiver not turned round: it is still the patient's message."""
    await peer.receipt("m1", source=NUMBER, destination="447700900123", source_addr_ton=3)

    assert inbox.receipts[0].address == "+447700900123"


async def test_a_receipt_that_is_not_kept_is_not_acknowledged(
    peer: SmppPeer, channel: SmppChannel, inbox: Inbox
) -> None:
    """It comes again."""
    inbox.failures_left = 1

    assert [await peer.receipt("m1"), await peer.receipt("m1")] == [TEMPORARY, OK]


# The configuration


def settings_with(tmp_path: Path, table: str) -> Settings:
    """The example configuration, with these lines at its end."""
    example = (Path(__file__).parents[2] / "deploy" / "clinic.example.toml").read_text("utf-8")
    path = tmp_path / "clinic.toml"
    path.write_text(f"{example}\n{table}", encoding="utf-8")
    return read_settings(path)


SMPP_TABLE = """
[smpp]
host = "127.0.0.1"
system_id = "clinic"
sender = "+447700900100"
"""


async def test_the_configuration_makes_the_channel(
    tmp_path: Path, clock: SteppedClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The password comes from the environment, and is in nothing that is printed."""
    monkeypatch.setenv("NEXTMORNING_SMPP_PASSWORD", "s3cr3t-8")
    settings = settings_with(tmp_path, SMPP_TABLE)

    made = smpp_channel(settings, clock)

    assert smpp_problems(settings) == []
    assert isinstance(made, SmppChannel)
    assert (made.name, made._account.password) == ("sms", "s3cr3t-8")
    assert "s3cr3t-8" not in repr(settings) + repr(made._account)


@pytest.mark.parametrize(
    ("table", "problem"),
    [
        pytest.param(SMPP_TABLE, "smpp.password: is missing", id="no password"),
        pytest.param(SMPP_TABLE + 'password = "ninechars"', "smpp.password: expected", id="long"),
        pytest.param(
            SMPP_TABLE + 'password = "x"\n[sms_gateway]\nnumber = "12345"',
            "smpp: expected one way",
            id="two ways",
        ),
    ],
)
def test_what_is_missing_is_said(tmp_path: Path, table: str, problem: str) -> None:
    """One sentence, with the key."""
    (said,) = smpp_problems(settings_with(tmp_path, table))

    assert said.startswith(problem)


def test_the_commented_example_is_valid(tmp_path: Path, clock: SteppedClock) -> None:
    """Whoever takes the # away has a table that is read."""
    example = (Path(__file__).parents[2] / "deploy" / "clinic.example.toml").read_text("utf-8")
    _, _, rest = example.partition("# [smpp]")
    lines = rest.partition("\n\n")[0].splitlines()[1:]
    table = "[smpp]\n" + "\n".join(line.removeprefix("# ") for line in lines)

    assert smpp_channel(settings_with(tmp_path, table), clock) is not None


# Another implementation


async def test_another_server_understands_and_is_understood(
    clock: SteppedClock, inbox: Inbox
) -> None:
    """smpp34's server in its own process: both alphabets, both directions, and its receipts."""
    process = await asyncio.create_subprocess_exec(
        sys.executable, str(Path(smpp_peer.__file__)), stdout=asyncio.subprocess.PIPE
    )
    try:
        assert process.stdout is not None
        port = int((await process.stdout.readline()).split()[0])
        channel = channel_to(port, clock)
        async with listening(channel, inbox):
            deliveries: list[Delivery] = []
            texts = ["Pain € {5}?", "\u2019😀", "a" * 161, "Done"]
            async with asyncio.timeout(10):
                for text in texts:
                    while isinstance(delivery := await channel.send(outgoing(text)), Later):
                        await asyncio.sleep(0.02)
                    deliveries.append(delivery)
            await inbox.until(lambda: len(inbox.receipts) == 5 and len(inbox.texts) == 4)
    finally:
        process.kill()
        await process.wait()

    references = [d.reference for d in deliveries if isinstance(d, Accepted)]
    assert references == ["1B", "1C", "1D 1E", "1F"]
    assert sorted(inbox.texts) == sorted(texts)
    assert [int(told.reference) for told in inbox.receipts] == [27, 28, 29, 30, 31]
    assert {told.state for told in inbox.receipts} == {ReceiptState.DELIVERED}
