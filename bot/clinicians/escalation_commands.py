"""A clinician takes matters and writes about them: "I have it", "I have them all", "note 12 ...".

The first acknowledgement counts; whoever comes later hears whose the matter is. The patient and
everyone who was told hear of it. Read next: `close_escalation`.
"""

from __future__ import annotations

from collections.abc import Sequence

from bot.clinicians.close_escalation import closable, close, closed_before, outcome_buttons
from bot.clinicians.refusal import NotDoneError
from bot.clinicians.roles import Right, demand
from bot.clinicians.session import Desk, Reply
from bot.escalations.notify import title_of
from bot.ports import Button
from bot.store import escalations, notices, people
from bot.store.confirmations import Confirmation
from bot.store.escalations import Escalation
from bot.store.notices import NoticeKind
from dialogs.clinician_commands import Acknowledge, AddNote, CloseEscalation, HandOver, WhyNot
from dialogs.turn import Said, Value
from dialogs.words import shipped_words
from rules.history import Tier


def acknowledge(desk: Desk, command: Acknowledge) -> Reply:
    """The clinician has it, or all of the list; raises NotDoneError where it is not clear which."""
    demand(desk.person, Right.TAKE)
    if command.every:
        return _acknowledge_all(desk)
    if command.note and command.number is not None:
        add_note(desk, AddNote(command.number, command.note))
    for number in command.more:
        reply = acknowledge(desk, Acknowledge(number))
        desk.tell(desk.person, reply.said, reply.buttons)
    escalation = _meant(desk, command.number, escalations.unacknowledged(desk.store))
    if not escalations.acknowledge(desk.store, escalation.id, desk.person.id, desk.now):
        return _taken_before(desk, escalations.get(desk.store, escalation.id))
    (told,) = _took(desk, [escalation])
    _tell_others(desk, [escalation])
    return _has(desk, escalation, told)


def _acknowledge_all(desk: Desk) -> Reply:
    """All that was listed to this clinician and nobody has; never an alarm."""
    taken = [
        waiting
        for waiting in escalations.unacknowledged(desk.store)
        if waiting.tier is Tier.NEXT_WORKING_DAY and desk.person.id in _told(desk, waiting)
    ]
    if not taken:
        raise NotDoneError(WhyNot.NOTHING_LISTED)
    for escalation in taken:
        escalations.acknowledge(desk.store, escalation.id, desk.person.id, desk.now)
    told = _took(desk, taken)[0]
    _tell_others(desk, taken)
    values: dict[str, Value] = {"lines": _lines(desk, taken), "number": taken[0].id, "told": told}
    return Reply(Said("clinician/acknowledged-all", values))


def hand_over(desk: Desk, command: HandOver) -> Reply:
    """Ask a colleague to take it. Raises NotDoneError unless this clinician has it, and exactly one
    colleague is meant."""
    demand(desk.person, Right.TAKE)
    escalation = desk.matter(command.number)
    if escalation.acknowledged_by != desk.person.id or escalation.closed_at is not None:
        raise NotDoneError(WhyNot.NOT_HELD, number=command.number)
    others = [
        one
        for one in people.by_role(desk.store, *people.CLINICAL)
        if one.id != desk.person.id and one.opted_out_at is None
    ]
    named = [one for one in others if command.to.casefold() in one.name.casefold().split()]
    named = [one for one in others if one.name.casefold() == command.to.casefold()] or named
    if len(named) != 1:
        names = ", ".join(one.name for one in others)
        raise NotDoneError(WhyNot.NO_COLLEAGUE, wanted=command.to, names=names)
    (to,) = named
    escalations.offer(desk.store, escalation.id, to.id, desk.person.id, desk.now)
    desk.audit("offered", escalation=escalation.id, to=to.id)
    who = _who(desk, escalation)
    title = title_of(desk.clinic, escalation, to.language).rstrip(".")
    since = escalation.raised_at.astimezone(desk.clinic.zone_info)
    values = {**who, "by": desk.person.name, "title": title, "since": since}
    shown = shipped_words(to.language).buttons["have"]
    button = ((Button(shown, f"i have it {escalation.id}"),),)
    desk.tell(to, Said("clinician/offered", values), button)
    return Reply(Said("clinician/given", {**who, "by": to.name}))


