"""SMS through a hosted gateway, by its maintained SDK (the optional extra `hosted-sms`).

Does: send; check the signature of every webhook against our public address; turn what
the SDK throws into a `Delivery`; acknowledge only what is on disk.
Never: trusts the address in a request (a proxy changes it), decides who a sender is, lets the
token, a number or a text into a log. Read next: `bot.channels.intake`.

The SDK is imported when a channel is made: it is large, and few clinics use it. Its service offers
no key that makes sending idempotent, so a message of unknown fate is looked for before it is sent
again: an equal text to the same number since the first try counts as that message.
"""

from __future__ import annotations

import asyncio
import logging
from collections import OrderedDict
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any
from urllib.parse import parse_qsl

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from bot.channels.intake import Intake, Rate
from bot.errors import SettingsError
from bot.phone_numbers import is_e164
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

PATH = "/sms/hosted"
"""Where the gateway finds us, under our public address."""

MESSAGE_PATH, RECEIPT_PATH = f"{PATH}/message", f"{PATH}/receipt"

UNREACHABLE = frozenset({21211, 21214, 21217, 21610, 21614, 21635})
"""Codes that speak of the recipient: no such number, unsubscribed, a landline. Only these are for
ever: any other refusal may be a mistake of ours, and must not close a patient's number.
Source: the gateway's list of error codes (from memory)."""

STATES = {
    "accepted": ReceiptState.ON_ITS_WAY,
    "queued": ReceiptState.ON_ITS_WAY,
    "sending": ReceiptState.ON_ITS_WAY,
    "sent": ReceiptState.ON_ITS_WAY,
    "delivered": ReceiptState.DELIVERED,
    "undelivered": ReceiptState.FAILED,
    "failed": ReceiptState.FAILED,
}
"""What the gateway's words mean. Source: its SDK, MessageInstance.Status."""

TOO_FAST, REFUSED = 429, frozenset({401, 403})
"""HTTP statuses. Source: RFC 9110, RFC 6585."""

SHORT_PAUSE = timedelta(seconds=10)
"""Before trying again what was refused for no reason of the recipient's. Convention."""

CLOCKS_DIFFER = timedelta(seconds=30)
"""How far the gateway's clock may be behind ours when a message is looked for. Convention."""

UNSETTLED_MAX = 1000
"""Messages of unknown fate that are remembered [count]. Convention."""

_log = logging.getLogger(__name__)


