"""The rehearsal page, on this machine's loopback address only: two threads, a clock, the reasons.

Reads views and passes on what is typed or pressed; decides nothing. Works as plain forms; the
script on the page only spares the reload. Others' pages in the same browser can neither read it
(the Host is checked) nor post to it (Origin and a token of this run are).
Read next: `bot.rehearsal.history`, which holds what is shown.
"""

from __future__ import annotations

import errno
import secrets
import socket
from collections.abc import Awaitable, Callable, Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from importlib.resources import files
from pathlib import Path
from urllib.parse import parse_qsl, urlencode

import uvicorn
from jinja2 import Environment, PackageLoader, StrictUndefined
from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.middleware.trustedhost import TrustedHostMiddleware
from starlette.requests import Request
from starlette.responses import HTMLResponse, PlainTextResponse, RedirectResponse, Response
from starlette.routing import BaseRoute, Mount, Route
from starlette.staticfiles import StaticFiles

from bot.errors import PortTakenError
from bot.rehearsal.clinic import CLINICIANS, PATIENTS
from bot.rehearsal.history import Echo, Rehearsal, open_rehearsal
from bot.rehearsal.stage import CHAT
from bot.rehearsal.thread import pressed_button
from bot.rehearsal.view import Chosen, read_page
from bot.store import pictures
from bot.web.page.doors import ClinicPage
from rules.prompt_times import instant

ADDRESS = "127.0.0.1"
HOSTS = [ADDRESS, "localhost"]

# Longest text taken from the page, and longest form [characters, bytes]. Convention: longer than
# any message that a phone sends.
TEXT_MAX = 4000
FORM_MAX = 32_000

# Farthest that time is moved in one go [days]: the page waits for it.
DAYS_AHEAD_MAX = 60

# How long open connections are waited for at the end [seconds].
CLOSE_SECONDS = 1

HEADERS = {
    "Content-Security-Policy": (
        "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; "
        "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
    ),
    "Cache-Control": "no-store",
    "Referrer-Policy": "same-origin",
    "X-Content-Type-Options": "nosniff",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}

NOTICES = {
    "empty": "Nothing was written, so nothing was sent.",
    "long": f"A message here may have {TEXT_MAX} characters at most. Nothing was sent.",
    "gone": "That button is no longer there. Nothing was sent.",
    "unread": "That is not a date and time. Time was not moved.",
    "past": "Time only goes forward here. Choose a later date or time.",
    "far": f"At most {DAYS_AHEAD_MAX} days at once. Time was not moved.",
}

Form = Mapping[str, str]
Act = Callable[[Rehearsal, Form], Awaitable[str]]
"""Does what a form asks for; gives the key of a notice, or an empty text where it went well."""


async def run_page(path: Path, port: int, echo: Echo) -> None:
    """Live the history in a new store at `path`, then serve the page until interrupted.

    Raises PortTakenError before any history is lived. `port` 0: any free one.
    """
    with listening_socket(port) as listening:
        echo("Living some weeks of a made-up clinic first. This takes a few seconds.")
        async with open_rehearsal(path, echo=echo) as rehearsal:
            address = f"http://{ADDRESS}:{listening.getsockname()[1]}"
            echo(f"Open {address}/ (Ctrl-C ends it). PAGE from a clinician gives another page.")
            await page_server(rehearsal, address).serve(sockets=[listening])


def page_server(rehearsal: Rehearsal, address: str = "") -> uvicorn.Server:
    """A server for the page, in the event loop of the rehearsal. `address`: its own, for the clinic
    page beside it."""
    return uvicorn.Server(
        uvicorn.Config(
            page_app(rehearsal, address),
            log_level="warning",
            lifespan="off",
            server_header=False,
            timeout_graceful_shutdown=CLOSE_SECONDS,
        )
    )


def listening_socket(port: int) -> socket.socket:
    """A socket that listens on the loopback address. Raises PortTakenError."""
    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listening.bind((ADDRESS, port))
        listening.listen()
    except OSError as error:
        listening.close()
        why = "another program listens there"
        if error.errno != errno.EADDRINUSE:
            why = (error.strerror or str(error)).lower()
        raise PortTakenError(
            f"port {port} cannot be used, {why}; choose another one with --port"
        ) from error
    return listening


