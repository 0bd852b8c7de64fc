"""A clinician takes matters and closes them: "I have it", "I have them all", "closed 12 seen".

The first acknowledgement counts; whoever comes later hears whose the matter is. Only whoever has a
matter, or a lead clinician, closes it. The patient and everyone who was told hear of it.
"""

from __future__ import annotations

from collections.abc import Sequence

from bot.clinicians.refusal import NotDoneError
from bot.clinicians.roles import Right, demand
from bot.clinicians.session import Desk, Reply
from bot.patient_record.say import Buttons
from bot.ports import Button
from bot.store import escalations, people
from bot.store.escalations import Escalation, NoticeKind
from dialogs.clinician_commands import Acknowledge, AddNote, CloseConcern, WhyNot
from dialogs.turn import Said, Value
from dialogs.words import shipped_words
from rules.history import Tier

# Outcomes that have a button after "I have it", with the key of what it shows.
OUTCOME_BUTTONS = {"spoke": "spoke to them", "seen": "seen", "not-worrying": "not worrying"}


def acknowledge(desk: Desk, command: Acknowledge) -> Reply:
    """The clinician has it, or all of the list; raises NotDoneError where it is not clear which."""
    demand(desk.person, Right.TAKE)
    if command.every:
        return _acknowledge_all(desk)
    escalation = _meant(desk, command.number, escalations.unacknowledged(desk.store))
    who = _who(desk, escalation)
    if not escalations.acknowledge(desk.store, escalation.id, desk.person.id, desk.now):
        return _taken_before(desk, escalations.get(desk.store, escalation.id))
    _took(desk, [escalation])
    _tell_others(desk, [escalation])
    return Reply(Said("clinician/acknowledged", who), _outcomes(desk, escalation.id))


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
    _took(desk, taken)
    _tell_others(desk, taken)
    values: dict[str, Value] = {"lines": _lines(desk, taken), "number": taken[0].id}
    return Reply(Said("clinician/acknowledged-all", values))


def _taken_before(desk: Desk, held: Escalation) -> Reply:
    who = _who(desk, held)
    if held.closed_at is not None:
        return Reply(Said("clinician/closed-before", who))
    if held.acknowledged_by == desk.person.id:
        return Reply(Said("clinician/acknowledged", who), _outcomes(desk, held.id))
    assert held.acknowledged_at is not None
    assert held.acknowledged_by is not None
    at = held.acknowledged_at.astimezone(desk.clinic.zone_info)
    values = {**who, "by": desk.name(held.acknowledged_by), "at": f"{at:%H:%M}"}
    return Reply(Said("clinician/taken", values))


def close(desk: Desk, command: CloseConcern) -> Reply:
    """The matter is dealt with; loading goes on by the rules. Raises NotDoneError where another
    clinician has it and this one is no lead."""
    demand(desk.person, Right.CLOSE_OWN)
    escalation = _meant(desk, command.number, _closable(desk))
    if escalation.acknowledged_by not in (None, desk.person.id):
        demand(desk.person, Right.CLOSE_ANY)
    case = desk.case_of(escalation.patient)
    number, outcome, note = escalation.id, command.outcome, command.note
    closed = escalations.close(
        desk.store, number, desk.person.id, outcome, note, case.today, desk.now
    )
    who = _who(desk, escalation)
    if not closed:
        return Reply(Said("clinician/closed-before", who))
    desk.audit("closed", escalation=number, outcome=outcome)
    if escalation.acknowledged_at is None:
        _tell_others(desk, [escalation])
    still = escalations.not_closed(desk.store, escalation.patient)
    told = Said("told/closed", {"by": desk.person.name, "others": len(still)})
    if case.episode.discharged:
        told = Said("told/looked-at", {"by": desk.person.name})
    desk.tell_patient(escalation, told)
    return Reply(Said("clinician/closed", {**who, "outcome": outcome, "noted": bool(note)}))


def add_note(desk: Desk, command: AddNote) -> Reply:
    """Keep the clinician's words with the matter, before or after it is closed."""
    demand(desk.person, Right.CLOSE_OWN)
    escalation = desk.matter(command.number)
    if escalation.acknowledged_by not in (None, desk.person.id):
        demand(desk.person, Right.CLOSE_ANY)
    kind, person = NoticeKind.NOTE, desk.person.id
    escalations.note(desk.store, escalation.id, kind, desk.now, person=person, note=command.note)
    return Reply(Said("clinician/note-kept", _who(desk, escalation)))


def _closable(desk: Desk) -> list[Escalation]:
    """What "closed seen" without a number may mean: one's own, else what nobody has."""
    still_open = escalations.not_closed(desk.store)
    own = [one for one in still_open if one.acknowledged_by == desk.person.id]
    return own or still_open


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


def _took(desk: Desk, taken: Sequence[Escalation]) -> None:
    for escalation in taken:
        desk.audit("acknowledged", escalation=escalation.id)
        desk.tell_patient(escalation, Said("told/acknowledged", {"by": desk.person.name}))


def _told(desk: Desk, escalation: Escalation) -> set[int]:
    """Who was told of the matter."""
    rows = escalations.history(desk.store, escalation.id, NoticeKind.TOLD)
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


def _outcomes(desk: Desk, number: int) -> Buttons:
    shown = shipped_words(desk.person.language).buttons
    return tuple(
        (Button(shown[key], f"closed {number} {outcome}"),)
        for key, outcome in OUTCOME_BUTTONS.items()
    )


def _who(desk: Desk, escalation: Escalation) -> dict[str, Value]:
    return {"number": escalation.id, "patient": desk.name(escalation.patient)}