class HostedSmsChannel:
    """A `Channel` to phones by SMS. Addresses are numbers in E.164.

    `account`, `token`: as the gateway gave them; the token also signs what it sends us.
    `number`: what our messages come from. `public_url`: our address as the gateway knows it.
    `http_client`: makes the SDK's own client; another one is for tests. `patience`: how long the
    gateway may take to answer. Raises `SettingsError` where the SDK is missing or something empty.
    """

    def __init__(
        self,
        *,
        account: str,
        token: str,
        number: str,
        public_url: str,
        clock: Clock,
        name: str = "sms",
        http_client: Callable[[], Any] | None = None,
        patience: timedelta = timedelta(seconds=10),
        rate: Rate | None = None,
    ) -> None:
        if not token.strip():
            raise SettingsError(("hosted_sms.token: expected the account's token, got nothing",))
        self._sdk = _Sdk()
        self.name, self._clock, self._number = name, clock, number
        self._account, self._token = account, token
        self._public_url = public_url.rstrip("/")
        self._make_http_client = http_client or self._sdk.http_client
        self._validator = self._sdk.validator(token)
        self._intake = Intake(name, rate)
        self._patience = patience.total_seconds()
        self._client: Any = None
        self._unsettled: OrderedDict[int, datetime] = OrderedDict()
        self._refused = self._closed = False
        self.routes = [
            Route(MESSAGE_PATH, self._message, methods=["POST"]),
            Route(RECEIPT_PATH, self._receipt, methods=["POST"]),
        ]

    async def listen(self, commit: Commit, cursor: str | None) -> None:  # noqa: ARG002 - none
        """Let the gateway in until cancelled."""
        await self._intake.listen(commit)

    async def close(self) -> None:
        """Give back the connections. A later `send` says `Later`."""
        self._closed = True
        if self._client is not None:
            await self._client.http_client.close()

    # Out

    async def send(self, outgoing: Outgoing) -> Delivery:
        """Give one message to the gateway. Never raises."""
        if self._closed:
            return Later("the channel is closed")
        if not is_e164(outgoing.address):
            return Never("not a phone number")
        began = self._clock.now()
        try:
            async with asyncio.timeout(self._patience):
                delivery = await self._sent(outgoing)
        except self._sdk.RestError as error:
            delivery = self._delivery(error)
        except self._sdk.NotSentError as error:
            delivery = Later(f"the gateway cannot be reached ({type(error).__name__})")
        except Exception as error:  # the port promises that nothing is raised; it may have left
            delivery = Unknown(f"the gateway did not answer ({type(error).__name__})")
        self._remember(outgoing.id, delivery, began)
        return delivery

    async def _sent(self, outgoing: Outgoing) -> Delivery:
        messages = self._opened().messages
        if outgoing.id in self._unsettled:
            found = await self._found(messages, outgoing)
            if found is not None:
                return Accepted(found)
        message = await messages.create_async(
            to=outgoing.address,
            from_=self._number,
            body=outgoing.text,
            status_callback=f"{self._public_url}{RECEIPT_PATH}",
        )
        self._refused = False
        return Accepted(message.sid)

    async def _found(self, messages: Any, outgoing: Outgoing) -> str | None:
        """The gateway's name of a message that was tried before without an answer, if it has it."""
        since = self._unsettled[outgoing.id] - CLOCKS_DIFFER
        listed = await messages.list_async(
            to=outgoing.address, from_=self._number, date_sent_after=since, limit=20
        )
        same = (m for m in listed if m.body == outgoing.text and m.date_created >= since)
        return next((str(message.sid) for message in same), None)

    def _remember(self, outgoing_id: int, delivery: Delivery, began: datetime) -> None:
        if isinstance(delivery, Unknown):
            self._unsettled.setdefault(outgoing_id, began)
            while len(self._unsettled) > UNSETTLED_MAX:
                self._unsettled.popitem(last=False)
        elif not isinstance(delivery, Later):
            self._unsettled.pop(outgoing_id, None)

    def _opened(self) -> Any:
        """The SDK's client, made once a loop runs, as its connections need one."""
        if self._client is None:
            http_client = self._make_http_client()
            self._client = self._sdk.client(self._account, self._token, http_client=http_client)
        return self._client

    def _delivery(self, error: Any) -> Delivery:
        """What a refusal means. The SDK's words stay out: they may repeat number and text."""
        why = f"the gateway answered {error.status}, code {error.code}"
        if error.code in UNREACHABLE:
            return Never(why)
        if error.status == TOO_FAST:
            return Later(why, SHORT_PAUSE)
        if error.status >= 500:
            return Unknown(why)
        if not self._refused:
            account = "account or token" if error.status in REFUSED else "configuration"
            _log.error("%s: %s; check the %s in hosted_sms", self.name, why, account)
        self._refused = True
        return Later(why, SHORT_PAUSE)

    # In

    async def _message(self, request: Request) -> Response:
        """A message of a person."""
        given = await self._signed(request, MESSAGE_PATH)
        if given is None:
            return Response(status_code=403)
        if not given.get("MessageSid") or not given.get("From"):
            _log.error("%s: a signed message came without MessageSid or From", self.name)
            return Response(status_code=400)
        incoming = Incoming(
            channel=self.name,
            message_id=given["MessageSid"],
            address=given["From"],
            text=given.get("Body") or _without_words(given),
        )
        return await self._intake.take([incoming])

    async def _receipt(self, request: Request) -> Response:
        """What became of a message that the gateway took."""
        given = await self._signed(request, RECEIPT_PATH)
        if given is None:
            return Response(status_code=403)
        state = given.get("MessageStatus", "")
        receipt = Receipt(
            channel=self.name,
            reference=given.get("MessageSid", ""),
            address=given.get("To", ""),
            state=STATES.get(state, ReceiptState.UNKNOWN),
            raw=f"{state} {given.get('ErrorCode', '')}".strip(),
        )
        return await self._intake.take([receipt])

    async def _signed(self, request: Request, path: str) -> dict[str, str] | None:
        """The fields of a request that the gateway signed, None for any other.

        What was signed is the address as it stands in the configuration: the request has come
        through a proxy, and names another one.
        """
        signature = request.headers.get("X-Twilio-Signature", "")
        query = request.url.query
        address = f"{self._public_url}{path}" + (f"?{query}" if query else "")
        try:
            body = (await request.body()).decode("utf-8")
        except UnicodeDecodeError:
            return None
        given = dict(parse_qsl(body, keep_blank_values=True))
        return given if self._validator.validate(address, given, signature) else None


def _without_words(given: dict[str, str]) -> str:
    """What stands for a message without words, so that a person sees that something came."""
    return "[picture or file]" if given.get("NumMedia", "0") != "0" else "[no text]"


class _Sdk:
    """The parts of the SDK that are used, imported now. Raises SettingsError where it is missing.

    Its loggers are kept from writing down requests: those hold numbers and texts.
    """

    def __init__(self) -> None:
        try:
            import aiohttp
            from twilio.base.exceptions import TwilioRestException
            from twilio.http.async_http_client import AsyncTwilioHttpClient
            from twilio.request_validator import RequestValidator
            from twilio.rest import Client
        except ImportError as error:
            raise SettingsError(
                ("hosted_sms: in the checkout, run pip install -e '.[hosted-sms]'",)
            ) from error
        logging.getLogger("twilio").setLevel(logging.ERROR)
        logging.getLogger("twilio.async_http_client").setLevel(logging.ERROR)
        self.client: Any = Client
        self.http_client: Callable[[], Any] = AsyncTwilioHttpClient
        self.validator: Any = RequestValidator
        self.RestError = TwilioRestException
        self.NotSentError = aiohttp.ClientConnectorError
