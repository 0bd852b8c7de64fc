"""SMS through a hosted gateway: the SDK's own client against a stand-in on the loopback address,
and our doors against the SDK's own signatures."""

from __future__ import annotations

import json
import logging
import sys
from datetime import UTC, datetime, timedelta
from typing import Any

import httpx
import pytest
from acts.inboxes import Inbox, listening
from stand_ins.http_server import Answers, serving
from stand_ins.kannel import free_ports
from starlette.applications import Starlette
from starlette.responses import Response
from twilio.http.async_http_client import AsyncTwilioHttpClient
from twilio.request_validator import RequestValidator

from bot.channels.hosted_sms.channel import MESSAGE_PATH, RECEIPT_PATH, HostedSmsChannel
from bot.channels.intake import Rate
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
TOKEN = "token-of-no-account"
PUBLIC = "https://bot.example.org"
SOON = timedelta(seconds=10)


def message(sid: str = "SM1", body: str = "Pain 0-10?", at: datetime = START) -> dict[str, Any]:
    """A message as the gateway describes it."""
    return {"sid": sid, "body": body, "date_created": f"{at:%a, %d %b %Y %H:%M:%S} +0000"}


def taken(sid: str = "SM1") -> Response:
    """The service has a message."""
    return Response(json.dumps(message(sid)), 201, media_type="application/json")


def refused(status: int, code: int) -> Response:
    """The service refuses one."""
    body = {"status": status, "code": code, "message": f"{PATIENT} cannot be reached"}
    return Response(json.dumps(body), status, media_type="application/json")


def client_to(url: str) -> Any:
    """Makes the SDK's client, which asks here whatever host it is told."""

    class Rewritten(AsyncTwilioHttpClient):  # type: ignore[misc]
        async def request(self, method: str, url_: str, *args: Any, **kwargs: Any) -> Any:
            path = url_.removeprefix("https://api.twilio.com")
            return await super().request(method, url + path, *args, **kwargs)

    return Rewritten


def channel_to(url: str = "http://127.0.0.1:1", **options: Any) -> HostedSmsChannel:
    """A channel to a service at an address."""
    usual: dict[str, Any] = {
        "account": "AC1",
        "token": TOKEN,
        "number": "+12025550100",
        "public_url": PUBLIC,
        "clock": SteppedClock(START),
        "patience": timedelta(seconds=2),
        "http_client": client_to(url),
    }
    return HostedSmsChannel(**(usual | options))


def outgoing(text: str = "Pain 0-10?", address: str = PATIENT, **fields: Any) -> Outgoing:
    """A message to a patient."""
    return Outgoing(id=7, channel="sms", address=address, text=text, **fields)


# Out


async def test_a_message_goes_out_with_all_that_it_needs() -> None:
    """To whom, from where, what, and where its receipt is to be brought."""
    gateway = Answers(taken())
    async with serving(gateway) as url:
        channel = channel_to(url)
        delivery = await channel.send(outgoing())
        await channel.close()

    assert delivery == Accepted("SM1")
    assert gateway.asked[0].path == "/2010-04-01/Accounts/AC1/Messages.json"
    assert gateway.asked[0].fields == {
        "To": PATIENT,
        "From": "+12025550100",
        "Body": "Pain 0-10?",
        "StatusCallback": f"{PUBLIC}{RECEIPT_PATH}",
    }


@pytest.mark.parametrize(
    ("answer", "delivery"),
    [
        pytest.param(taken("SM2"), Accepted("SM2"), id="taken"),
        pytest.param(
            refused(400, 21610), Never("the gateway answered 400, code 21610"), id="unsubscribed"
        ),
        pytest.param(
            refused(400, 21211), Never("the gateway answered 400, code 21211"), id="no such number"
        ),
        pytest.param(
            refused(400, 21606),
            Later("the gateway answered 400, code 21606", SOON),
            id="a number of ours that may not send closes nobody's",
        ),
        pytest.param(
            refused(401, 20003),
            Later("the gateway answered 401, code 20003", SOON),
            id="a wrong token closes nobody's number",
        ),
        pytest.param(
            refused(429, 20429), Later("the gateway answered 429, code 20429", SOON), id="too fast"
        ),
        pytest.param(
            refused(500, 20500), Unknown("the gateway answered 500, code 20500"), id="it stumbles"
        ),
    ],
)
async def test_an_answer_of_the_gateway(answer: Response, delivery: Delivery) -> None:
    """What the gateway says, as one of the four deliveries; its words, with the number in them,
    are not kept."""
    gateway = Answers(answer)
    async with serving(gateway) as url:
        channel = channel_to(url)
        given = await channel.send(outgoing())
        await channel.close()

    assert given == delivery


