"""The list of who needs somebody in chat: ten people a message, MORE for the next ten, and "done
for now", which keeps somebody from this clinician's list until there is more to see.

What was shown counts as seen. An open escalation is never set aside: it is taken and closed.
Read next: `worklist`, which ranks.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta

from bot.clinicians.need import found_of
from bot.clinicians.refusal import NotDoneError
from bot.clinicians.request import Reply, Request
from bot.clinicians.roles import Right, demand
from bot.clinicians.worklist import Entry, Worklist, entry_lines, worklist
from bot.ports import Button
from bot.store import inbox, looks
from dialogs.clinician_commands import SetAside, WhyNot
from dialogs.lines import line
from dialogs.turn import Said
from dialogs.words import shipped_words

# People in one message [count, at most].
ENTRIES_MAX = 10

# How far back messages from unknown senders are counted [days]. Convention.
STRANGERS_DAYS = 7


def list_needs(request: Request) -> Reply:
    """The first page, those most in need first."""
    demand(request.person, Right.READ)
    listed = _worklist(request)
    return _page(request, listed, listed.entries)


def list_more(request: Request) -> Reply:
    """The next page, of those who were on the list when it was asked for. Raises NotDoneError
    where nothing is left of it."""
    demand(request.person, Right.READ)
    waiting = looks.rest(request.store, request.person.id)
    if not waiting:
        raise NotDoneError(WhyNot.NO_MORE)
    listed = _worklist(request)
    still = {entry.person: entry for entry in listed.entries}
    rest = [replace(still[one], new=new) for one, new in waiting.items() if one in still]
    return _page(request, listed, rest)


def set_aside(request: Request, command: SetAside) -> Reply:
    """Done for now. Raises NotDoneError for somebody who is not listed, and while an escalation of
    theirs is open."""
    demand(request.person, Right.READ)
    case = request.case(command.patient)
    entry = Entry(case.patient.id, case.patient.name, found_of(case).needs)
    if not entry.needs:
        raise NotDoneError(WhyNot.NOT_LISTED, patient=case.patient.name)
    if entry.is_open:
        numbers = ", ".join(str(need.escalation) for need in entry.needs if need.escalation)
        raise NotDoneError(WhyNot.STILL_OPEN, patient=case.patient.name, numbers=numbers)
    see(request, [entry])
    looks.set_aside(request.store, request.person.id, entry.person, request.now)
    request.audit("set aside", patient=entry.person)
    return Reply(Said("clinician/set-aside", {"patient": entry.patient}))


def see(request: Request, entries: Sequence[Entry]) -> None:
    """Keep that this clinician has seen these people's reasons."""
    for entry in entries:
        looks.keep(request.store, request.person.id, entry.person, entry.reasons, request.now)


def last_lines(request: Request, listed: Worklist) -> list[str]:
    """What stands below the last person: what was set aside, and messages of strangers."""
    language = request.person.language
    since = request.now - timedelta(days=STRANGERS_DAYS)
    unknown = inbox.strangers(request.store, since)
    lines = []
    if listed.aside:
        lines.append(line("set-aside", language, count=len(listed.aside)))
    if unknown:
        lines.append(line("strangers", language, count=unknown, days=STRANGERS_DAYS))
    return lines


def _worklist(request: Request) -> Worklist:
    return worklist(request.store, request.clinic, request.now, request.person)


def _page(request: Request, listed: Worklist, entries: Sequence[Entry]) -> Reply:
    language = request.person.language
    shown, rest = entries[:ENTRIES_MAX], entries[ENTRIES_MAX:]
    lines = entry_lines(shown, language)
    buttons: tuple[tuple[Button, ...], ...] = ()
    if rest:
        lines.append(line("more-needs", language, count=len(rest)))
        buttons = ((Button(shipped_words(language).buttons["more"], "more"),),)
    else:
        lines += last_lines(request, listed)
    see(request, shown)
    new = {entry.person: entry.new for entry in rest}
    looks.keep_rest(request.store, request.person.id, new, request.now)
    text = "\n".join(lines or [line("nobody-waits", language)])
    return Reply(Said("clinician/needs", {"lines": text}), buttons)
