"""Telegram: private chats in, private chats out, by the Bot API.

Does: fetch updates by long polling and hand them to `commit`; send one message at a time within
the Bot API's rates; turn every failure into a `Delivery`.
Never: acknowledges an update before it is on disk, repeats a message by itself, reads what a
message says, lets the token or what a patient wrote into a log.

Acknowledging is asking for the next update id, so an update is lost to the Bot API only once
`commit` has returned. Read next: `bot.ports`, `bot.channels.telegram.updates` for what comes in.
"""

from __future__ import annotations

import asyncio
import logging
import os
import re
from collections.abc import Awaitable
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any
from urllib.parse import quote

import httpx
from aiolimiter import AsyncLimiter
from telegram import (
    Bot,
    CallbackQuery,
    LinkPreviewOptions,
)
from telegram.error import (
    BadRequest,
    ChatMigrated,
    Conflict,
    Forbidden,
    InvalidToken,
    NetworkError,
    RetryAfter,
    TelegramError,
)
from telegram.request import HTTPXRequest

from bot.channels.telegram.parts import TEXT_MAX as TEXT_MAX
from bot.channels.telegram.parts import fits_under_picture, keyboard, parts
from bot.channels.telegram.updates import WANTED, UpdatesRequest, incoming, message_id
from bot.errors import SettingsError
from bot.ports import (
    Accepted,
    Clock,
    Commit,
    Delivery,
    Later,
    Never,
    Outgoing,
    Unknown,
)

PUBLIC_API = "https://api.telegram.org/bot"
"""Where the Bot API is, unless the clinic runs its own. Source: Bot API, "Making requests"."""

MESSAGES_PER_SECOND = 30
"""All chats together [messages/s]. Source: Telegram, Bots FAQ, in telegram.constants.FloodLimit."""

CHAT_GAP_SECONDS = 1.0
"""Between two messages to a chat [s]. Source: Telegram, Bots FAQ, in the same FloodLimit."""

BATCH_MAX = 100
"""Updates taken at once. Source: Bot API, getUpdates, `limit` (1-100)."""

CHATS_REMEMBERED = 1000
"""Chats whose pace is kept before idle ones are forgotten. Convention."""

TIDIERS = 4
"""Pressed button rows removed at the same time. Convention: few, because each may stand once
before an urgent message in the queue for the rate."""

CHAT_ID = re.compile(r"-?[0-9]{1,19}")
"""A chat id. `int` alone would take a phone number for one, plus sign and all."""

NOT_SENT = (httpx.ConnectError, httpx.ConnectTimeout, httpx.PoolTimeout, httpx.ProxyError)
"""Failures from before the first byte of a request: nothing can have arrived."""

LIBRARY_LOGGERS = (
    "httpx",
    "httpcore",
    "httpcore.connection",
    "httpcore.http11",
    "httpcore.proxy",
    "telegram.Bot",
    "telegram.request.BaseRequest",
    "telegram.request.HTTPXRequest",
)
"""Who logs below this file. By name, because a logger's filter does not reach its children."""

# The library's own switch to a span of time where it says seconds; without it, it warns each time.
os.environ.setdefault("PTB_TIMEDELTA", "true")

_log = logging.getLogger(__name__)


