"""SMS through an HTTP gateway of the open-source kind: a query goes out for each message, and the
gateway calls our webhooks with each message and each receipt that it has.

Does: give text to the gateway in the smallest alphabet that holds it; turn what it answers into a
`Delivery`; check the secret of each call; acknowledge only what is on disk.
Never: decides who a sender is, reads what a message says, lets a secret, a number or a text into
a log. The gateway's own configuration stands in `deploy/gateway`. Read next: `bot.channels.intake`.
"""

from __future__ import annotations

import logging
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from typing import Literal
from urllib.parse import parse_qsl

import httpx
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Route

from bot.channels.intake import Intake, Rate, same_secret
from bot.channels.sms_gateway.settings import SECRET, SECRET_EXPECTED
from bot.errors import SettingsError
from bot.phone_numbers import international_number, is_e164, number_in
from bot.ports import (
    Accepted,
    Clock,
    Commit,
    Delivery,
    Incoming,
    Later,
    Never,
    Outgoing,
    Receipt,
    ReceiptState,
    Unknown,
)
from dialogs.rendering import segments

PATH = "/sms/gateway"
"""Where the gateway finds us, under our address. The secret follows, then what it brings."""

RECEIPTS_WANTED = 1 + 2 + 16
"""Delivered, failed, and refused by the carrier. Source: Kannel 1.4 user guide, delivery reports
(from memory; seen with 1.4.5)."""

STATES = {
    "1": ReceiptState.DELIVERED,
    "2": ReceiptState.FAILED,
    "4": ReceiptState.ON_ITS_WAY,
    "8": ReceiptState.ON_ITS_WAY,
    "16": ReceiptState.FAILED,
}
"""What the gateway's numbers mean. Source: as above."""

SHORT_PAUSE = timedelta(seconds=10)
"""Where the gateway says "not now" without a time. Convention."""

KEPT = "kept"
"""The body of the answer for a message that is on disk: the gateway looks at that alone."""

NOT_SENT = (httpx.ConnectError, httpx.ConnectTimeout, httpx.PoolTimeout)
"""Failures from before the first byte of a request: nothing can have arrived."""

_log = logging.getLogger(__name__)


