"""SMS through an HTTP gateway: what becomes of a message when the gateway, the network or the store
fails. The real gateway, with a carrier behind it, is in `test_sms_carrier`."""

from __future__ import annotations

import logging
from datetime import UTC, datetime, timedelta
from typing import Any

import httpx
import pytest
from acts.inboxes import Inbox, listening
from stand_ins.http_server import Answers, serving
from stand_ins.kannel import PASSWORD, free_ports
from starlette.applications import Starlette
from starlette.responses import Response

from bot.channels.intake import Rate
from bot.channels.sms_gateway.channel import KEPT, PATH, SmsGatewayChannel
from bot.clock import SteppedClock
from bot.errors import SettingsError
from bot.ports import (
    Accepted,
    Delivery,
    Incoming,
    Later,
    Never,
    Outgoing,
    Receipt,
    ReceiptState,
    Unknown,
)

START = datetime(2026, 1, 5, 8, tzinfo=UTC)
PATIENT = "+12025550143"
SECRET = "a-secret-of-twenty-letters"


def channel_to(url: str, ours: str = "http://127.0.0.1:1", **options: Any) -> SmsGatewayChannel:
    """A channel to a gateway at an address."""
    usual: dict[str, Any] = {
        "username": "nextmorning",
        "password": PASSWORD,
        "number": "12345",
        "secret": SECRET,
        "clock": SteppedClock(START),
        "patience": timedelta(seconds=2),
    }
    return SmsGatewayChannel(url=url, ours=ours, **(usual | options))


def outgoing(text: str = "Pain 0-10?", address: str = PATIENT, **fields: Any) -> Outgoing:
    """A message to a patient."""
    return Outgoing(id=7, channel="sms", address=address, text=text, **fields)


# What becomes of a message


@pytest.mark.parametrize(
    ("answer", "delivery"),
    [
        pytest.param(Response("0: Accepted", 202), Accepted("7-1"), id="taken"),
        pytest.param(Response("", 503), Later("the gateway answered 503"), id="not now"),
        pytest.param(
            Response("", 403),
            Later("the gateway refuses our account", timedelta(seconds=10)),
            id="a wrong password closes nobody's number",
        ),
        pytest.param(
            Response("", 400),
            Later("the gateway answered 400", timedelta(seconds=10)),
            id="a mistake of ours closes nobody's number",
        ),
        pytest.param(
            "drop", Unknown("the gateway did not answer (ReadError)"), id="the line breaks"
        ),
        pytest.param(
            "hang", Unknown("the gateway did not answer (ReadTimeout)"), id="no answer comes"
        ),
    ],
)
async def test_an_answer_of_the_gateway(answer: Response | str, delivery: Delivery) -> None:
    """What the gateway says, as one of the four deliveries."""
    gateway = Answers(Response("", 202))
    gateway.next.append(answer)
    async with serving(gateway) as url:
        channel = channel_to(f"{url}/sendsms", patience=timedelta(seconds=0.3))

        given = await channel.send(outgoing())

        await channel.close()
    if isinstance(delivery, Unknown):
        assert isinstance(given, Unknown)
    else:
        assert given == delivery


async def test_nobody_at_home_is_later() -> None:
    """Nothing has left, so nothing can have arrived."""
    channel = channel_to(f"http://127.0.0.1:{free_ports(1)[0]}/sendsms")

    given = await channel.send(outgoing())

    assert given == Later("the gateway cannot be reached (ConnectError)")


@pytest.mark.parametrize("address", ["12345", "QuickPay", "12025550143", ""])
async def test_what_is_no_number_is_never_sent(address: str) -> None:
    """A short code or a name cannot be answered: the gateway is not even asked."""
    gateway = Answers(Response("", 202))
    async with serving(gateway) as url:
        given = await channel_to(f"{url}/sendsms").send(outgoing(address=address))

    assert given == Never("not a phone number")
    assert gateway.asked == []


