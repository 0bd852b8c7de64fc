"""Text messages through the real gateway over real SMPP 3.4, with the configuration that ships:
what the carrier gets and brings, and what becomes of it when carrier, gateway or bot fail.

The carrier reads and writes units with smpp34, and letters with smsutil: neither is the gateway's.
"""

from __future__ import annotations

import asyncio
from collections import Counter
from collections.abc import AsyncIterator, Callable
from contextlib import AbstractAsyncContextManager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from acts.inboxes import Inbox, listening
from acts.test_sms_gateway import SECRET, channel_to
from stand_ins.http_server import serving
from stand_ins.kannel import Kannel, free_ports, is_installed, until
from stand_ins.smpp_peer import NUMBER, PATIENT, SmppPeer, text_of
from starlette.applications import Starlette
from world import MONDAY

from bot.app import App
from bot.channels.sms_gateway.channel import SmsGatewayChannel
from bot.clock import SteppedClock
from bot.ports import Accepted, Outgoing, Receipt, ReceiptState
from bot.rehearsal.clinic import made_up_clinic
from bot.store import outbox, people
from bot.store.database import Store, Writer
from bot.store.migrations import migrate
from bot.store.outbox import Draft, Urgency
from bot.store.people import Role
from dialogs.rendering import segments

THROTTLED = 0x58
"""Source: SMPP v3.4, section 5.1.3, ESME_RTHROTTLED."""

LONG = "€" + "x" * 152 + "{" + "y" * 200
WIDE = "боль 😀 " * 20


@dataclass
class Line:
    """The carrier, the gateway, our channel and our door, which can be shut."""

    carrier: SmppPeer
    gateway: Kannel
    channel: SmsGatewayChannel
    port: int
    inbox: Inbox = field(default_factory=Inbox)

    def open(self) -> AbstractAsyncContextManager[Any]:
        """Our door, open as long as the context lasts."""
        return serving(Starlette(routes=self.channel.routes), self.port)

    async def send(self, *numbers: int, text: str = "Pain 0-10?", **fields: Any) -> None:
        """Give the gateway a message for each of these patients."""
        for number in numbers:
            outgoing = Outgoing(number, "sms", f"+44770090010{number}", text, **fields)
            assert await self.channel.send(outgoing) == Accepted(f"{number}-1")

    async def restart(self) -> None:
        """Kill the gateway without a word, and start it again."""
        self.gateway.kill()
        await asyncio.to_thread(self.gateway.start)


@pytest.fixture
async def lay(tmp_path: Path) -> AsyncIterator[Callable[..., Any]]:
    """Makes a line on the shipped configuration, with these keys of the carrier's part changed."""
    if not is_installed():
        pytest.fail("the Debian package kannel is missing")
    made: list[Line] = []

    async def lay(**keys: object) -> Line:
        carrier, port = SmppPeer(), free_ports(1)[0]
        await carrier.start()
        ours = f"http://127.0.0.1:{port}"
        changed = {key.replace("_", "-"): value for key, value in keys.items()}
        gateway = Kannel(tmp_path, ours, SECRET, carrier.port, changed)
        made.append(Line(carrier, gateway, channel_to(gateway.url, ours), port))
        await asyncio.to_thread(gateway.start)
        await carrier.bound()
        return made[0]

    yield lay
    for line in made:
        line.gateway.kill()
        await line.channel.close()
        await line.carrier.stop()


def part(number: int, total: int, wide: bool = False) -> bytes:
    """The header of a part of a long message. Source: 3GPP TS 23.040, section 9.2.3.24."""
    return bytes([6, 8, 4, 3, 9, total, number] if wide else [5, 0, 3, 9, total, number])


# What the carrier gets and brings