class SmsGatewayChannel:
    """A `Channel` to phones by SMS. Addresses are numbers in E.164.

    `url`: the gateway's address for sending. `username`, `password`: our account there.
    `number`: what our messages come from. `ours`: where the gateway reaches us, up to the path.
    `secret`: what it must know to be let in. `senders`: how it writes the numbers of senders,
    with their country code or as people of `region` write them. `patience`: how long it may take
    to answer. Raises `SettingsError` for a secret that cannot be used.
    """

    def __init__(
        self,
        *,
        url: str,
        username: str,
        password: str,
        number: str,
        ours: str,
        secret: str,
        clock: Clock,
        senders: Literal["international", "national"] = "international",
        region: str = "",
        name: str = "sms",
        patience: timedelta = timedelta(seconds=10),
        rate: Rate | None = None,
    ) -> None:
        if not SECRET.fullmatch(secret):
            raise SettingsError((f"sms_gateway.secret: expected {SECRET_EXPECTED}",))
        self.name, self._clock, self._url, self._number = name, clock, url, number
        self._account = {"username": username, "password": password}
        self._ours, self._secret = ours.rstrip("/"), secret
        self._region = region if senders == "national" else ""
        self._intake = Intake(name, rate)
        self._client = httpx.AsyncClient(timeout=patience.total_seconds())
        self._refused = self._closed = False
        # The library logs addresses, and ours hold the password and what is said.
        self._quiet = _Quiet(url)
        logging.getLogger("httpx").addFilter(self._quiet)
        self.routes = [
            Route(f"{PATH}/{{secret}}/message", self._message, methods=["GET", "POST"]),
            Route(f"{PATH}/{{secret}}/receipt", self._receipt, methods=["GET", "POST"]),
        ]

    async def listen(self, commit: Commit, cursor: str | None) -> None:  # noqa: ARG002 - none
        """Let the gateway in until cancelled. It keeps what it cannot bring meanwhile."""
        await self._intake.listen(commit)

    async def close(self) -> None:
        """Give back the connections. A later `send` says `Later`."""
        self._closed = True
        await self._client.aclose()
        logging.getLogger("httpx").removeFilter(self._quiet)

    # Out

    async def send(self, outgoing: Outgoing) -> Delivery:
        """Give one message to the gateway. Never raises."""
        if self._closed:
            return Later("the channel is closed")
        if not is_e164(outgoing.address):
            return Never("not a phone number")
        try:
            answer = await self._client.get(self._url, params=self._query(outgoing))
        except NOT_SENT as error:
            return Later(f"the gateway cannot be reached ({type(error).__name__})")
        except Exception as error:  # the port promises that nothing is raised; it may have left
            return Unknown(f"the gateway did not answer ({type(error).__name__})")
        return self._delivery(answer, outgoing)

    def _query(self, outgoing: Outgoing) -> Mapping[str, str]:
        # The gateway fills in what stands after "%", so nothing of ours may need one.
        receipts = f"{self._ours}{PATH}/{self._secret}/receipt"
        sent = f"reference={_reference(outgoing)}&to={outgoing.address.removeprefix('+')}"
        return {
            **self._account,
            "from": self._number,
            "to": outgoing.address,
            "text": outgoing.text,
            "charset": "UTF-8",
            "coding": "0" if segments(outgoing.text).encoding == "GSM-7" else "2",
            # Of what waits in the gateway, the urgent leaves first.
            "priority": "1" if outgoing.urgent else "0",
            "dlr-mask": str(RECEIPTS_WANTED),
            "dlr-url": f"{receipts}?{sent}&state=%d",
        }

    def _delivery(self, answer: httpx.Response, outgoing: Outgoing) -> Delivery:
        """What an answer means. Nothing the gateway itself says is for ever: what it cannot take
        may be a mistake in our configuration, and must not close a patient's number."""
        if answer.status_code in (200, 202):
            self._refused = False
            return Accepted(_reference(outgoing))
        if answer.status_code in (401, 403):
            if not self._refused:
                _log.error("%s: the gateway refuses our account; check sms_gateway", self.name)
            self._refused = True
            return Later("the gateway refuses our account", SHORT_PAUSE)
        if answer.status_code >= 500:
            return Later(f"the gateway answered {answer.status_code}")
        _log.error("%s: the gateway answered %s", self.name, answer.status_code)
        return Later(f"the gateway answered {answer.status_code}", SHORT_PAUSE)

    # In

    async def _message(self, request: Request) -> Response:
        """A message of a person."""
        if not self._knows_secret(request):
            return Response(status_code=403)
        given = await _fields(request)
        missing = [name for name in ("id", "from", "text") if name not in given]
        if missing:
            _log.error("%s: a message came without %s; see deploy/gateway", self.name, missing)
            return Response(status_code=400)
        incoming = Incoming(
            channel=self.name,
            message_id=given["id"],
            address=self._address(given["from"]),
            text=given["text"],
            sent_at=_instant(given.get("at", "")),
        )
        answer = await self._intake.take([incoming])
        return PlainTextResponse(KEPT) if answer.status_code == 200 else answer

    async def _receipt(self, request: Request) -> Response:
        """What became of a message that the gateway took."""
        if not self._knows_secret(request):
            return Response(status_code=403)
        given = await _fields(request)
        state = given.get("state", "")
        receipt = Receipt(
            channel=self.name,
            reference=given.get("reference", ""),
            address=f"+{given.get('to', '')}",
            state=STATES.get(state, ReceiptState.UNKNOWN),
            raw=f"state {state}",
        )
        return await self._intake.take([receipt])

    def _knows_secret(self, request: Request) -> bool:
        return same_secret(request.path_params["secret"], self._secret)

    def _address(self, sender: str) -> str:
        """The sender in E.164; as it came where it is no number, so that it is seen by a person."""
        if self._region:
            return number_in(sender, self._region) or sender
        return international_number(sender) or sender


def _reference(outgoing: Outgoing) -> str:
    """What we call this attempt: the gateway gives no name of its own before the receipt."""
    return f"{outgoing.id}-{outgoing.attempt}"


async def _fields(request: Request) -> dict[str, str]:
    """The fields of a query or a form. Text is in the alphabet that the field `charset` names:
    a message in a wide alphabet comes as it came from the carrier."""
    written = bytes(request.scope["query_string"]).decode("latin-1")
    if request.method == "POST":
        written += "&" + (await request.body()).decode("latin-1")
    # One letter a byte, whatever the byte is: which letters are meant is known only below.
    pairs = dict(parse_qsl(written, keep_blank_values=True, encoding="latin-1"))
    charset = pairs.get("charset") or "utf-8"
    return {
        key: _decoded(value.encode("latin-1"), charset if key == "text" else "utf-8")
        for key, value in pairs.items()
    }


def _decoded(value: bytes, charset: str) -> str:
    """Bytes as text. What cannot be read is marked, never dropped: a person looks at it."""
    try:
        return value.decode(charset)
    except (LookupError, ValueError):  # no such alphabet, or not these bytes in it
        return value.decode("utf-8", "replace")


def _instant(seconds: str) -> datetime | None:
    """Seconds since 1970 as an instant; None where they are not a plausible number."""
    if not seconds.isdecimal() or len(seconds) > 10:
        return None
    return datetime.fromtimestamp(int(seconds), UTC)


class _Quiet(logging.Filter):
    """Drops the library's lines about our requests: their addresses hold what was said."""

    def __init__(self, url: str) -> None:
        super().__init__()
        self._url = url

    def filter(self, record: logging.LogRecord) -> bool:
        return self._url not in record.getMessage()
