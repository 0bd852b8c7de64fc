"""A clinician takes escalations and writes about them: "I have it", "I have them all", "note 12
...".

The first acknowledgement counts; whoever comes later hears whose the escalation is. The patient and
everyone who was told hear of it. Read next: `close_escalation`.
"""

from __future__ import annotations

from collections.abc import Sequence

from bot.clinicians.close_escalation import closable, close, closed_before, outcome_buttons
from bot.clinicians.refusal import NotDoneError
from bot.clinicians.request import Reply, Request
from bot.clinicians.roles import Right, demand
from bot.escalations.notify import is_listed, title_of
from bot.ports import Button
from bot.store import escalations, notices, people
from bot.store.confirmations import Confirmation
from bot.store.escalations import Escalation
from bot.store.notices import NoticeKind
from dialogs.clinician_commands import Acknowledge, AddNote, CloseEscalation, HandOver, WhyNot
from dialogs.turn import Said, Value
from dialogs.words import shipped_words


def acknowledge(request: Request, command: Acknowledge) -> Reply:
    """The clinician has it, or all that waits; raises NotDoneError where it is not clear which."""
    demand(request.person, Right.TAKE)
    if command.every:
        return _acknowledge_all(request)
    if command.note and command.number is not None:
        add_note(request, AddNote(command.number, command.note))
    if command.more:
        reply = acknowledge(request, Acknowledge(command.number))
        request.tell(request.person, reply.said, reply.buttons)
        return acknowledge(request, Acknowledge(command.more[0], more=command.more[1:]))
    escalation = _meant(request, command.number, takeable(request) or closable(request))
    if not escalations.acknowledge(request.store, escalation.id, request.person.id, request.now):
        return _taken_before(request, escalations.get(request.store, escalation.id))
    (told,) = _took(request, [escalation])
    _tell_others(request, [escalation])
    return _has(request, escalation, told)


def takeable(request: Request) -> list[Escalation]:
    """What "I have it" without a number may mean: alarms that nobody has and what a colleague asks
    to be taken; where there are none, what is only listed."""
    store = request.store
    waiting = escalations.unacknowledged(store)
    offered = [
        one
        for one in escalations.not_closed(store)
        if one.acknowledged_by not in (None, request.person.id)
        and escalations.is_offered(store, one.id, request.person.id)
    ]
    return [*(one for one in waiting if not is_listed(one)), *offered] or waiting


def _acknowledge_all(request: Request) -> Reply:
    """All that this clinician was told of and nobody has, alarms first."""
    waiting = escalations.unacknowledged(request.store)
    taken = [one for one in waiting if request.person.id in _told(request, one)]
    if not taken and takeable(request):
        raise NotDoneError(WhyNot.WHICH_ONE, names=_lines(request, takeable(request)[:5]))
    if not taken:
        raise NotDoneError(WhyNot.NOTHING_LISTED)
    for escalation in taken:
        escalations.acknowledge(request.store, escalation.id, request.person.id, request.now)
    names = (request.name(one.patient) for one in taken)
    told = list(zip(names, _took(request, taken), strict=True))
    _tell_others(request, taken)
    values: dict[str, Value] = {
        "lines": _lines(request, taken),
        "number": taken[0].id,
        "told": next((words for _, words in told if words), ""),
        "untold": ", ".join(dict.fromkeys(name for name, words in told if not words)),
    }
    return Reply(Said("clinician/acknowledged-all", values))


def hand_over(request: Request, command: HandOver) -> Reply:
    """Ask a colleague to take it. Raises NotDoneError unless this clinician has it, and exactly one
    colleague is meant."""
    demand(request.person, Right.TAKE)
    escalation = request.escalation(command.number)
    if escalation.acknowledged_by != request.person.id or escalation.closed_at is not None:
        raise NotDoneError(WhyNot.NOT_HELD, number=command.number)
    others = [
        one
        for one in people.by_role(request.store, *people.CLINICAL)
        if one.id != request.person.id and one.opted_out_at is None
    ]
    named = [one for one in others if command.to.casefold() in one.name.casefold().split()]
    named = [one for one in others if one.name.casefold() == command.to.casefold()] or named
    if len(named) != 1:
        names = ", ".join(one.name for one in others)
        raise NotDoneError(WhyNot.NO_COLLEAGUE, wanted=command.to, names=names)
    (to,) = named
    escalations.offer(request.store, escalation.id, to.id, request.person.id, request.now)
    request.audit("offered", escalation=escalation.id, to=to.id)
    who = _who(request, escalation)
    title = title_of(request.clinic, escalation, to.language).rstrip(".")
    since = escalation.raised_at.astimezone(request.clinic.zone_info)
    values = {**who, "by": request.person.name, "title": title, "since": since}
    shown = shipped_words(to.language).buttons["have"]
    button = ((Button(shown, f"i have it {escalation.id}"),),)
    request.tell(to, Said("clinician/offered", values), button)
    return Reply(Said("clinician/given", {**who, "by": to.name}))


