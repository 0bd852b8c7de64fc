"""A clinician closes an escalation: "closed 12 rest until 3 May, calf is soft".

What was done ("seen") is kept, and asked on: only an outcome closes what has stopped loading. An
urgent one shows the sentence that the patient will get, and waits for YES. Anyone of the clinicians
may close it; whoever had it hears so. Read next: `what_follows`.
"""

from __future__ import annotations

from bot.clinicians.confirmation import as_asked, ask_first, check_unchanged
from bot.clinicians.roles import Right, demand
from bot.clinicians.session import Desk, Reply
from bot.clinicians.what_follows import (
    begin_low,
    loads_from,
    said_of_closing,
    stop_questions,
    stops,
)
from bot.patient_record.say import Buttons
from bot.ports import Button
from bot.store import escalations, notices, people
from bot.store.confirmations import Confirmation
from bot.store.escalations import Escalation
from bot.store.notices import NoticeKind
from dialogs.clinician_commands import CloseEscalation, Outcome
from dialogs.lines import word_for
from dialogs.turn import Said, Value
from dialogs.words import shipped_words
from rules.history import Tier

# What buttons offer, by the key of what they show: where loading was stopped, and where not.
FOLLOWS = {
    "go-on": "go on",
    "rest": "rest",
    "sent-on": "sent on",
    "stays-stopped": "stays stopped",
}
DONE = {"spoke": "spoke to them", "seen": "seen", "not-worrying": "not worrying"}


def close(
    desk: Desk,
    escalation: Escalation,
    command: CloseEscalation,
    text: str,
    confirmed: Confirmation | None,
) -> Reply:
    """Close it, or ask what is missing first. Raises NotDoneError where it cannot be closed so.

    text: the command as it was written. confirmed: what the clinician has said YES to just now.
    """
    demand(desk.person, Right.CLOSE)
    if escalation.closed_at is not None:
        return closed_before(desk, escalation)
    is_done = command.done is not None and not escalation.stops_loading
    if command.outcome is None and not is_done:
        return _ask_what_follows(desk, escalation, command)
    case = desk.case_of(escalation.patient)
    loads_from(case, escalation, command)
    told = desk.patient_words(case, _said(desk, escalation, command))
    check_unchanged(confirmed, case)
    if escalation.tier is not Tier.NEXT_WORKING_DAY:
        would = {"what": "close", "number": escalation.id, "told": told, **_outcome(command)}
        if not as_asked(confirmed, case, would):
            return ask_first(desk, case, would, text)
    return _close(desk, escalation, command)


def _close(desk: Desk, escalation: Escalation, command: CloseEscalation) -> Reply:
    case = desk.case_of(escalation.patient)
    from_day = loads_from(case, escalation, command)
    said = _said(desk, escalation, command)
    outcome = str(command.outcome or command.done)
    until = command.until.isoformat() if command.until else ""
    escalations.close(
        desk.store,
        escalation.id,
        desk.person.id,
        outcome=outcome,
        words=" ".join(filter(None, (until, command.note))),
        on=case.today,
        loads_from=from_day,
        now=desk.now,
    )
    desk.audit("closed", escalation=escalation.id, outcome=outcome)
    if stops(escalation, command.outcome):
        if from_day is not None:
            begin_low(case, from_day, desk.person.id)
        elif not command.questions:
            stop_questions(case, desk.person.id)
    told = desk.tell_patient(escalation, said)
    values: dict[str, Value] = {**_who(desk, escalation), "until": command.until, "told": told}
    _tell_holder(desk, escalation, values, outcome)
    values["outcome"] = word_for("outcome", outcome, desk.person.language)
    lifted = from_day is None
    return Reply(Said("clinician/closed", {**values, "lift": lifted, "noted": bool(command.note)}))


def closed_before(desk: Desk, escalation: Escalation) -> Reply:
    """Whoever comes later hears who closed it, and with what."""
    outcome = word_for("outcome", escalation.outcome, desk.person.language)
    by = desk.name(escalation.closed_by or desk.person.id)
    values = {**_who(desk, escalation), "by": by, "outcome": outcome}
    return Reply(Said("clinician/closed-before", values))


def _tell_holder(
    desk: Desk, escalation: Escalation, values: dict[str, Value], outcome: str
) -> None:
    holder = escalation.acknowledged_by
    if holder in (None, desk.person.id):
        return
    person = people.person(desk.store, int(str(holder)))
    if person.opted_out_at is None:
        shown = word_for("outcome", outcome, person.language)
        by = {"by": desk.person.name, "outcome": shown}
        desk.tell(person, Said("clinician/closed-by", {**values, **by}))


def _ask_what_follows(desk: Desk, escalation: Escalation, command: CloseEscalation) -> Reply:
    """Nothing is closed; whoever writes about it has it, and their words are kept with it."""
    note = " ".join(filter(None, (command.done, command.note)))
    if escalations.acknowledge(desk.store, escalation.id, desk.person.id, desk.now):
        desk.audit("acknowledged", escalation=escalation.id)
    if note:
        kind, person = NoticeKind.NOTE, desk.person.id
        notices.note(desk.store, escalation.id, kind, desk.now, person=person, note=note)
    values = {**_who(desk, escalation), "stops": escalation.stops_loading, "noted": bool(note)}
    return Reply(Said("clinician/what-follows", values), outcome_buttons(desk, escalation))


def outcome_buttons(desk: Desk, escalation: Escalation) -> Buttons:
    """What it may be closed with, a button each; they carry what may be typed."""
    shown = shipped_words(desk.person.language).buttons
    offered = FOLLOWS if escalation.stops_loading else DONE
    return tuple(
        (Button(shown[key], f"closed {escalation.id} {outcome}"),)
        for key, outcome in offered.items()
    )


def closable(desk: Desk) -> list[Escalation]:
    """What "closed" without a number may mean: one's own, else what is open."""
    still_open = escalations.not_closed(desk.store)
    own = [one for one in still_open if one.acknowledged_by == desk.person.id]
    return own or still_open


def _said(desk: Desk, escalation: Escalation, command: CloseEscalation) -> Said:
    case = desk.case_of(escalation.patient)
    return said_of_closing(case, escalation, command, desk.person.name)


def _outcome(command: CloseEscalation) -> dict[str, Value]:
    until = command.until.isoformat() if command.outcome is Outcome.REST and command.until else None
    return {"outcome": str(command.outcome or command.done), "until": until}


def _who(desk: Desk, escalation: Escalation) -> dict[str, Value]:
    return {"number": escalation.id, "patient": desk.name(escalation.patient)}