@pytest.mark.parametrize(
    ("text", "coding"),
    [
        pytest.param("Pain 0-10?", "0", id="the cheap alphabet"),
        pytest.param("5 € [x]", "0", id="its escaped letters"),
        pytest.param("Dolor ✓", "2", id="the wide alphabet"),
    ],
)
async def test_a_text_goes_in_the_smallest_alphabet(text: str, coding: str) -> None:
    """The gateway is told which one, and where to bring the receipt."""
    gateway = Answers(Response("", 202))
    async with serving(gateway) as url:
        await channel_to(f"{url}/sendsms", "http://127.0.0.1:8421").send(outgoing(text, attempt=2))

    fields = gateway.asked[0].fields
    assert (fields["text"], fields["coding"], fields["to"]) == (text, coding, PATIENT)
    assert fields["dlr-url"] == (
        f"http://127.0.0.1:8421{PATH}/{SECRET}/receipt?reference=7-2&to=12025550143&state=%d"
    )


async def test_neither_password_nor_text_reaches_the_log(caplog: pytest.LogCaptureFixture) -> None:
    """The address of a request holds both, and the library would write it down."""
    caplog.set_level(logging.DEBUG)
    async with serving(Answers(Response("", 202))) as url:
        channel = channel_to(f"{url}/sendsms")
        await channel.send(outgoing("my calf is hot"))
        await channel.close()

    for private in (PASSWORD, "calf", PATIENT[1:], SECRET):
        assert private not in caplog.text


@pytest.mark.parametrize("secret", ["a" * 19, "per%cent%sign%in%the%secret"])
def test_a_secret_that_cannot_be_used_is_refused(secret: str) -> None:
    """It is part of an address that the gateway fills in: 20 letters that need no escape."""
    with pytest.raises(SettingsError, match=r"sms_gateway\.secret"):
        channel_to("http://127.0.0.1:1/", secret=secret)


# At the door


class Door:
    """Our door, knocked at without a gateway."""

    def __init__(self, channel: SmsGatewayChannel) -> None:
        self.channel, self.inbox = channel, Inbox()

    async def knock(self, what: str = "message", secret: str = SECRET, **fields: str) -> int:
        """Bring something; the status of the answer."""
        transport = httpx.ASGITransport(Starlette(routes=self.channel.routes))
        async with httpx.AsyncClient(transport=transport, base_url="http://us") as client:
            answer = await client.get(f"{PATH}/{secret}/{what}", params=fields)
        assert answer.text in ("", KEPT)  # anything else might be sent to the patient
        return answer.status_code


FIELDS = {"id": "a-1", "from": "12025550143", "to": "12345", "text": "3 10", "at": "1767600000"}


@pytest.fixture
def door() -> Door:
    """A door with a slow limit on each sender."""
    return Door(channel_to("http://127.0.0.1:1/", rate=Rate(3, 3600)))


async def test_a_message_is_committed_as_it_came(door: Door) -> None:
    """Sender, text, time, and the gateway's own id, which is the same when it comes again."""
    async with listening(door.channel, door.inbox):
        statuses = [await door.knock(**FIELDS) for _ in range(2)]

    assert statuses == [200, 200]
    assert door.inbox.messages == [Incoming("sms", "a-1", PATIENT, "3 10", sent_at=START)] * 2


async def test_a_commit_that_fails_is_not_acknowledged(
    door: Door, caplog: pytest.LogCaptureFixture
) -> None:
    """503, so that it comes again; what the patient wrote stays out of the log."""
    door.inbox.failures_left = 1
    async with listening(door.channel, door.inbox):
        first, second = [await door.knock(**FIELDS) for _ in range(2)]

    assert (first, second) == (503, 200)
    assert "not committed (OSError)" in caplog.text
    assert "3 10" not in caplog.text


async def test_nobody_listens_yet(door: Door) -> None:
    """Before the store is ready nothing is taken."""
    assert await door.knock(**FIELDS) == 503


@pytest.mark.parametrize("secret", ["wrong", SECRET + "a"])
@pytest.mark.parametrize("what", ["message", "receipt"])
async def test_a_wrong_secret_is_refused(door: Door, secret: str, what: str) -> None:
    """Nobody gets in without it, and nothing is kept."""
    async with listening(door.channel, door.inbox):
        assert await door.knock(what, secret, **FIELDS) == 403

    assert door.inbox.arrivals == []