class TelegramChannel:
    """A `Channel` to private chats of one bot. Addresses are chat ids in decimal.

    `base_url`: another Bot API server, None for the public one. `token_setting`: what the person
    who reads the log has to look at when the token is refused. `poll`: how long the server may
    hold a question for updates. `patience`: how long an answer may take beyond that.
    `first_pause`, `longest_pause`: between tries to receive, doubling from one to the other.
    Raises `SettingsError` for an empty token.
    """

    def __init__(
        self,
        token: str,
        *,
        clock: Clock,
        base_url: str | None = None,
        name: str = "telegram",
        token_setting: str = "telegram.token",
        poll: timedelta = timedelta(seconds=30),
        patience: timedelta = timedelta(seconds=10),
        first_pause: timedelta = timedelta(seconds=1),
        longest_pause: timedelta = timedelta(seconds=60),
    ) -> None:
        if not token.strip():
            raise SettingsError((f"{token_setting}: expected the bot's token, got nothing",))
        self.name, self._token_setting = name, token_setting
        self._clock, self._poll = clock, poll
        self._first_pause, self._longest_pause = first_pause, longest_pause
        self._secret = _Secret(token)
        for logger in LIBRARY_LOGGERS:
            logging.getLogger(logger).addFilter(self._secret)
        seconds = patience.total_seconds()
        self._requests = (
            UpdatesRequest(connection_pool_size=1, read_timeout=seconds, connect_timeout=seconds),
            HTTPXRequest(read_timeout=seconds, connect_timeout=seconds),
        )
        server = PUBLIC_API if base_url is None else base_url
        self._bot = Bot(
            token,
            base_url=server.rstrip("/").removesuffix("/bot") + "/bot",
            get_updates_request=self._requests[0],
            request=self._requests[1],
        )
        # One at a time, evenly: a bucket of thirty would let sixty through in its first second.
        self._pace = AsyncLimiter(1, 1 / MESSAGES_PER_SECOND)
        self._chat_paces: dict[int, AsyncLimiter] = {}
        self._pressed: asyncio.Queue[CallbackQuery] = asyncio.Queue()
        self._held_until: datetime | None = None
        self._refused = self._closed = False

    async def close(self) -> None:
        """Give back the connections. A later `send` says `Later`."""
        self._closed = True
        for request in self._requests:
            await request.shutdown()
        for logger in LIBRARY_LOGGERS:
            logging.getLogger(logger).removeFilter(self._secret)

    # Out

    async def send(self, outgoing: Outgoing) -> Delivery:
        """Send one message, waiting for its turn within the rates.

        An urgent one does not wait for its chat's second, nor for the end of a flood wait.
        A text longer than a message may be goes in parts; when a part fails, its delivery counts
        and a repetition starts from the first part. Never raises.
        """
        if self._closed:
            return Later("the channel is closed")
        if not CHAT_ID.fullmatch(outgoing.address):
            return Never("not a chat id")
        try:
            return await self._send_parts(int(outgoing.address), outgoing)
        except TelegramError as error:
            return self._delivery(error)
        except Exception as error:  # the port promises that nothing is raised; it may have left
            return Unknown(f"unexpected {type(error).__name__}")

    async def _send_parts(self, chat_id: int, outgoing: Outgoing) -> Delivery:
        texts = list(parts(outgoing.text))
        if outgoing.picture is not None:
            return await self._send_picture(chat_id, outgoing, outgoing.picture)
        for part in texts:
            await self._turn(chat_id, outgoing.urgent)
            wait = self._held()
            if wait and not outgoing.urgent:
                return Later("the Bot API asked for a pause", wait)
            sent = await self._bot.send_message(
                chat_id,
                part,
                reply_markup=keyboard(outgoing.choices) if part is texts[-1] else None,
                # A preview is fetched by the server, which would use up a single-use link.
                link_preview_options=LinkPreviewOptions(is_disabled=True),
            )
            self._refused = False
        return Accepted(message_id(sent.chat.id, sent.message_id))

    async def _send_picture(self, chat_id: int, outgoing: Outgoing, picture: bytes) -> Delivery:
        """A picture with its text under it; a text longer than that may be follows by itself."""
        await self._turn(chat_id, outgoing.urgent)
        wait = self._held()
        if wait and not outgoing.urgent:
            return Later("the Bot API asked for a pause", wait)
        fits = fits_under_picture(outgoing.text)
        sent = await self._bot.send_photo(
            chat_id,
            picture,
            caption=outgoing.text if fits else None,
            reply_markup=keyboard(outgoing.choices) if fits else None,
        )
        self._refused = False
        if not fits:
            return await self._send_parts(chat_id, replace(outgoing, picture=None))
        return Accepted(message_id(sent.chat.id, sent.message_id))

    async def _turn(self, chat_id: int, urgent: bool) -> None:
        """Wait until this message may leave."""
        if len(self._chat_paces) > CHATS_REMEMBERED:
            self._chat_paces = {c: p for c, p in self._chat_paces.items() if not p.has_capacity()}
        pace = self._chat_paces.setdefault(chat_id, AsyncLimiter(1, CHAT_GAP_SECONDS))
        # Short bursts to a chat are let through (FloodLimit): used for what cannot wait.
        if not urgent or pace.has_capacity():
            await pace.acquire()
        await self._pace.acquire()

    def _held(self) -> timedelta | None:
        """How long the Bot API still wants to hear nothing, None if it may be asked."""
        if self._held_until is None or self._clock.now() >= self._held_until:
            return None
        return self._held_until - self._clock.now()

    def _delivery(self, error: TelegramError) -> Delivery:
        """What a failure of sending means for the message.

        The order matters: a `BadRequest` is a `NetworkError` too, and can never succeed.
        """
        why = self._secret.hidden(f"{type(error).__name__}: {error.message}")
        if isinstance(error, RetryAfter):
            wait = _retry_wait(error)
            self._held_until = self._clock.now() + wait
            return Later(why, wait)
        if isinstance(error, ChatMigrated):
            # A private chat never moves. A group that did is another address, to be verified.
            return Never(f"the chat has moved to {error.new_chat_id}")
        if isinstance(error, Forbidden | BadRequest):
            return Never(why)
        if isinstance(error, InvalidToken):
            self._say_refused()
            return Later(why)
        if isinstance(error, Conflict):
            return Later(why)
        if isinstance(error, NetworkError) and _nothing_accepted(error):
            return Later(why)
        return Unknown(why)

    def _say_refused(self) -> None:
        """Once, until it works again: thirty lines a second help nobody."""
        if not self._refused:
            _log.error("%s: the token was refused; check %s", self.name, self._token_setting)
        self._refused = True

    # In

    async def listen(self, commit: Commit, cursor: str | None) -> None:
        """Receive until cancelled; `cursor` is the last committed update id in decimal.

        An update id may start again lower after a quiet week (Bot API, Update), so the cursor is
        whatever came last, not the highest.
        """
        tidiers = [asyncio.create_task(self._tidy()) for _ in range(TIDIERS)]
        try:
            await self._listen(commit, cursor)
        finally:
            for tidier in tidiers:
                tidier.cancel()
            await asyncio.gather(*tidiers, return_exceptions=True)

    async def _listen(self, commit: Commit, cursor: str | None) -> None:
        failures = 0
        polling = False
        while True:
            try:
                if not polling:
                    await self._bot.delete_webhook()  # while one is set, polling is refused
                    polling = True
                cursor = await self._take_batch(commit, cursor)
                failures = 0
                self._refused = False
            except Exception as error:  # for ever: a line that gives up is a line nobody hears
                polling = polling and not isinstance(error, Conflict)
                pause = self._pause(error, failures)
                failures += 1
                self._say_trouble(error, pause)
                await asyncio.sleep(pause.total_seconds())

    async def _take_batch(self, commit: Commit, cursor: str | None) -> str | None:
        """Fetch, commit, and only then return the cursor that acknowledges."""
        updates = await self._bot.get_updates(
            offset=int(cursor) + 1 if cursor and cursor.isdecimal() else None,
            limit=BATCH_MAX,
            timeout=self._poll,
            allowed_updates=WANTED,
        )
        if not updates:
            return cursor
        taken = [(u, message) for u in updates if (message := incoming(self.name, u))]
        reached = str(updates[-1].update_id)
        await commit([message for _, message in taken], reached)
        for update, _ in taken:
            if update.callback_query is not None:
                self._pressed.put_nowait(update.callback_query)
        return reached

    def _pause(self, error: Exception, failures: int) -> timedelta:
        if isinstance(error, RetryAfter):
            return _retry_wait(error)
        doublings = min(failures, 16)  # enough to pass any longest pause
        return min(self._longest_pause, self._first_pause * 2.0**doublings)

    def _say_trouble(self, error: Exception, pause: timedelta) -> None:
        seconds = round(pause.total_seconds(), 1)
        if isinstance(error, InvalidToken):
            _log.error(
                "%s: the token was refused; check %s. Trying again in %s s",
                self.name, self._token_setting, seconds,
            )  # fmt: skip
        elif isinstance(error, Conflict):
            _log.error(
                "%s: another program receives for this bot; stop one. Trying again in %s s",
                self.name, seconds,
            )  # fmt: skip
        elif isinstance(error, TelegramError):
            why = self._secret.hidden(f"{type(error).__name__}: {error.message}")
            _log.warning("%s: cannot receive (%s). Trying again in %s s", self.name, why, seconds)
        else:
            # The name alone: an exception's words may hold what a patient wrote.
            _log.error(
                "%s: messages were not committed (%s) and will come again in %s s",
                self.name, type(error).__name__, seconds,
            )  # fmt: skip

    async def _tidy(self) -> None:
        """Remove the rows of pressed buttons. The answer is on disk, so failing costs nothing."""
        while True:
            query = await self._pressed.get()
            await self._quietly(self._bot.answer_callback_query(query.id))
            if query.message is not None:
                await self._pace.acquire()
                await self._quietly(
                    self._bot.edit_message_reply_markup(
                        query.message.chat.id, query.message.message_id, reply_markup=None
                    )
                )

    async def _quietly(self, call: Awaitable[Any]) -> None:
        try:
            await call
        except Exception as error:  # nothing hangs on it, and the next row must have its turn
            _log.info("%s: a button row stays (%s)", self.name, type(error).__name__)


def _retry_wait(error: RetryAfter) -> timedelta:
    """The wait it asks for, whichever way the library is set to say it."""
    wait = error.retry_after
    return wait if isinstance(wait, timedelta) else timedelta(seconds=wait)


def _nothing_accepted(error: NetworkError) -> bool:
    """The request never left, or was answered with a status that says no (5xx and the like)."""
    cause = error.__cause__
    return cause is None or isinstance(cause, (*NOT_SENT, TelegramError))


class _Secret(logging.Filter):
    """The token. It is part of every address asked, and the libraries log addresses."""

    def __init__(self, token: str) -> None:
        super().__init__()
        # Longest first: an escaped spelling may contain the plain one.
        spellings = {token, quote(token), quote(token, safe="")}
        self._spellings = sorted(spellings, key=len, reverse=True)

    def hidden(self, text: str) -> str:
        """The text, with the token taken out."""
        for spelling in self._spellings:
            text = text.replace(spelling, "<token>")
        return text

    def filter(self, record: logging.LogRecord) -> bool:
        """Let every line pass, without the token and without what anyone wrote."""
        if record.name.startswith("telegram"):
            record.args = None  # they are messages in full; the line says enough without them
        record.msg, record.args = self.hidden(record.getMessage()), None
        return True