async def test_a_text_reaches_the_telephone_whole(lay: Any) -> None:
    """In as many parts as were counted, to a number marked international, with a limited life:
    GSM-7, UCS-2, and long ones of both.
    """
    line = await lay()
    for text in ("How is it? €{|}~ñ", "Dolor ✓ 😀", LONG, WIDE):
        before, count = len(line.carrier.submitted), segments(text).count

        await line.send(1, text=text)
        await line.carrier.until(lambda all_=before + count: len(line.carrier.submitted) == all_)

        parts = line.carrier.submitted[before:]
        assert text_of(parts) == text
        assert {(unit.source_addr, unit.destination_addr) for unit in parts} == {
            (NUMBER, "447700900101")
        }
        assert {unit.dest_addr_ton for unit in parts} == {1}
        assert all(unit.validity_period for unit in parts)


HALVES = (WIDE.encode("utf-16-be")[:100], WIDE.encode("utf-16-be")[100:])
BROUGHT: dict[str, list[tuple[bytes, dict[str, Any]]]] = {
    "3 10 €": [(b"3 10 \x1be", {})],
    "боль 3 😀": [("боль 3 😀".encode("utf-16-be"), {"data_coding": 8})],
    "hello world": [  # out of order
        (part(2, 2) + b"world", {"esm_class": 0x40}),
        (part(1, 2) + b"hello ", {"esm_class": 0x40}),
    ],
    WIDE: [  # with a wide reference
        (part(n, 2, wide=True) + half, {"esm_class": 0x40, "data_coding": 8})
        for n, half in enumerate(HALVES, start=1)
    ],
    "one two": [  # by parameters
        (piece, {"tlvs": [(0x20C, b"\0\7"), (0x20E, b"\2"), (0x20F, bytes([n]))]})
        for n, piece in enumerate((b"one ", b"two"), start=1)
    ],
    "x" * 300: [(b"", {"tlvs": [(0x424, b"x" * 300)]})],  # long, in one piece
}


async def test_a_text_reaches_us_whole(lay: Any) -> None:
    """Once, under the sender's number as we write it."""
    line = await lay()
    async with line.open(), listening(line.channel, line.inbox):
        for count, units in enumerate(BROUGHT.values(), start=1):
            for octets, fields in units:
                assert await line.carrier.deliver(octets, **fields) == 0
            await line.inbox.until(lambda n=count: len(line.inbox.messages) == n)

    assert [(m.address, m.text) for m in line.inbox.messages] == [
        (f"+{PATIENT}", text) for text in BROUGHT
    ]


@pytest.mark.parametrize(
    ("keys", "accepted", "told"),
    [
        pytest.param({}, "m-{0}", "m-{0}", id="letter for letter"),
        pytest.param({"msg_id_type": 1}, "{0:X}", "{0:010d}", id="hexadecimal, then decimal"),
        pytest.param({"msg_id_type": 2}, "{0}", "{0:x}", id="decimal, then hexadecimal"),
    ],
)
async def test_a_receipt_finds_its_message(lay: Any, keys: Any, accepted: str, told: str) -> None:
    """However the carrier writes its ids (the layout is that of SMPP v3.4, appendix B)."""
    line = await lay(**keys)
    line.carrier.names = lambda number: accepted.format(number + 160)
    async with line.open(), listening(line.channel, line.inbox):
        for number, stat in ((1, "DELIVRD"), (2, "UNDELIV")):
            await line.send(number)
            await line.carrier.until(lambda n=number: line.carrier.accepted == n)
            source = f"44770090010{number}"
            await line.carrier.receipt(told.format(160 + number), stat, source=source)
        await line.inbox.until(lambda: len(line.inbox.receipts) == 2)

    assert {(r.reference, r.address, r.state) for r in line.inbox.receipts} == {
        ("1-1", "+447700900101", ReceiptState.DELIVERED),
        ("2-1", "+447700900102", ReceiptState.FAILED),
    }


