"""The doors of the clinic page: who may come in, which screen they see, which form is taken.

In comes whoever opens a link that the bot gave them on a verified channel; then a cookie says who
they are. A form is taken with the token of its session only. Read next: `screens`, `acts`.
"""

from __future__ import annotations

import asyncio
import secrets
from collections import OrderedDict
from collections.abc import Awaitable, Callable, Mapping
from contextlib import closing
from dataclasses import replace
from datetime import datetime, timedelta
from hashlib import sha256
from importlib.resources import files
from pathlib import Path
from typing import Any
from urllib.parse import parse_qsl

from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from bot.app import App
from bot.channels.intake import Rate, same_secret, turned_away
from bot.clinicians.page_link import ENTRY
from bot.clinicians.roles import Right, may
from bot.errors import BotError
from bot.operations.custom_wording import read_wording
from bot.store import page_keys
from bot.store.database import Store
from bot.store.people import Person
from bot.web.limits import ENTRIES_MAX, ENTRIES_SECONDS
from bot.web.page import acts, documents, screens
from bot.web.page.passkeys import Passkeys
from bot.web.page.rendering import rendered
from bot.web.page.shown import Shown
from dialogs.lines import page_line

HOME = "/page"

HEADERS = {
    "Content-Security-Policy": (
        "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; "
        "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
    ),
    "Cache-Control": "no-store",
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}

# Replies that wait for their screen [count, at most]; the oldest goes first. Convention.
REPLIES_MAX = 200

# Screens that wait for a passkey [count, at most]; the oldest goes first. Convention.
ASKED_MAX = 1000

Form = Mapping[str, str]
Door = Callable[[Request], Awaitable[Response]]
Settle = Callable[[], Awaitable[None]]


