"""A Bot API server on the loopback address, for tests with the real client over real sockets.

Does: hold updates until they are acknowledged by a higher offset, keep what was sent, fail on
request. Follows the published Bot API in what the channel leans on: one poller at a time, refusal
of polling while a webhook is set, the limits of text and callback data, blocked and unknown chats.
Never: reaches another machine. It runs in a thread of its own, so any kind of test may use it:

    with BotApi() as api:
        channel = TelegramChannel(api.token, base_url=api.base_url, clock=...)
        api.inject_text(7, "3 10")
        api.wait_until(lambda: api.sent)
"""

from __future__ import annotations

import asyncio
import json
import socket
import threading
import time
from collections import defaultdict, deque
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import uvicorn
from stand_ins.patience import PATIENCE_SECONDS
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

TOKEN = "424242:stand-in-token-of-no-real-bot"
DATE = 1_767_600_000  # 2026-01-05 08:00 UTC


@dataclass
class Sent:
    """A message that the server accepted. `choices`: rows of (label, payload), as they stand now.

    `at`: seconds on the monotonic clock, for tests of the rate.
    """

    chat: int
    message_id: int
    text: str
    choices: list[list[tuple[str, str]]]
    at: float
    method: str = "sendMessage"


@dataclass(frozen=True)
class Call:
    """A request as it came. `params`: form fields, files by their names. `at`: monotonic [s]."""

    method: str
    params: dict[str, str]
    at: float


@dataclass(frozen=True)
class _Trouble:
    """What happens instead of, or after, the ordinary answer to one request."""

    kind: str  # "fail", "drop before", "drop after", "hang"
    status: int = 500
    body: bytes = b""


class RefusalError(Exception):
    """The server says no, in the form of the Bot API."""

    def __init__(self, status: int, description: str) -> None:
        super().__init__(description)
        self.status = status
        self.description = description