def _take_over(request: Request, held: Escalation) -> Reply:
    """A colleague asked for it: the escalation changes hands, and whoever had it hears so."""
    escalations.hand_over(request.store, held.id, request.person.id, request.now)
    (told,) = _took(request, [held])
    values = {**_who(request, held), "by": request.person.name}
    request.tell(
        people.person(request.store, held.acknowledged_by or 0),
        Said("clinician/handed-over", values),
    )
    return _has(request, held, told)


def _taken_before(request: Request, held: Escalation) -> Reply:
    if escalations.is_offered(request.store, held.id, request.person.id) and held.closed_at is None:
        return _take_over(request, held)
    who = _who(request, held)
    if held.closed_at is not None:
        return closed_before(request, held)
    if held.acknowledged_by == request.person.id:
        return _has(request, held, "")
    assert held.acknowledged_at is not None
    assert held.acknowledged_by is not None
    at = held.acknowledged_at.astimezone(request.clinic.zone_info)
    values = {**who, "by": request.name(held.acknowledged_by), "at": f"{at:%H:%M}"}
    return Reply(Said("clinician/taken", values))


def close_meant(
    request: Request, command: CloseEscalation, text: str, confirmed: Confirmation | None
) -> Reply:
    """Close the escalation that is meant; whoever was told of one that nobody had hears so."""
    demand(request.person, Right.CLOSE)
    escalation = _meant(request, command.number, closable(request))
    reply = close(request, escalation, command, text, confirmed)
    taken = escalations.get(request.store, escalation.id).acknowledged_by == request.person.id
    if escalation.acknowledged_at is None and taken:
        _tell_others(request, [escalation])
    return reply


def add_note(request: Request, command: AddNote) -> Reply:
    """Keep the clinician's words with the escalation, before or after it is closed."""
    demand(request.person, Right.CLOSE)
    escalation = request.escalation(command.number)
    kind, person = NoticeKind.NOTE, request.person.id
    notices.note(request.store, escalation.id, kind, request.now, person=person, note=command.note)
    return Reply(Said("clinician/note-kept", _who(request, escalation)))


def _meant(request: Request, number: int | None, waiting: list[Escalation]) -> Escalation:
    """The escalation a command is about. Without a number: the only one that waits."""
    if number is not None:
        return request.escalation(number)
    if len(waiting) == 1:
        return waiting[0]
    if not waiting:
        raise NotDoneError(WhyNot.NOTHING_OPEN)
    raise NotDoneError(WhyNot.WHICH_ONE, names=_lines(request, waiting[:5]))


def _has(request: Request, escalation: Escalation, told: str) -> Reply:
    values = {**_who(request, escalation), "told": told, "stops": escalation.stops_loading}
    return Reply(Said("clinician/acknowledged", values), outcome_buttons(request, escalation))


def _took(request: Request, taken: Sequence[Escalation]) -> list[str]:
    """Tell the patients; gives what each was told, word for word."""
    for escalation in taken:
        request.audit("acknowledged", escalation=escalation.id)
    said = Said("told/acknowledged", {"by": request.person.name})
    return [request.tell_patient(escalation, said) for escalation in taken]


def _told(request: Request, escalation: Escalation) -> set[int]:
    """Who was told of the escalation."""
    rows = notices.history(request.store, escalation.id, NoticeKind.TOLD)
    return {row["person"] for row in rows}


def _tell_others(request: Request, taken: Sequence[Escalation]) -> None:
    """Whoever was told hears once that somebody has it, or all of them."""
    told = {escalation.id: _told(request, escalation) for escalation in taken}
    for other in sorted(set().union(*told.values()) - {request.person.id}):
        person = people.person(request.store, other)
        if person.opted_out_at is not None:
            continue
        known = [one for one in taken if other in told[one.id]]
        values: dict[str, Value] = {"by": request.person.name}
        if len(known) == 1:
            said = Said("clinician/somebody-has-it", {**_who(request, known[0]), **values})
        else:
            lines = _lines(request, known)
            said = Said("clinician/somebody-has-them", {**values, "lines": lines})
        request.tell(person, said)


def _lines(request: Request, escalations: Sequence[Escalation]) -> str:
    return ", ".join(f"{one.id} ({request.name(one.patient)})" for one in escalations)


def _who(request: Request, escalation: Escalation) -> dict[str, Value]:
    return {"number": escalation.id, "patient": request.name(escalation.patient)}
