"""Telegram by webhook: the Bot API brings each update instead of being asked for it.

Does: tell the Bot API our address, with a secret made for this run; check that secret; keep
what was brought before saying so. Sending, and all it must not do, is as in `telegram`.
Never: acknowledges an update before it is on disk. The same update brought twice is one message,
because its id is. Read next: `bot.channels.telegram.channel`, `bot.channels.intake`.
"""

from __future__ import annotations

import asyncio
import logging
import secrets
from datetime import timedelta
from typing import Any

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route
from telegram import Update
from telegram.error import TelegramError

from bot.channels.intake import Intake, same_secret
from bot.channels.telegram.channel import TelegramChannel
from bot.channels.telegram.updates import WANTED, UpdatesRequest, incoming
from bot.errors import SettingsError
from bot.ports import Clock, Commit

PATH = "/telegram"
"""Where the Bot API finds us, under our public address."""

SECRET_HEADER = "X-Telegram-Bot-Api-Secret-Token"
"""Source: Bot API, setWebhook, `secret_token`."""

SECRET_BYTES = 32
"""Of the secret of one run [bytes]: 43 of the letters that the Bot API allows."""

_log = logging.getLogger(__name__)


class TelegramWebhookChannel(TelegramChannel):
    """A `Channel` to private chats of one bot, brought to us. Addresses are chat ids in decimal.

    `public_url`: our address on the internet, with https. The rest: see `TelegramChannel`.
    """

    def __init__(self, token: str, *, public_url: str, clock: Clock, **options: Any) -> None:
        super().__init__(token, clock=clock, **options)
        if not public_url.startswith("https://"):
            raise SettingsError(("web.public_url: expected an address with https://",))
        self._webhook_url = public_url.rstrip("/") + PATH
        # One for each run: an update signed with an old one is refused, and brought again.
        self._webhook_secret = secrets.token_urlsafe(SECRET_BYTES)
        self._intake = Intake(self.name)
        self.routes = [Route(PATH, self._brought, methods=["POST"])]

    async def _listen(self, commit: Commit, cursor: str | None) -> None:  # noqa: ARG002 - none
        """Be open until cancelled, and let the Bot API know."""
        async with asyncio.TaskGroup() as group:
            group.create_task(self._intake.listen(commit))
            group.create_task(self._announce())

    async def _announce(self) -> None:
        """Tell the Bot API our address; tried until it has heard."""
        failures = 0
        while True:
            try:
                await self._bot.set_webhook(
                    self._webhook_url, secret_token=self._webhook_secret, allowed_updates=WANTED
                )
                return
            except TelegramError as error:
                pause: timedelta = self._pause(error, failures)
                failures += 1
                self._say_trouble(error, pause)
                await asyncio.sleep(pause.total_seconds())

    async def _brought(self, request: Request) -> Response:
        """One update."""
        if not same_secret(request.headers.get(SECRET_HEADER, ""), self._webhook_secret):
            return Response(status_code=403)
        try:
            # In the form of an answer with one update, where one that is odd is cut down.
            body = b'{"ok": true, "result": [' + await request.body() + b"]}"
            read = UpdatesRequest.parse_json_payload(body)["result"]
            updates = [Update.de_json(update) for update in read]
        except Exception as error:  # whatever it is; brought again it would be no better
            _log.error("%s: an update could not be read (%s)", self.name, type(error).__name__)
            return Response(status_code=400)
        taken = [(u, message) for u in updates if (message := incoming(self.name, u))]
        answer = await self._intake.take([message for _, message in taken])
        if answer.status_code == 200:
            for update, _ in taken:
                if update.callback_query is not None:
                    self._pressed.put_nowait(update.callback_query)
        return answer