@dataclass
class BotApi:
    """The server and its controls. All of them may be used from any thread."""

    token: str = TOKEN
    first_update_id: int = 1000
    sent: list[Sent] = field(default_factory=list)
    calls: list[Call] = field(default_factory=list)
    commands: list[Any] = field(default_factory=list)
    answered_presses: list[str] = field(default_factory=list)
    acknowledged: int | None = None
    webhook: str = ""

    def __post_init__(self) -> None:
        self._changed = threading.Condition(threading.RLock())
        self._updates: list[dict[str, Any]] = []
        self._next_update_id = self.first_update_id
        self._next_message_ids: dict[int, int] = defaultdict(lambda: 1)
        self._troubles: dict[str, deque[_Trouble]] = defaultdict(deque)
        self._blocked: set[int] = set()
        self._unknown: set[int] = set()
        self._polls = 0
        self._closing = False
        self._socket = socket.socket()
        self._socket.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        self._socket.bind(("127.0.0.1", 0))
        route = Route("/bot{token}/{method}", self._answer, methods=["GET", "POST"])
        config = uvicorn.Config(
            Starlette(routes=[route]),
            log_config=None,
            access_log=False,
            lifespan="off",
            timeout_graceful_shutdown=1,
        )
        self._server = uvicorn.Server(config)
        self._thread = threading.Thread(
            target=self._server.run, kwargs={"sockets": [self._socket]}, daemon=True
        )

    # The server

    @property
    def base_url(self) -> str:
        """Where it listens, up to the token."""
        return f"http://127.0.0.1:{self._socket.getsockname()[1]}/bot"

    def __enter__(self) -> BotApi:
        self._socket.listen(128)  # from here on a client may connect, and waits its turn
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._server.should_exit = True
        with self._changed:
            self._closing = True  # ends a waiting poll
            self._changed.notify_all()
        self._thread.join(timeout=PATIENCE_SECONDS)
        self._socket.close()

    def wait_until(self, condition: Callable[[], Any], seconds: float = PATIENCE_SECONDS) -> None:
        """Return once the condition holds; it is tried again whenever something happened."""
        with self._changed:
            if not self._changed.wait_for(condition, timeout=seconds):
                raise AssertionError(f"not within {seconds} s; calls: {self.calls}")

    async def until(self, condition: Callable[[], Any], seconds: float = PATIENCE_SECONDS) -> None:
        """`wait_until` for a test that is itself a coroutine."""
        await asyncio.to_thread(self.wait_until, condition, seconds)

    def methods(self) -> list[str]:
        """The methods called so far, in order."""
        return [call.method for call in self.calls]

    # What people do

    def inject_text(self, chat: int, text: str, **fields: Any) -> int:
        """Somebody writes; the message id."""
        return self.inject_message(chat, text=text, **fields)

    def inject_message(self, chat: int, *, kind: str = "private", **fields: Any) -> int:
        """A message of any content, in a chat of any kind; the message id."""
        with self._changed:
            message_id = self._take_message_id(chat)
            self.inject("message", _message(chat, message_id, kind) | fields)
        return message_id

    def inject_edit(self, chat: int, message_id: int, text: str, **fields: Any) -> None:
        """Somebody changes a message."""
        edited = _message(chat, message_id, "private") | {"edit_date": DATE + 60, "text": text}
        self.inject("edited_message", edited | fields)

    def inject_press(self, chat: int, message_id: int, data: str, kind: str = "private") -> str:
        """Somebody presses a button under a message that was sent; the id of the query."""
        with self._changed:
            message = _message(chat, message_id, kind)
            for sent in self.sent:
                if (sent.chat, sent.message_id) == (chat, message_id):
                    message |= {"text": sent.text, "reply_markup": _markup(sent.choices)}
            query_id = f"query-{self._next_update_id}"
            query = {
                "id": query_id,
                "from": _user(chat),
                "chat_instance": "1",
                "message": message,
                "data": data,
            }
            self.inject("callback_query", query)
        return query_id

    def inject(self, kind: str, content: dict[str, Any]) -> int:
        """Any update as it is; the update id."""
        with self._changed:
            update_id = self._next_update_id
            self._next_update_id += 1
            self._updates.append({"update_id": update_id, kind: content})
            self._changed.notify_all()
        return update_id

    def restart_numbering(self, first_update_id: int) -> None:
        """A quiet week has passed: the next update id is another one."""
        with self._changed:
            self._next_update_id = first_update_id

    def set_webhook(self, url: str) -> None:
        """Another program of the clinic asks for updates by webhook; a waiting poll ends."""
        with self._changed:
            self.webhook = url
            self._changed.notify_all()

    def block(self, chat: int) -> None:
        """The person has blocked the bot."""
        self._blocked.add(chat)

    def forget(self, chat: int) -> None:
        """There is no such chat."""
        self._unknown.add(chat)

    # What goes wrong

    def fail_next(self, method: str, status: int, body: Any = None, *, times: int = 1) -> None:
        """Answer the next calls of the method with this status, and do nothing else.

        `body`: a mapping goes out as JSON, bytes as they are, None as the Bot API's usual form.
        """
        if body is None:
            body = {"ok": False, "error_code": status, "description": f"status {status}"}
        raw = body if isinstance(body, bytes) else json.dumps(body).encode()
        self._troubles[method].extend([_Trouble("fail", status, raw)] * times)

    def flood_next(self, method: str, seconds: int) -> None:
        """Ask for a pause instead of answering the next call."""
        parameters = {"retry_after": seconds}
        body = {"ok": False, "error_code": 429, "description": "Too Many Requests"}
        self.fail_next(method, 429, body | {"parameters": parameters})

    def drop_next(self, method: str, *, recorded: bool = True, times: int = 1) -> None:
        """Close the connection without an answer, after or before doing what was asked."""
        kind = "drop after" if recorded else "drop before"
        self._troubles[method].extend([_Trouble(kind)] * times)

    def hang_next(self, method: str) -> None:
        """Do what is asked, and never answer."""
        self._troubles[method].append(_Trouble("hang"))

    # Inside

    async def _answer(self, request: Request) -> Response:
        method = request.path_params["method"]
        form = await request.form()
        params = {k: v if isinstance(v, str) else str(v.filename) for k, v in form.items()}
        with self._changed:
            self.calls.append(Call(method, params, time.monotonic()))
            waiting = self._troubles[method]
            trouble = waiting.popleft() if waiting else None
            self._changed.notify_all()
        if trouble and trouble.kind == "fail":
            return Response(trouble.body, trouble.status, media_type="application/json")
        if trouble and trouble.kind == "drop before":
            return await _dropped(request)
        response = await self._done(request.path_params["token"], method, params)
        if trouble and trouble.kind == "hang":
            await _gone(request)
        return await _dropped(request) if trouble else response

    async def _done(self, token: str, method: str, params: dict[str, str]) -> Response:
        try:
            if token != self.token:
                raise RefusalError(401, "Unauthorized")
            if method == "getUpdates":
                result = await asyncio.to_thread(self._get_updates, params)
            else:
                with self._changed:
                    result = self._act(method, params)
                    self._changed.notify_all()
        except RefusalError as no:
            body = {"ok": False, "error_code": no.status, "description": no.description}
            return JSONResponse(body, no.status)
        return JSONResponse({"ok": True, "result": result})

    def _get_updates(self, params: dict[str, str]) -> list[dict[str, Any]]:
        with self._changed:
            self._polls += 1
            mine = self._polls
            self._changed.notify_all()
            offset = int(params.get("offset", 0))
            # The server takes an offset far ahead of its numbering for one of an older numbering,
            # and begins at its first update (from memory: within ten is taken as meant).
            if offset <= self._next_update_id + 10:
                self._updates = [u for u in self._updates if u["update_id"] >= offset]
                self.acknowledged = offset - 1 if offset else self.acknowledged
            self._changed.notify_all()
            seconds = float(params.get("timeout", 0))
            self._changed.wait_for(lambda: self._updates or self._superseded(mine), seconds)
            if why := self._superseded(mine):
                raise RefusalError(409, f"Conflict: {why}")
            return self._updates[: int(params.get("limit", 100))]

    def _superseded(self, poll: int) -> str:
        """Why this poll gets nothing; empty if it may go on."""
        if self.webhook:
            return "can't use getUpdates method while webhook is active"
        if self._polls != poll:
            return "terminated by other getUpdates request"
        return "the server stops" if self._closing else ""

    def _act(self, method: str, params: dict[str, str]) -> Any:
        if method in ("sendMessage", "sendPhoto"):
            return self._send(method, params)
        if method == "editMessageReplyMarkup":
            return self._edit(params)
        if method == "answerCallbackQuery":
            self.answered_presses.append(params["callback_query_id"])
        elif method == "setWebhook":
            self.webhook = params["url"]
        elif method == "deleteWebhook":
            self.webhook = ""
        elif method == "setMyCommands":
            self.commands = json.loads(params["commands"])
        elif method == "getMe":
            return {"id": 424242, "is_bot": True, "first_name": "Stand-in", "username": "stand_bot"}
        else:
            raise RefusalError(404, "Not Found")
        return True

    def _send(self, method: str, params: dict[str, str]) -> dict[str, Any]:
        chat = int(params["chat_id"])
        text = params.get("text", params.get("caption", ""))
        choices = _choices(params.get("reply_markup"))
        if chat in self._blocked:
            raise RefusalError(403, "Forbidden: bot was blocked by the user")
        if chat in self._unknown:
            raise RefusalError(400, "Bad Request: chat not found")
        if method == "sendMessage" and not text:
            raise RefusalError(400, "Bad Request: message text is empty")
        if len(text.encode("utf-16-le")) > 2 * 4096:
            raise RefusalError(400, "Bad Request: message is too long")
        if any(len(data.encode()) > 64 for row in choices for _, data in row):
            raise RefusalError(400, "Bad Request: BUTTON_DATA_INVALID")
        sent = Sent(chat, self._take_message_id(chat), text, choices, time.monotonic(), method)
        self.sent.append(sent)
        return _message(chat, sent.message_id, "private") | {"text": text}

    def _edit(self, params: dict[str, str]) -> dict[str, Any]:
        wanted = int(params["chat_id"]), int(params["message_id"])
        for sent in self.sent:
            if (sent.chat, sent.message_id) == wanted:
                sent.choices = _choices(params.get("reply_markup"))
                return _message(*wanted, "private") | {"text": sent.text}
        raise RefusalError(400, "Bad Request: message to edit not found")

    def _take_message_id(self, chat: int) -> int:
        self._next_message_ids[chat] += 1
        return self._next_message_ids[chat] - 1


def _user(number: int) -> dict[str, Any]:
    return {"id": number, "is_bot": False, "first_name": "Somebody"}


def _message(chat: int, message_id: int, kind: str) -> dict[str, Any]:
    return {
        "message_id": message_id,
        "date": DATE,
        "chat": {"id": chat, "type": kind},
        "from": _user(abs(chat)),
    }


def _choices(markup: str | None) -> list[list[tuple[str, str]]]:
    rows = json.loads(markup)["inline_keyboard"] if markup else []
    return [[(button["text"], button["callback_data"]) for button in row] for row in rows]


def _markup(choices: list[list[tuple[str, str]]]) -> dict[str, Any]:
    rows = [[{"text": label, "callback_data": data} for label, data in row] for row in choices]
    return {"inline_keyboard": rows}


async def _gone(request: Request) -> None:
    """Wait until the other side has hung up."""
    while (await request.receive())["type"] != "http.disconnect":
        pass


async def _dropped(request: Request) -> Response:
    """Break the connection under the answer, as a failing network does."""
    # ASGI has no word for it; the server keeps the connection beside its `receive`.
    request.receive.__self__.transport.abort()  # type: ignore[attr-defined]
    await _gone(request)
    return Response()