@pytest.mark.parametrize("missing", ["id", "from", "text"])
async def test_a_gateway_that_leaves_something_out_is_told(door: Door, missing: str) -> None:
    """A wrong configuration shows with the first message."""
    async with listening(door.channel, door.inbox):
        assert await door.knock(**{k: v for k, v in FIELDS.items() if k != missing}) == 400


@pytest.mark.parametrize(
    ("count", "status"),
    [
        pytest.param(3, 200, id="at the limit"),
        pytest.param(4, 429, id="over the limit"),
    ],
)
async def test_a_sender_that_writes_too_fast_is_turned_away(
    door: Door, count: int, status: int
) -> None:
    """The last of so many messages; another sender is not held up."""
    async with listening(door.channel, door.inbox):
        statuses = [await door.knock(**(FIELDS | {"id": f"a-{n}"})) for n in range(count)]
        other = await door.knock(**(FIELDS | {"id": "b-1", "from": "12025550144"}))

    assert statuses[-1] == status
    assert other == 200


@pytest.mark.parametrize(
    ("sender", "senders", "address"),
    [
        pytest.param("12025550143", "international", PATIENT, id="without a plus"),
        pytest.param("2025550143", "national", PATIENT, id="as people there write it"),
        pytest.param("QuickPay", "national", "QuickPay", id="a name stays as it came"),
    ],
)
async def test_a_sender_is_known_by_one_form(sender: str, senders: Any, address: str) -> None:
    """However the gateway writes a number, the address in the store is the same."""
    door = Door(channel_to("http://127.0.0.1:1/", senders=senders, region="US"))
    async with listening(door.channel, door.inbox):
        await door.knock(**(FIELDS | {"from": sender}))

    assert [message.address for message in door.inbox.messages] == [address]


@pytest.mark.parametrize(
    ("raw", "charset", "text"),
    [
        pytest.param("%04%1F%04%40", "UTF-16BE", "Пр", id="wide letters"),
        pytest.param("3+10", "UTF-8", "3 10", id="plain"),
        pytest.param("%E9", "ISO-8859-1", "é", id="one byte a letter"),
        pytest.param("%E9", "UTF-8", "\ufffd", id="bytes that are no text are marked"),
        pytest.param("3+10", "nonsense", "3 10", id="an alphabet nobody knows"),
    ],
)
async def test_a_text_is_read_in_its_alphabet(
    door: Door, raw: str, charset: str, text: str
) -> None:
    """The bytes are read as the gateway says they are written; none is dropped."""
    transport = httpx.ASGITransport(Starlette(routes=door.channel.routes))
    async with listening(door.channel, door.inbox), httpx.AsyncClient(transport=transport) as http:
        query = f"id=1&from=12025550143&text={raw}&charset={charset}"
        answer = await http.get(f"http://us{PATH}/{SECRET}/message?{query}")

    assert answer.status_code == 200
    assert [message.text for message in door.inbox.messages] == [text]


@pytest.mark.parametrize(
    ("number", "state"),
    [
        pytest.param("1", ReceiptState.DELIVERED, id="delivered"),
        pytest.param("2", ReceiptState.FAILED, id="failed"),
        pytest.param("4", ReceiptState.ON_ITS_WAY, id="waits with the carrier"),
        pytest.param("16", ReceiptState.FAILED, id="refused by the carrier"),
        pytest.param("99", ReceiptState.UNKNOWN, id="a number nobody knows"),
    ],
)
async def test_a_receipt_says_what_became_of_a_message(
    door: Door, number: str, state: ReceiptState
) -> None:
    """The reference is the one with which the message was accepted."""
    async with listening(door.channel, door.inbox):
        status = await door.knock("receipt", reference="7-1", to="12025550143", state=number)

    assert status == 200
    assert door.inbox.receipts == [Receipt("sms", "7-1", PATIENT, state, f"state {number}")]