def _take_over(desk: Desk, held: Escalation) -> Reply:
    """A colleague asked for it: the escalation changes hands, and whoever had it hears so."""
    escalations.hand_over(desk.store, held.id, desk.person.id, desk.now)
    (told,) = _took(desk, [held])
    values = {**_who(desk, held), "by": desk.person.name}
    desk.tell(
        people.person(desk.store, held.acknowledged_by or 0), Said("clinician/handed-over", values)
    )
    return _has(desk, held, told)


def _taken_before(desk: Desk, held: Escalation) -> Reply:
    if escalations.is_offered(desk.store, held.id, desk.person.id) and held.closed_at is None:
        return _take_over(desk, held)
    who = _who(desk, held)
    if held.closed_at is not None:
        return closed_before(desk, held)
    if held.acknowledged_by == desk.person.id:
        return _has(desk, held, "")
    assert held.acknowledged_at is not None
    assert held.acknowledged_by is not None
    at = held.acknowledged_at.astimezone(desk.clinic.zone_info)
    values = {**who, "by": desk.name(held.acknowledged_by), "at": f"{at:%H:%M}"}
    return Reply(Said("clinician/taken", values))


def close_meant(
    desk: Desk, command: CloseEscalation, text: str, confirmed: Confirmation | None
) -> Reply:
    """Close the escalation that is meant; whoever was told of one that nobody had hears so."""
    demand(desk.person, Right.CLOSE)
    escalation = _meant(desk, command.number, closable(desk))
    reply = close(desk, escalation, command, text, confirmed)
    taken = escalations.get(desk.store, escalation.id).acknowledged_by == desk.person.id
    if escalation.acknowledged_at is None and taken:
        _tell_others(desk, [escalation])
    return reply


def add_note(desk: Desk, command: AddNote) -> Reply:
    """Keep the clinician's words with the matter, before or after it is closed."""
    demand(desk.person, Right.CLOSE)
    escalation = desk.matter(command.number)
    kind, person = NoticeKind.NOTE, desk.person.id
    notices.note(desk.store, escalation.id, kind, desk.now, person=person, note=command.note)
    return Reply(Said("clinician/note-kept", _who(desk, escalation)))


def _meant(desk: Desk, number: int | None, waiting: list[Escalation]) -> Escalation:
    """The escalation a command is about. Without a number: the only one that waits."""
    if number is not None:
        return desk.matter(number)
    if len(waiting) == 1:
        return waiting[0]
    if not waiting:
        raise NotDoneError(WhyNot.NOTHING_OPEN)
    listed = ", ".join(f"{e.id} ({desk.name(e.patient)})" for e in waiting[:5])
    raise NotDoneError(WhyNot.WHICH_ONE, names=listed)


def _has(desk: Desk, escalation: Escalation, told: str) -> Reply:
    values = {**_who(desk, escalation), "told": told, "stops": escalation.stops_loading}
    return Reply(Said("clinician/acknowledged", values), outcome_buttons(desk, escalation))


def _took(desk: Desk, taken: Sequence[Escalation]) -> list[str]:
    """Tell the patients; gives what each was told, word for word."""
    for escalation in taken:
        desk.audit("acknowledged", escalation=escalation.id)
    said = Said("told/acknowledged", {"by": desk.person.name})
    return [desk.tell_patient(escalation, said) for escalation in taken]


def _told(desk: Desk, escalation: Escalation) -> set[int]:
    """Who was told of the matter."""
    rows = notices.history(desk.store, escalation.id, NoticeKind.TOLD)
    return {row["person"] for row in rows}


def _tell_others(desk: Desk, taken: Sequence[Escalation]) -> None:
    """Whoever was told hears once that somebody has it, or all of them."""
    told = {escalation.id: _told(desk, escalation) for escalation in taken}
    for other in sorted(set().union(*told.values()) - {desk.person.id}):
        person = people.person(desk.store, other)
        if person.opted_out_at is not None:
            continue
        known = [one for one in taken if other in told[one.id]]
        values: dict[str, Value] = {"by": desk.person.name}
        if len(known) == 1:
            said = Said("clinician/somebody-has-it", {**_who(desk, known[0]), **values})
        else:
            lines = _lines(desk, known)
            said = Said("clinician/somebody-has-them", {**values, "lines": lines})
        desk.tell(person, said)


def _lines(desk: Desk, matters: Sequence[Escalation]) -> str:
    return ", ".join(f"{one.id} ({desk.name(one.patient)})" for one in matters)


def _who(desk: Desk, escalation: Escalation) -> dict[str, Value]:
    return {"number": escalation.id, "patient": desk.name(escalation.patient)}