@pytest.mark.parametrize("trouble", ["drop", "hang"])
async def test_a_message_of_unknown_fate_is_looked_for_before_it_is_sent_again(
    trouble: str,
) -> None:
    """The line broke after the message was handed over: it is found, and not sent twice."""
    gateway = Answers(Response(json.dumps({"messages": [message("SM9")]}), 200))
    gateway.next.append(trouble)
    async with serving(gateway) as url:
        channel = channel_to(url, patience=timedelta(seconds=0.5))
        first = await channel.send(outgoing())
        second = await channel.send(outgoing(attempt=2))
        await channel.close()

    assert isinstance(first, Unknown)
    assert second == Accepted("SM9")
    assert [asked.fields.get("Body") for asked in gateway.asked] == ["Pain 0-10?", None]


@pytest.mark.parametrize(
    "other",
    [
        pytest.param(message(body="another"), id="another text"),
        pytest.param(message(at=START - timedelta(seconds=31)), id="the same text, from before"),
    ],
)
async def test_a_message_that_is_not_found_is_sent_again(other: dict[str, Any]) -> None:
    """Another text to the same number, or the same of an earlier day, is not that message."""
    gateway = Answers(taken("SM5"))
    gateway.next += ["drop", Response(json.dumps({"messages": [other]}), 200)]
    async with serving(gateway) as url:
        channel = channel_to(url)
        first, second = [await channel.send(outgoing()) for _ in range(2)]
        await channel.close()

    assert isinstance(first, Unknown)
    assert second == Accepted("SM5")


async def test_nobody_at_home_is_later() -> None:
    """Nothing has left, so nothing can have arrived."""
    channel = channel_to(f"http://127.0.0.1:{free_ports(1)[0]}")

    given = await channel.send(outgoing())
    await channel.close()

    assert isinstance(given, Later)


async def test_what_is_no_number_is_never_sent() -> None:
    """A short code cannot be answered."""
    assert await channel_to().send(outgoing(address="12345")) == Never("not a phone number")


async def test_nothing_private_reaches_the_log(caplog: pytest.LogCaptureFixture) -> None:
    """Neither token, number nor text, whatever the level and however the gateway answers."""
    caplog.set_level(logging.DEBUG)
    gateway = Answers(refused(401, 20003))
    async with serving(gateway) as url:
        channel = channel_to(url)
        await channel.send(outgoing("my calf is hot"))
        await channel.close()

    assert "check the account or token in hosted_sms" in caplog.text
    for private in (TOKEN, "calf", PATIENT[1:]):
        assert private not in caplog.text


def test_without_the_sdk_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    """The optional part is missing: a sentence, no traceback."""
    monkeypatch.setitem(sys.modules, "twilio.rest", None)

    with pytest.raises(SettingsError, match=r"pip install -e .*hosted-sms"):
        channel_to()


# At the door


MESSAGE = {"MessageSid": "SM7", "From": PATIENT, "To": "+12025550100", "Body": "3 10"}


class Door:
    """Our door, knocked at as the gateway does through a proxy: by another address than its own."""

    def __init__(self) -> None:
        self.channel, self.inbox = channel_to(rate=Rate(3, 3600)), Inbox()

    async def knock(
        self, door: str, fields: dict[str, str], *, token: str = TOKEN, url: str = PUBLIC
    ) -> int:
        """Bring something, signed; the status of the answer."""
        signature = RequestValidator(token).compute_signature(f"{url}{door}", fields)
        return await self.bring(door, fields, {"X-Twilio-Signature": signature})

    async def bring(self, door: str, fields: dict[str, str], headers: dict[str, str]) -> int:
        """Bring something with any headers."""
        transport = httpx.ASGITransport(Starlette(routes=self.channel.routes))
        async with httpx.AsyncClient(transport=transport, base_url="http://10.0.0.5:8421") as http:
            answer = await http.post(door, data=fields, headers=headers)
        assert answer.content == b""  # anything else would be sent to the patient
        return answer.status_code


