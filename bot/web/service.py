"""The one web application of a clinic: the doors of its channels, and a look at its health.

    /page                 the clinic page, where the clinic has one (see `bot.web.page`)
    /telegram, /sms/...   where channels are brought messages (see each channel)
    /healthz              the process is alive
    /readyz               the store takes writes within a second, and the last tick is recent
    /metrics              numbers, no names (see `bot.operations.metrics`)

Never decides anything; what anyone wrote is shown on the page alone. /readyz and /metrics answer
only the watchers named in the configuration; to all others they do not exist. Read next:
`bot.web.limits`.
"""

from __future__ import annotations

import asyncio
import contextlib
import ipaddress
import socket
from collections.abc import Awaitable, Callable, Iterator, Sequence
from datetime import datetime, timedelta
from pathlib import Path
from typing import Protocol, runtime_checkable

import uvicorn
from prometheus_client import CONTENT_TYPE_LATEST
from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import JSONResponse, PlainTextResponse, Response
from starlette.routing import BaseRoute, Route

from bot.app import App
from bot.errors import PortTakenError
from bot.operations.metrics import metrics_text
from bot.store.database import Store
from bot.store.inbox import keep_cursor
from bot.web.limits import Limits
from bot.web.page.doors import ClinicPage

# How long the store may take for one write, and how old the last tick may be [seconds].
# Convention: ten ticks.
WRITE_SECONDS, TICK_AGE_SECONDS = 1.0, 20.0

# How long open connections are waited for at the end [seconds].
CLOSE_SECONDS = 5

# Connections at the same time [count]; more are told to come again. Convention.
CONNECTIONS_MAX = 500

LOOPBACK = ("127.0.0.1", "::1")

Answer = Callable[[Request], Awaitable[Response]]


@runtime_checkable
class HasDoors(Protocol):
    """A channel that is brought its messages over HTTP."""

    routes: Sequence[Route]


def service(app: App, path: Path, watchers: Sequence[str] = LOOPBACK) -> Starlette:
    """The application, with the doors of all channels that have any.

    `path`: the store's file, read for the metrics. `watchers`: addresses or networks that may ask
    for them and for readiness.
    """
    health = _Health(app, path)
    channels = (one for one in app.channels.values() if isinstance(one, HasDoors))
    routes: list[BaseRoute] = [route for channel in channels for route in channel.routes]
    networks = [ipaddress.ip_network(watcher) for watcher in watchers]
    if app.clinic.page_url:
        routes += ClinicPage(app, path).routes()
    routes += [
        Route("/healthz", _alive),
        Route("/readyz", _only_for(networks, health.ready)),
        Route("/metrics", _only_for(networks, health.metrics)),
    ]
    return Starlette(routes=routes, middleware=[Middleware(Limits)])


async def _alive(_: Request) -> Response:
    return PlainTextResponse("alive\n")


def _only_for(
    networks: Sequence[ipaddress.IPv4Network | ipaddress.IPv6Network], answer: Answer
) -> Answer:
    async def answered(request: Request) -> Response:
        client = request.client
        try:
            address = ipaddress.ip_address(client.host if client else "")
        except ValueError:
            return Response(status_code=404)
        if not any(address in network for network in networks):
            return Response(status_code=404)
        return await answer(request)

    return answered


class _Health:
    """Tries the store, and reads it."""

    def __init__(self, app: App, path: Path) -> None:
        self._app, self._path = app, path
        self._writing: asyncio.Task[None] | None = None

    async def ready(self, _: Request) -> Response:
        """200, or 503 with what is wrong."""
        now = self._app.clock.now()
        wrong = []
        if not await self._writes(now):
            wrong.append("the store does not take a write within a second")
        ticked = self._app.ticked_at
        if ticked is None or abs(now - ticked) > timedelta(seconds=TICK_AGE_SECONDS):
            wrong.append("the scheduler has not ticked lately")
        return JSONResponse({"ready": not wrong, "wrong": wrong}, 503 if wrong else 200)

    async def _writes(self, now: datetime) -> bool:
        """Whether one small write is on disk in time. A write that hangs is not joined by others,
        and never cancelled: it belongs to the writing thread."""
        if self._writing is None or self._writing.done():
            write = self._app.writer.run(keep_cursor, "readiness", now.isoformat())
            self._writing = asyncio.ensure_future(write)
        try:
            await asyncio.wait_for(asyncio.shield(self._writing), WRITE_SECONDS)
        except Exception:  # whatever it is that the store cannot do
            return False
        return True

    async def metrics(self, _: Request) -> Response:
        """The numbers, read beside the writer on a connection of its own."""
        text = await asyncio.to_thread(_metrics, self._path, self._app.clock.now())
        return Response(text, media_type=CONTENT_TYPE_LATEST)


def _metrics(path: Path, now: datetime) -> bytes:
    store = Store(path, read_only=True)
    try:
        return metrics_text(store, now)
    finally:
        store.close()


class WebServer(uvicorn.Server):
    """Serves one application on one address until cancelled. The program's own handling of signals
    stays: it ends this server by cancelling `run`.

    `proxies`: who may say for whom they ask (X-Forwarded-For). Raises PortTakenError.
    """

    def __init__(
        self, application: Starlette, host: str, port: int, proxies: Sequence[str] = LOOPBACK
    ) -> None:
        self._listening = _listening(host, port)
        super().__init__(
            uvicorn.Config(
                application,
                access_log=False,  # its lines would hold secrets and what patients write
                log_config=None,
                log_level="warning",
                lifespan="off",
                server_header=False,
                proxy_headers=True,
                forwarded_allow_ips=list(proxies),
                limit_concurrency=CONNECTIONS_MAX,
                timeout_graceful_shutdown=CLOSE_SECONDS,
            )
        )

    @property
    def port(self) -> int:
        """The port it listens on."""
        return int(self._listening.getsockname()[1])

    @contextlib.contextmanager
    def capture_signals(self) -> Iterator[None]:
        """Leave the signals to the program."""
        yield

    async def run_until_cancelled(self) -> None:
        """Serve; when cancelled, answer what has come in and close."""
        serving = asyncio.create_task(self.serve(sockets=[self._listening]))
        try:
            await asyncio.shield(serving)
            # Without its doors the bot would be deaf and look well: better that it ends.
            raise RuntimeError("the web server stopped by itself")
        finally:
            self.should_exit = True
            await serving
            self._listening.close()


def _listening(host: str, port: int) -> socket.socket:
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    listening = socket.socket(family, socket.SOCK_STREAM)
    try:
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listening.bind((host, port))
        listening.listen(128)
    except OSError as error:
        listening.close()
        why = (error.strerror or str(error)).lower()
        raise PortTakenError(f"web.port: {host}:{port} cannot be used, {why}") from error
    return listening
