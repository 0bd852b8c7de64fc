"""What a request may cost before anything looks at it: how often one address may ask, how large a
body may be, and how long it may take to arrive.

Never reads what a request says. Read next: `bot.web.service`, which stands behind this; how often
a *person* may write is limited in `bot.channels.intake`, once it is known who writes.
"""

from __future__ import annotations

import asyncio

from starlette.responses import Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from bot.channels.intake import Rate, turned_away

# Largest body [bytes]. Convention: a chat message of 4096 characters with all its marks, several
# times over.
BODY_MAX = 256 * 1024

# How long a body may take to arrive [seconds]. Convention.
BODY_SECONDS = 10.0

# Requests from one address [count in seconds]. Convention: a whole clinic's morning comes from the
# one address of its gateway, and what is turned away comes again.
REQUESTS_MAX, REQUESTS_SECONDS = 200, 1.0

# Links to the clinic page tried from one address [count in seconds]. Convention: a whole clinic
# behind one address comes in within a minute, and nobody guesses 256 bits.
ENTRIES_MAX, ENTRIES_SECONDS = 20, 60.0


class Limits:
    """Stands before an ASGI application and hands on what is within the limits, body and all.

    429: too many requests from this address. 413: the body is too large. 408: it came too slowly.
    """

    def __init__(
        self,
        app: ASGIApp,
        body_max: int = BODY_MAX,
        body_seconds: float = BODY_SECONDS,
        requests: Rate | None = None,
    ) -> None:
        self._app, self._body_max, self._body_seconds = app, body_max, body_seconds
        self._requests = requests or Rate(REQUESTS_MAX, REQUESTS_SECONDS)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request in, or answer why not."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        taken = await self._taken(scope, receive)
        if isinstance(taken, Response):
            await taken(scope, receive, send)
            return
        await self._app(scope, _replay(taken, receive), send)

    async def _taken(self, scope: Scope, receive: Receive) -> bytes | Response:
        """The body, or why it was not taken."""
        client = scope.get("client")
        if not await self._requests.allows(client[0] if client else ""):
            return turned_away(429)
        headers = dict(scope["headers"])
        announced = headers.get(b"content-length", b"0")
        if not announced.isdigit() or int(announced) > self._body_max:
            return Response(status_code=413)
        try:
            async with asyncio.timeout(self._body_seconds):
                body = await self._body(receive)
        except TimeoutError:
            return Response(status_code=408)
        return Response(status_code=413) if body is None else body

    async def _body(self, receive: Receive) -> bytes | None:
        """All of the body, None as soon as it is too large. A broken one ends where it broke."""
        body = b""
        while True:
            message = await receive()
            body += bytes(message.get("body", b""))
            if len(body) > self._body_max:
                return None
            if not message.get("more_body", False):
                return body


def _replay(body: bytes, receive: Receive) -> Receive:
    """The body once more, in one piece; after it whatever comes from the connection."""
    waiting: list[Message] = [{"type": "http.request", "body": body, "more_body": False}]

    async def again() -> Message:
        return waiting.pop() if waiting else await receive()

    return again