async def test_a_message_that_did_not_arrive_goes_to_the_next_channel(
    lay: Any, tmp_path: Path
) -> None:
    """The whole way: sent, accepted in hexadecimal, failed in decimal, sent otherwise."""
    line = await lay(msg_id_type=1)
    line.carrier.names = lambda number: f"{number + 160:X}"
    writer = Writer(tmp_path / "whole.sqlite", migrate)
    writer.start()

    def begin(store: Store) -> None:
        person = people.add(store, Role.PATIENT, "Ana", MONDAY)
        for name in ("sms", "chat"):
            people.add_contact(store, person.id, name, "+447700900101", MONDAY)
        outbox.write(store, Draft(person.id, "How is it?", Urgency.PROMPT), MONDAY)

    await writer.run(begin)
    app = App(writer, made_up_clinic(), SteppedClock(MONDAY), [line.channel])
    task = asyncio.create_task(app.listen(line.channel))
    try:
        async with line.open():
            await app.send_waiting("sms")
            await line.carrier.until(lambda: line.carrier.accepted)
            await line.carrier.receipt("161", "UNDELIV", source="447700900101")
            for _ in range(600):
                rows = await writer.run(lambda s: s.rows("SELECT channel, accepted_at FROM outbox"))
                if rows[0]["channel"] == "chat":
                    break
                await asyncio.sleep(0.05)
    finally:
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)
        await app.close()
    assert rows == [{"channel": "chat", "accepted_at": None}]


# What becomes of it when something fails


async def test_a_throttled_carrier_gets_it_later(lay: Any) -> None:
    """What it refused comes again; nothing is lost, and nothing comes twice."""
    line = await lay()
    line.carrier.statuses.append(THROTTLED)

    await line.send(1, 2, 3)
    await line.carrier.until(lambda: line.carrier.accepted == 3)

    taken = line.carrier.submitted[1:]
    assert sorted(unit.destination_addr[-1] for unit in taken) == ["1", "2", "3"]


async def test_a_window_that_broke_is_sent_again(lay: Any) -> None:
    """Three were with the carrier when the line broke: none is lost, each comes at most twice."""
    line = await lay()
    line.carrier.withheld = True
    await line.send(1, 2, 3)
    await line.carrier.until(lambda: len(line.carrier.submitted) == 3)

    line.carrier.drop()
    await line.carrier.release()
    await line.carrier.until(lambda: line.carrier.accepted == 3)

    assert times(line.carrier) == {"1": 2, "2": 2, "3": 2}


async def test_what_is_urgent_overtakes_what_waits(lay: Any) -> None:
    """The carrier is busy with a first message: the next that it gets is the escalation."""
    line = await lay(max_pending_submits=1)
    line.carrier.withheld = True
    await line.send(1, 2, 3, 4)
    await line.send(5, urgent=True)

    await line.carrier.release()
    await line.carrier.until(lambda: line.carrier.accepted == 5)

    order = [unit.destination_addr[-1] for unit in line.carrier.submitted]
    assert order[:2] == ["1", "5"]


async def test_a_killed_gateway_loses_nothing_that_goes_out(lay: Any) -> None:
    """Killed while messages wait, again while the carrier has them, again before the receipts."""
    line = await lay(msg_id_type=1)
    line.carrier.names = lambda number: f"{number + 160:X}"
    await line.carrier.stop()
    await line.send(1, 2, 3)

    await line.restart()
    line.carrier.withheld = True
    await line.carrier.start()
    await line.carrier.until(lambda: len(line.carrier.submitted) == 3)
    line.gateway.kill()
    await line.carrier.until(lambda: not line.carrier.peers)
    await line.carrier.release()
    await asyncio.to_thread(line.gateway.start)
    await line.carrier.until(lambda: line.carrier.accepted == 3)
    waiting = line.gateway.folder / "store"
    await asyncio.to_thread(until, lambda: not spooled(waiting), "the responses are kept")
    await line.restart()
    await line.carrier.bound()
    async with line.open(), listening(line.channel, line.inbox):
        for number, unit in enumerate(line.carrier.submitted[-3:], start=161):
            await line.carrier.receipt(str(number), source=unit.destination_addr)
        await line.inbox.until(lambda: len(line.inbox.receipts) == 3)

    assert times(line.carrier) == {"1": 2, "2": 2, "3": 2}
    assert set(line.inbox.receipts) == {
        Receipt("sms", f"{n}-1", f"+44770090010{n}", ReceiptState.DELIVERED, "state 1")
        for n in (1, 2, 3)
    }