def page_app(rehearsal: Rehearsal, address: str = "") -> Starlette:
    """The page as an ASGI application, with the clinic page under `address`, where one is given."""
    page = _Page(rehearsal)
    acts: Mapping[str, Act] = {
        "say": _say,
        "press": _press,
        "next": _next,
        "day": _day,
        "go": _go,
        "alone": _alone,
    }
    routes: list[BaseRoute] = [
        Route("/", page.show),
        Route("/picture/{number:int}", page.picture),
        *(Route(f"/{name}", page.posted(act), methods=["POST"]) for name, act in acts.items()),
        Mount("/static", StaticFiles(directory=str(files("bot.web").joinpath("static")))),
    ]
    if address:
        routes += _clinic_page(rehearsal, address)
    hosts = Middleware(TrustedHostMiddleware, allowed_hosts=HOSTS, www_redirect=False)
    return Starlette(routes=routes, middleware=[hosts])


def _clinic_page(rehearsal: Rehearsal, address: str) -> Sequence[BaseRoute]:
    rehearsal.clinic = rehearsal.app.clinic = replace(rehearsal.clinic, page_url=address)

    async def settle() -> None:
        async with rehearsal.turn:
            await rehearsal.settle()

    return ClinicPage(rehearsal.app, rehearsal.writer.path, settle).routes()


class _Page:
    def __init__(self, rehearsal: Rehearsal) -> None:
        self._rehearsal = rehearsal
        self._token = secrets.token_urlsafe(24)
        environment = Environment(
            loader=PackageLoader("bot.web"),
            autoescape=True,
            undefined=StrictUndefined,
            trim_blocks=True,
            lstrip_blocks=True,
        )
        environment.filters["day"] = _day_in_words
        self._template = environment.get_template("rehearsal.html")

    async def show(self, request: Request) -> Response:
        """The whole page, as things stand."""
        query = request.query_params
        async with self._rehearsal.turn:
            chosen = self._chosen(query)
            view = await self._rehearsal.run(
                read_page, self._rehearsal.clinic, self._rehearsal.now, chosen
            )
        text = self._template.render(
            view=view,
            token=self._token,
            notice=NOTICES.get(query.get("notice", ""), ""),
            whole=chosen.whole,
            text_max=TEXT_MAX,
        )
        return HTMLResponse(text, headers=HEADERS)

    async def picture(self, request: Request) -> Response:
        """A picture that went out with a message; 404 where there is none of this number."""
        number = int(request.path_params["number"])
        drawn = await self._rehearsal.run(pictures.png, number)
        if drawn is None:
            return PlainTextResponse("there is no picture of this number", 404, HEADERS)
        kind = "image/svg+xml" if drawn.startswith(b"<svg") else "image/png"
        return Response(drawn, media_type=kind, headers=HEADERS)

    def posted(self, act: Act) -> Callable[[Request], Awaitable[Response]]:
        """The door of one form: checked, done with nobody else moving time, then the page again."""

        async def answer(request: Request) -> Response:
            if not _same_origin(request):
                return PlainTextResponse("this page takes forms of its own only", 403, HEADERS)
            form = await _form(request)
            if form is None:
                return PlainTextResponse("the form is too long", 413, HEADERS)
            if not secrets.compare_digest(form.get("token", "").encode(), self._token.encode()):
                return PlainTextResponse("this form is of an earlier run; reload", 403, HEADERS)
            async with self._rehearsal.turn:
                notice = await act(self._rehearsal, form)
            return RedirectResponse(_address(form, notice), 303, HEADERS)

        return answer

    def _chosen(self, query: Mapping[str, str]) -> Chosen:
        people = self._rehearsal.patients.items()
        return Chosen(
            patient=query.get("patient", PATIENTS[0].name.lower()),
            clinician=query.get("clinician", CLINICIANS[0].channels[0][1]),
            alone=frozenset(address for address, person in people if person.answers_alone),
            coming=self._rehearsal.coming(),
            whole=query.get("whole", "") == "1",
        )


