"""Shows what a change of a plan will say to the patient before it is sent: the command is carried
out as it would be, its YES included, what it wrote to the patient is read, and all of it is undone.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from bot.clinicians.message import answer
from bot.clinicians.request import Reply, Request
from bot.ports import Button
from bot.web.page.shown import Shown
from dialogs.lines import page_line

FORESEEN = frozenset(
    {
        "level", "limit", "pause", "pause-open", "resume", "rest", "go-on", "slower", "usual-pace",
        "hops", "lift", "discharge",
    }
)  # fmt: skip
"""The forms that change a plan."""


@dataclass
class _Undone(Exception):  # noqa: N818 - not an error: it ends the savepoint
    first: Reply
    told: str


def foreseen(request: Request, asked: str) -> Shown:
    """What would be said, with the button that does it. Where a YES is asked for anyway, that is
    the button; what cannot be done is refused as in chat."""
    found = _tried(request, asked)
    language = request.person.language
    if found.first.said.template == "clinician/refused":
        return _answered(request, asked)
    if found.told:
        told = page_line("would-tell", language, told=found.told)
    else:
        told = page_line("would-tell-nothing", language)
    if found.first.said.template == "clinician/confirm":
        shown = _answered(request, asked)
        return replace(shown, words=f"{shown.words}\n\n{told}")
    words = f"{page_line('not-done', language)} {told}"
    return Shown(asked, words, ((Button(page_line("do-it", language), asked),),))


def _answered(request: Request, asked: str) -> Shown:
    _, reply = answer(request, asked)
    return Shown(asked, request.words(request.person, reply.said), reply.buttons)


def _tried(request: Request, asked: str) -> _Undone:
    store = request.store
    try:
        with store.savepoint():
            last = store.one("SELECT coalesce(max(id), 0) AS id FROM outbox", {}, "count")["id"]
            _, first = answer(request, asked)
            if first.said.template == "clinician/confirm":
                answer(request, first.buttons[0][0].payload)
            sql = """
            SELECT text FROM outbox JOIN people ON people.id = person
            WHERE outbox.id > :last AND role = 'patient' ORDER BY outbox.id
            """
            told = [row["text"] for row in store.rows(sql, {"last": last})]
            raise _Undone(first, "\n\n".join(told))
    except _Undone as found:
        return found