async def test_a_killed_gateway_loses_nothing_that_comes_in(lay: Any) -> None:
    """The bot is down, the carrier has been told that the messages were taken, and the gateway is
    killed: each comes once the bot is back, none goes to the carrier, and no log holds any."""
    line = await lay()
    for number in (1, 2, 3):
        assert await line.carrier.deliver(f"{number} 10", source=f"44770090010{number}") == 0
    assert await line.carrier.deliver(part(2, 2) + b"snapped", esm_class=0x40) == 0
    refused = f"Couldn't fetch <http://127.0.0.1:{line.port}"
    await asyncio.to_thread(until, lambda: refused in line.gateway.said(), "it was refused")

    await line.restart()
    await line.carrier.bound()
    async with line.open(), listening(line.channel, line.inbox):
        await line.inbox.until(lambda: len(line.inbox.messages) >= 4)

    assert Counter((m.address[-1], m.text) for m in line.inbox.messages) == Counter(
        [("1", "1 10"), ("2", "2 10"), ("3", "3 10"), ("3", "snapped")]
    )
    assert line.carrier.submitted == []
    logs = {path.name: path.read_text() for path in line.gateway.folder.glob("*.log")}
    assert logs == {"bearerbox.log": "", "smsbox.log": ""}


async def test_an_answer_of_ours_that_is_no_yes_brings_it_again(lay: Any) -> None:
    """The store cannot write at first: the message comes until it is kept, under the same id."""
    line = await lay()
    line.inbox.failures_left = 2
    async with line.open(), listening(line.channel, line.inbox):
        assert await line.carrier.deliver("3 10") == 0
        await line.inbox.until(lambda: line.inbox.messages)

    assert [m.text for m in line.inbox.messages] == ["3 10"]
    assert line.inbox.tries == 3


async def test_a_receipt_that_comes_while_we_are_down_is_brought_later(lay: Any) -> None:
    """It is refused at first, and there once we are."""
    line = await lay()
    await line.send(1)
    await line.carrier.until(lambda: line.carrier.accepted)
    await line.carrier.receipt("m1", "UNDELIV", source="447700900101")
    refused = f"Couldn't fetch <http://127.0.0.1:{line.port}"
    await asyncio.to_thread(until, lambda: refused in line.gateway.said(), "it was refused")

    async with line.open(), listening(line.channel, line.inbox):
        await line.inbox.until(lambda: line.inbox.receipts)

    assert [receipt.state for receipt in line.inbox.receipts] == [ReceiptState.FAILED]


async def test_a_part_that_never_comes_keeps_nothing_back(lay: Any) -> None:
    """The rest comes by itself: it may hold a warning sign."""
    line = await lay()
    async with line.open(), listening(line.channel, line.inbox):
        assert await line.carrier.deliver(part(2, 2) + b"snapped", esm_class=0x40) == 0
        await line.inbox.until(lambda: line.inbox.messages)

    assert [m.text for m in line.inbox.messages] == ["snapped"]


def times(carrier: SmppPeer) -> dict[str, int]:
    """How often each patient's message was given to the carrier, by the last digit."""
    return dict(Counter(unit.destination_addr[-1] for unit in carrier.submitted))


def spooled(folder: Path) -> list[Path]:
    """What the gateway still has to do."""
    return [path for path in folder.rglob("*") if path.is_file()]