class ClinicPage:
    """All doors of one bot's page. `path`: the store's file, read beside the writer. `settle`:
    carries out what was written, where nothing else does."""

    def __init__(self, app: App, path: Path, settle: Settle | None = None) -> None:
        self._app, self._path, self._settle = app, path, settle
        self._secure = app.clinic.page_url.startswith("https://")
        self._cookie = "__Host-nextmorning" if self._secure else "nextmorning"
        self._entries = Rate(ENTRIES_MAX, ENTRIES_SECONDS)
        self._replies: OrderedDict[str, Shown] = OrderedDict()
        self._asked: OrderedDict[str, datetime] = OrderedDict()

    def routes(self) -> list[Route | Mount]:
        """Everything under /page."""
        static = StaticFiles(directory=str(files("bot.web").joinpath("static", "page")))
        one = f"{HOME}/patients/{{patient:int}}"
        return [
            Route(ENTRY, self._ask_in),
            Route(ENTRY, self._let_in, methods=["POST"]),
            Route(f"{HOME}/passkey", self._keep_passkey, methods=["POST"]),
            Route(HOME, self._screen(screens.today)),
            Route(f"{HOME}/patients", self._screen(screens.patients)),
            Route(f"{HOME}/enrol", self._screen(screens.enrol)),
            Route(one, self._screen(screens.one_patient)),
            Route(f"{HOME}/clinic", self._screen(screens.clinic)),
            Route(f"{HOME}/wording", self._screen(screens.wording)),
            *(Route(f"{one}/{name}", self._document(name)) for name in documents.DOCUMENTS),
            Route(f"{HOME}/do", self._do, methods=["POST"]),
            Mount(f"{HOME}/static", static),
        ]

    # Coming in.

    async def _ask_in(self, request: Request) -> Response:
        """A button, and no more: programs that look at links must not use them up."""
        token = secrets.token_urlsafe(24)
        self._asked[token] = self._app.clock.now()
        while len(self._asked) > ASKED_MAX:
            self._asked.popitem(last=False)
        passkeys = self._passkeys
        asked = passkeys.ask_to_use(token) if passkeys.offered else ""
        key = request.query_params.get("key", "")
        text = self._words("in.html", key=key, in_token=token, passkey=asked)
        answer = HTMLResponse(text, headers=HEADERS)
        self._keep(answer, f"{self._cookie}-in", token, minutes=page_keys.LINK_MINUTES)
        return answer

    async def _let_in(self, request: Request) -> Response:
        if not await self._entries.allows(request.client.host if request.client else ""):
            return turned_away(429)
        form = await _form(request)
        wanted = request.cookies.get(f"{self._cookie}-in", "")
        session, run, now = None, self._app.writer.run, self._app.clock.now()
        if wanted and same_secret(form.get("token", ""), wanted):
            if given := form.get("credential", ""):
                asked_at = self._asked.pop(wanted, None)
                if asked_at and now - asked_at < timedelta(minutes=page_keys.LINK_MINUTES):
                    session = await run(self._passkeys.let_in, given, wanted, now)
            else:
                session = await run(page_keys.open_session, form.get("key", ""), now)
        if session is None:
            return self._outside("link-over")
        answer = RedirectResponse(HOME, 303, HEADERS)
        self._keep(answer, self._cookie, session, minutes=60 * page_keys.SESSION_HOURS)
        return answer

    async def _keep_passkey(self, request: Request) -> Response:
        """Keep what the browser made, for whoever is in."""
        key, now = self._key(request), self._app.clock.now()
        form = await _form(request)
        person = await self._read(lambda store: page_keys.session_of(store, key, now))
        if person is None:
            return self._outside("out")
        token = _token(key)
        if not same_secret(form.get("token", ""), token):
            return self._outside("not-taken", 403)
        given = form.get("credential", "")
        kept = await self._app.writer.run(self._passkeys.keep, person, given, token, now)
        line = page_line("passkey-kept" if kept else "passkey-not-kept", person.language)
        self._replies[_hashed(key)] = Shown("", line)
        return RedirectResponse(f"{HOME}/clinic", 303, HEADERS)

    @property
    def _passkeys(self) -> Passkeys:
        clinic = self._app.clinic
        return Passkeys(clinic.page_url, clinic.name)

    def _keep(self, answer: Response, name: str, value: str, minutes: int) -> None:
        answer.set_cookie(
            name,
            value,
            max_age=60 * minutes,
            path="/",
            secure=self._secure,
            httponly=True,
            samesite="strict",
        )

    # Screens.

    def _screen(self, screen: screens.Screen) -> Door:
        """Who may not read about patients sees the clinic's own state instead."""

        async def door(request: Request) -> Response:
            key, now = self._key(request), self._app.clock.now()
            reply = self._reply(_hashed(key), request.url.path)

            def read(store: Store) -> str | None:
                person = page_keys.session_of(store, key, now)
                if person is None:
                    return None
                look = self._look(store, person, now, request)
                shown = screen(look) if look.reads else screens.clinic(look)
                return rendered(shown, look, token=_token(key), reply=reply)

            try:
                text = await self._read(read)
            except BotError:
                return self._outside("not-there", 404)
            return self._outside("out") if text is None else HTMLResponse(text, headers=HEADERS)

        return door

    def _document(self, name: str) -> Door:
        async def door(request: Request) -> Response:
            key, now = self._key(request), self._app.clock.now()

            def read(store: Store) -> tuple[Person, documents.Document] | None:
                person = page_keys.session_of(store, key, now)
                if person is None or not may(person, Right.READ):
                    return None
                look = self._look(store, person, now, request)
                return person, documents.DOCUMENTS[name](look.case(), look.language)

            try:
                found = await self._read(read)
            except BotError:
                return self._outside("not-there", 404)
            if found is None:
                return self._outside("out")
            person, document = found
            if document.leaves:
                patient = int(request.path_params["patient"])
                await self._app.writer.run(acts.note_export, person, patient, name, now)
            return Response(document.text, headers={**HEADERS, **document.headers()})

        return door

    def _look(self, store: Store, person: Person, now: datetime, request: Request) -> screens.Look:
        return screens.Look(
            store, self._app.clinic, person, now, request.path_params, request.query_params,
            self._app.ticked_at, self._ask_to_make(store, person, _token(self._key(request))),
        )  # fmt: skip

    def _ask_to_make(self, store: Store, person: Person, token: str) -> str:
        passkeys = self._passkeys
        return passkeys.ask_to_make(store, person, token) if passkeys.offered else ""

    def _reply(self, session: str, place: str) -> Shown | None:
        """What the bot answered, shown once; but letters, which nobody can read again, stay on
        their screen until the next form."""
        found = self._replies.get(session)
        if found is None or not found.letters:
            return self._replies.pop(session, None)
        return found if place == f"{HOME}/enrol" else None

    # What forms ask for.

    async def _do(self, request: Request) -> Response:
        """Carry out what a form asks for, as in chat; the reply stands on the next screen."""
        key, now = self._key(request), self._app.clock.now()
        form = await _form(request)
        person = await self._read(lambda store: page_keys.session_of(store, key, now))
        if person is None:
            return self._outside("out")
        if not same_secret(form.get("token", ""), _token(key)):
            return self._outside("not-taken", 403)
        clinic = self._app.clinic
        shown = await self._app.writer.run(acts.carry_out_form, clinic, person, form, now)
        if form.get("act") == "word" and clinic.wording_folder is not None:
            wording, _ = await asyncio.to_thread(read_wording, clinic.wording_folder)
            self._app.clinic = replace(clinic, wording=wording)
        self._app.wake()
        if self._settle is not None:
            await self._settle()
        if shown is None:
            return RedirectResponse(HOME, 303, HEADERS)
        self._replies[_hashed(key)] = shown
        while len(self._replies) > REPLIES_MAX:
            self._replies.popitem(last=False)
        return RedirectResponse(_inside(form.get("back", "")), 303, HEADERS)

    # What all share.

    async def _read(self, work: Callable[[Store], Any]) -> Any:
        """Read beside the writer, in a thread and on a connection of its own."""

        def read() -> Any:
            with closing(Store(self._path, read_only=True)) as store:
                return work(store)

        return await asyncio.to_thread(read)

    def _key(self, request: Request) -> str:
        return request.cookies.get(self._cookie, "")

    def _outside(self, why: str, status: int = 401) -> Response:
        """A sentence for somebody who is not let in, or not to this."""
        text = self._words("out.html", why=page_line(why, self._app.clinic.language))
        return HTMLResponse(text, status, HEADERS)

    def _words(self, template: str, **values: object) -> str:
        clinic = self._app.clinic
        return rendered(screens.Shown(template, values), None, clinic=clinic)


async def _form(request: Request) -> Form:
    """The fields of a posted form, the last of each name. Its length is limited before."""
    body = (await request.body()).decode("utf-8", "replace")
    return dict(parse_qsl(body, keep_blank_values=True))


def _inside(place: str) -> str:
    """Where to go on: on this page and nowhere else."""
    known = place == HOME or place.startswith((f"{HOME}/", f"{HOME}?"))
    return place if known and "\\" not in place and place.isprintable() else HOME


def _token(key: str) -> str:
    """What the forms of a session carry. It is worked out of a key that only its cookie holds."""
    return _hashed(f"form {key}")


def _hashed(text: str) -> str:
    return sha256(text.encode()).hexdigest()