def _same_origin(request: Request) -> bool:
    """Whether a page of ours sent it. Browsers name the origin of every form they post."""
    origin = request.headers.get("origin")
    if origin is None:
        return request.headers.get("sec-fetch-site") == "same-origin"
    return origin == f"http://{request.headers.get('host', '')}"


async def _form(request: Request) -> Form | None:
    """The fields of a posted form, the last of each name; None if it is too long."""
    body = b""
    async for part in request.stream():
        body += part
        if len(body) > FORM_MAX:
            return None
    return dict(parse_qsl(body.decode("utf-8", "replace"), keep_blank_values=True))


def _address(form: Form, notice: str) -> str:
    """The page that shows the same two people, where the reader was."""
    shown = {name: form[name] for name in ("patient", "clinician", "whole") if form.get(name)}
    if notice:
        shown["notice"] = notice
    place = form.get("place", "")
    return f"/?{urlencode(shown)}{'#' + place if place.isalpha() else ''}"


def _day_in_words(at: date) -> str:
    """The date without its year, e.g. Thursday 5 March."""
    return f"{at:%A} {at.day} {at:%B}"


# What the forms do.


async def _say(rehearsal: Rehearsal, form: Form) -> str:
    """Somebody types. Whoever is typed for no longer answers alone."""
    text, address = form.get("text", "").strip(), form.get("address", "")
    if not text:
        return "empty"
    if len(text) > TEXT_MAX:
        return "long"
    if not _is_known(rehearsal, address):
        return "gone"
    _take_over(rehearsal, address)
    await rehearsal.say(CHAT, address, text)
    return ""


async def _press(rehearsal: Rehearsal, form: Form) -> str:
    """Somebody presses a button of a message that reached them."""
    try:
        number, place = int(form.get("message", "")), int(form.get("button", ""))
    except ValueError:
        return "gone"
    found = await rehearsal.run(pressed_button, number, place)
    if found is None:
        return "gone"
    channel, address, button = found
    _take_over(rehearsal, address)
    await rehearsal.say(channel, address, button.label, button.payload)
    return ""


async def _next(rehearsal: Rehearsal, _form: Form) -> str:
    """To the next instant at which something is due."""
    await rehearsal.go_to_next()
    return ""


async def _day(rehearsal: Rehearsal, _form: Form) -> str:
    """To the same wall-clock time tomorrow, which is 23 or 25 hours where clocks change."""
    zone = rehearsal.clinic.zone_info
    local = rehearsal.now.astimezone(zone)
    await rehearsal.go_to(instant(local.date() + timedelta(days=1), local.time(), zone))
    return ""


async def _go(rehearsal: Rehearsal, form: Form) -> str:
    """To a given date and time on the clinic's clock."""
    try:
        wanted = datetime.fromisoformat(f"{form.get('on', '')}T{form.get('at', '')}")
        target = instant(wanted.date(), wanted.time(), rehearsal.clinic.zone_info)
    except (ValueError, OverflowError):
        return "unread"
    if target <= rehearsal.now:
        return "past"
    if target - rehearsal.now > timedelta(days=DAYS_AHEAD_MAX):
        return "far"
    await rehearsal.go_to(target)
    return ""


async def _alone(rehearsal: Rehearsal, form: Form) -> str:
    """Whether a patient answers by themselves from now on."""
    person = rehearsal.patients.get(form.get("address", ""))
    if person is None:
        return "gone"
    person.answers_alone = form.get("alone") == "1"
    return ""


def _is_known(rehearsal: Rehearsal, address: str) -> bool:
    chats = {
        address for cast in CLINICIANS for channel, address in cast.channels if channel == CHAT
    }
    return address in chats or address in rehearsal.patients


def _take_over(rehearsal: Rehearsal, address: str) -> None:
    if (person := rehearsal.patients.get(address)) is not None:
        person.answers_alone = False
