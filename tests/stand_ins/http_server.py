"""Any web application on the loopback address, in the test's own event loop.

Does: serve it on a free port over real sockets, and stop. `Answers` is an application that answers
as it was told, and keeps what it was asked. Never: reaches another machine.
"""

from __future__ import annotations

import asyncio
import contextlib
import socket
from collections import deque
from collections.abc import AsyncIterator
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import parse_qsl

import uvicorn
from starlette.requests import Request
from starlette.responses import Response
from starlette.types import ASGIApp, Receive, Scope, Send


@contextlib.asynccontextmanager
async def serving(application: ASGIApp, port: int = 0) -> AsyncIterator[str]:
    """The application's address, as long as it is served."""
    listening = socket.socket()
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    listening.bind(("127.0.0.1", port))
    listening.listen(128)  # from here on a client may connect, and waits its turn
    config = uvicorn.Config(
        application, log_config=None, access_log=False, lifespan="off", timeout_graceful_shutdown=1
    )
    server = uvicorn.Server(config)
    server.capture_signals = contextlib.nullcontext  # type: ignore[method-assign]
    task = asyncio.create_task(server.serve(sockets=[listening]))
    try:
        yield f"http://127.0.0.1:{listening.getsockname()[1]}"
    finally:
        server.should_exit = True
        await task
        listening.close()


@dataclass
class Asked:
    """A request as it came."""

    path: str
    fields: dict[str, str]


@dataclass
class Answers:
    """Answers requests with what stands in `next`, then with `always`. "drop" breaks the
    connection under the request, "hang" never answers."""

    always: Response
    asked: list[Asked] = field(default_factory=list)
    next: deque[Response | str] = field(default_factory=deque)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request."""
        request = Request(scope, receive)
        fields: dict[str, Any] = dict(request.query_params)
        fields |= dict(parse_qsl((await request.body()).decode(), keep_blank_values=True))
        self.asked.append(Asked(request.url.path, fields))
        answer = self.next.popleft() if self.next else self.always
        if answer == "drop":
            receive.__self__.transport.abort()  # type: ignore[attr-defined]
        if isinstance(answer, str):
            while (await receive())["type"] != "http.disconnect":
                pass
            return
        await answer(scope, receive, send)