@pytest.fixture
def door() -> Door:
    """A door with a slow limit on each sender."""
    return Door()


async def test_a_signed_message_is_committed(door: Door) -> None:
    """Brought twice it has one id, so the store keeps one."""
    async with listening(door.channel, door.inbox):
        statuses = [await door.knock(MESSAGE_PATH, MESSAGE) for _ in range(2)]

    assert statuses == [200, 200]
    assert door.inbox.messages == [Incoming("sms", "SM7", PATIENT, "3 10")] * 2


async def test_what_is_not_signed_by_the_gateway_is_refused(door: Door) -> None:
    """No signature, one by another token, one for another address, one for another text."""
    validator = RequestValidator(TOKEN)
    signature = validator.compute_signature(f"{PUBLIC}{MESSAGE_PATH}", MESSAGE)
    changed = MESSAGE | {"Body": "0 0"}
    async with listening(door.channel, door.inbox):
        statuses = [
            await door.bring(MESSAGE_PATH, MESSAGE, {}),
            await door.knock(MESSAGE_PATH, MESSAGE, token="another"),
            await door.knock(MESSAGE_PATH, MESSAGE, url="http://10.0.0.5:8421"),
            await door.bring(MESSAGE_PATH, changed, {"X-Twilio-Signature": signature}),
            await door.bring(RECEIPT_PATH, MESSAGE, {"X-Twilio-Signature": signature}),
            await door.bring(MESSAGE_PATH, MESSAGE, {"X-Twilio-Signature": "x" * 1000}),
        ]

    assert statuses == [403] * 6
    assert door.inbox.arrivals == []


async def test_a_commit_that_fails_is_not_acknowledged(door: Door) -> None:
    """503, so that the gateway brings it again."""
    door.inbox.failures_left = 1
    async with listening(door.channel, door.inbox):
        first, second = [await door.knock(MESSAGE_PATH, MESSAGE) for _ in range(2)]

    assert (first, second) == (503, 200)


async def test_a_sender_that_writes_too_fast_is_turned_away(door: Door) -> None:
    """Three are within the limit of this test, the fourth is over it."""
    async with listening(door.channel, door.inbox):
        statuses = [await door.knock(MESSAGE_PATH, MESSAGE) for _ in range(4)]

    assert statuses == [200, 200, 200, 429]


@pytest.mark.parametrize(
    ("fields", "text"),
    [
        pytest.param({"Body": "", "NumMedia": "1"}, "[picture or file]", id="a picture"),
        pytest.param({"Body": ""}, "[no text]", id="nothing"),
    ],
)
async def test_what_came_is_seen(door: Door, fields: dict[str, str], text: str) -> None:
    """The text, or what stands for a message without one."""
    async with listening(door.channel, door.inbox):
        assert await door.knock(MESSAGE_PATH, MESSAGE | fields) == 200

    assert [message.text for message in door.inbox.messages] == [text]


@pytest.mark.parametrize(
    ("word", "state"),
    [
        pytest.param("delivered", ReceiptState.DELIVERED, id="delivered"),
        pytest.param("undelivered", ReceiptState.FAILED, id="not delivered"),
        pytest.param("failed", ReceiptState.FAILED, id="failed"),
        pytest.param("puzzled", ReceiptState.UNKNOWN, id="a word nobody knows"),
    ],
)
async def test_a_receipt_says_what_became_of_a_message(
    door: Door, word: str, state: ReceiptState
) -> None:
    """The reference is the one with which the message was accepted."""
    fields = {"MessageSid": "SM1", "MessageStatus": word, "To": PATIENT, "ErrorCode": "30005"}
    async with listening(door.channel, door.inbox):
        assert await door.knock(RECEIPT_PATH, fields) == 200

    assert door.inbox.receipts == [Receipt("sms", "SM1", PATIENT, state, f"{word} 30005")]
