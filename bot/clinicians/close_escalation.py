"""A clinician closes an escalation: "closed 12 rest until 3 May, calf is soft".

What was done ("seen") is kept, and asked on: only an outcome closes what has stopped loading. An
urgent one, and one that stops exercises or writes of a doctor, shows the sentence that the patient
will get, and waits for YES. Anyone of the clinicians may close it; whoever had it hears so. Read
next: `what_follows`.
"""

from __future__ import annotations

from collections.abc import Iterator

from bot.clinicians.confirmation import as_asked, ask_first, check_unchanged
from bot.clinicians.request import Reply, Request
from bot.clinicians.roles import Right, demand
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
    request: Request,
    escalation: Escalation,
    command: CloseEscalation,
    text: str,
    confirmed: Confirmation | None,
) -> Reply:
    """Close it, or ask what is missing first. Raises NotDoneError where it cannot be closed so.

    text: the command as it was written. confirmed: what the clinician has said YES to just now.
    """
    demand(request.person, Right.CLOSE)
    if escalation.closed_at is not None:
        return closed_before(request, escalation)
    is_done = command.done is not None and not escalation.stops_loading
    if command.outcome is None and not is_done:
        return _ask_what_follows(request, escalation, command)
    case = request.case_of(escalation.patient)
    loads_from(case, escalation, command)
    told = request.patient_words(case, _said(request, escalation, command))
    check_unchanged(confirmed, case)
    if escalation.tier is not Tier.NEXT_WORKING_DAY or _newly_stops(escalation, command):
        preview = {"what": "close", "number": escalation.id, "told": told, **_outcome(command)}
        if not as_asked(confirmed, case, preview):
            return ask_first(request, case, preview, text)
    return _close(request, escalation, command)


def _newly_stops(escalation: Escalation, command: CloseEscalation) -> bool:
    """Whether it writes of a doctor, or stops exercises that the escalation has not stopped."""
    stood = escalation.stops_loading
    return command.outcome is Outcome.SENT_ON or (not stood and stops(escalation, command.outcome))


def _close(request: Request, escalation: Escalation, command: CloseEscalation) -> Reply:
    case = request.case_of(escalation.patient)
    from_day = loads_from(case, escalation, command)
    said = _said(request, escalation, command)
    outcome = str(command.outcome or command.done)
    until = command.until.isoformat() if command.until else ""
    escalations.close(
        request.store,
        escalation.id,
        request.person.id,
        outcome=outcome,
        words=" ".join(filter(None, (until, command.note))),
        on=case.today,
        loads_from=from_day,
        now=request.now,
    )
    request.audit("closed", escalation=escalation.id, outcome=outcome)
    if stops(escalation, command.outcome):
        if from_day is not None:
            begin_low(case, from_day, request.person.id)
        elif not command.questions:
            stop_questions(case, request.person.id)
    told = request.tell_patient(escalation, said)
    values: dict[str, Value] = {**_who(request, escalation), "until": command.until, "told": told}
    _tell_holder(request, escalation, values, outcome)
    values["outcome"] = word_for("outcome", outcome, request.person.language)
    lifted = from_day is None
    return Reply(Said("clinician/closed", {**values, "lift": lifted, "noted": bool(command.note)}))


def closed_before(request: Request, escalation: Escalation) -> Reply:
    """Whoever comes later hears who closed it, and with what."""
    outcome = word_for("outcome", escalation.outcome, request.person.language)
    by = request.name(escalation.closed_by or request.person.id)
    values = {**_who(request, escalation), "by": by, "outcome": outcome}
    return Reply(Said("clinician/closed-before", values))


def _tell_holder(
    request: Request, escalation: Escalation, values: dict[str, Value], outcome: str
) -> None:
    holder = escalation.acknowledged_by
    if holder in (None, request.person.id):
        return
    person = people.person(request.store, int(str(holder)))
    if person.opted_out_at is None:
        shown = word_for("outcome", outcome, person.language)
        by = {"by": request.person.name, "outcome": shown}
        request.tell(person, Said("clinician/closed-by", {**values, **by}))


def _ask_what_follows(request: Request, escalation: Escalation, command: CloseEscalation) -> Reply:
    """Nothing is closed; whoever writes about it has it, and their words are kept with it."""
    note = " ".join(filter(None, (command.done, command.note)))
    if escalations.acknowledge(request.store, escalation.id, request.person.id, request.now):
        request.audit("acknowledged", escalation=escalation.id)
    if note:
        kind, person = NoticeKind.NOTE, request.person.id
        notices.note(request.store, escalation.id, kind, request.now, person=person, note=note)
    values = {**_who(request, escalation), "stops": escalation.stops_loading, "noted": bool(note)}
    return Reply(Said("clinician/what-follows", values), outcome_buttons(request, escalation))


def outcome_buttons(request: Request, escalation: Escalation) -> Buttons:
    """What it may be closed with, a button each; they carry what may be typed."""
    offered = offered_outcomes(escalation, request.person.language)
    return tuple((Button(shown, f"closed {escalation.id} {code}"),) for code, shown in offered)


def offered_outcomes(escalation: Escalation, language: str) -> Iterator[tuple[str, str]]:
    """What it may be closed with: each code, and what is shown for it."""
    shown = shipped_words(language).buttons
    offered = FOLLOWS if escalation.stops_loading else DONE
    for key, outcome in offered.items():
        yield outcome, shown[key]


def closable(request: Request) -> list[Escalation]:
    """What "closed" without a number may mean: one's own, else what is open."""
    still_open = escalations.not_closed(request.store)
    own = [one for one in still_open if one.acknowledged_by == request.person.id]
    return own or still_open


def _said(request: Request, escalation: Escalation, command: CloseEscalation) -> Said:
    case = request.case_of(escalation.patient)
    return said_of_closing(case, escalation, command, request.person.name)


def _outcome(command: CloseEscalation) -> dict[str, Value]:
    until = command.until.isoformat() if command.outcome is Outcome.REST and command.until else None
    return {"outcome": str(command.outcome or command.done), "until": until}


def _who(request: Request, escalation: Escalation) -> dict[str, Value]:
    return {"number": escalation.id, "patient": request.name(escalation.patient)}
