"""What is asked about before it is done: a big rise, the gate to hops, a discharge, a higher limit.

What would happen is said, and one command a clinician waits for YES, for a quarter of an hour. A
YES looks again at what would happen, and asks again if that has changed. Anything else drops it.
The sender of a text message can be forged: what comes so and may do harm waits as well, and its YES
must bring a code that only the true telephone was sent.
Carries nothing out. Read next: `order_change`.
"""

from __future__ import annotations

import json
import secrets
from collections.abc import Mapping
from datetime import date, timedelta

from bot.clinicians.discharge import check_discharge
from bot.clinicians.plan import check_level, check_limit, check_not_stopped, check_treated
from bot.clinicians.refusal import NotDoneError
from bot.clinicians.request import Reply, Request
from bot.clinicians.what_follows import check_lift
from bot.patient_record.record import PatientRecord
from bot.patient_record.say import Buttons
from bot.ports import Button
from bot.store import confirmations, escalations, plans
from bot.store.confirmations import Confirmation, SettledHow
from dialogs.clinician_commands import (
    AllowHops,
    Command,
    Confirm,
    DischargePatient,
    GoOnToday,
    LiftStop,
    LimitPain,
    ResumePatient,
    SetLevel,
    SetPace,
    TakeBack,
    TellPatient,
    Thanks,
    WhyNot,
)
from dialogs.lines import word_for
from dialogs.turn import Said, Value
from dialogs.words import shipped_words
from rules.protocol import Position

# How long a command waits for its YES [minutes, included]. Convention.
WAITS_MINUTES = 15

Preview = Mapping[str, Value]


def preview(
    case: PatientRecord, command: Command, text: str = "", *, by_text: bool = False
) -> Preview | None:
    """What is to be asked about first; None where nothing is. Raises NotDoneError where it could
    not be done anyway. `text`: the command as it was written."""
    match command:
        case SetLevel():
            position = check_level(case, command.level, command.dose)
            return _would_rise(case, position, steps=not by_text)
        case AllowHops():
            check_treated(case)
            if not command.allowed or case.episode.hops_allowed:
                return None
            check_not_stopped(case)
            return {"what": "hops"}
        case DischargePatient():
            check_discharge(case)
            return {"what": "discharge"}
        case LimitPain():
            before = check_limit(case, command.limit)
            if command.limit <= before:
                return None
            check_not_stopped(case)
            return {"what": "limit", "limit_before": before, "limit": command.limit}
        case LiftStop():
            check_lift(case)
            return {"what": "lift"}
        case GoOnToday() | ResumePatient() | TakeBack() | TellPatient():
            return {"what": "order", "order": text} if by_text else None
        case SetPace() if not command.slower:
            return {"what": "order", "order": text} if by_text else None
    return None


def _would_rise(case: PatientRecord, position: Position, *, steps: bool) -> Preview | None:
    """More than one step up: beyond the lowest dose of the next level; or any, without `steps`."""
    if case.episode.enrolled_on is None:
        return None
    stood = plans.moves(case.store, case.episode.id)[-1].position
    if position > stood:
        check_not_stopped(case)
    if position <= (Position(stood.level + 1, 1) if steps else stood):
        return None
    return {
        "what": "level",
        "number_before": stood.level,
        "dose_before": stood.dose,
        "number": position.level,
        "dose": position.dose,
    }


def ask_first(request: Request, case: PatientRecord, preview: Preview, text: str) -> Reply:
    """Say what would happen, and keep the command (`text`, as it was written) until its YES."""
    kept = {"would": dict(preview), "stood": _stood(case)}
    asked, buttons = wait_for_yes(request, case.patient.id, text, kept)
    until = preview.get("until")
    day = date.fromisoformat(str(until)) if until else None
    outcome = word_for("outcome", str(preview.get("outcome", "")), request.person.language)
    values = {**preview, "until": day, "outcome": outcome}
    values |= {"patient": case.patient.name, **asked}
    return Reply(Said("clinician/confirm", values), buttons)


def wait_for_yes(
    request: Request, about: int, text: str, kept: Mapping[str, object]
) -> tuple[dict[str, Value], Buttons]:
    """Keep a command about a person until its YES; gives what its question says of that, and its
    buttons."""
    code = secrets.randbelow(9000) + 1000
    would = json.dumps({**kept, "code": code}, sort_keys=True)
    number = confirmations.ask(request.store, request.person.id, about, text, would, request.now)
    shown = shipped_words(request.person.language).buttons
    buttons = tuple((Button(shown[key], f"{shown[key]} {number}"),) for key in ("yes", "no"))
    return {"within": WAITS_MINUTES, "code": code if request.by_text else ""}, buttons


def settle_waiting(request: Request, command: Command, *, take: str) -> Confirmation | None:
    """Whatever waits for this clinician waits no more, but for an old button, which means nothing;
    gives it where the command is its YES or NO in time. Raises NotDoneError for one that is not.

    take: the numbers of what waits for somebody to have it, named where nothing waits for a YES.
    """
    waiting = confirmations.waiting(request.store, request.person.id)
    if not isinstance(command, Confirm):
        _settle(request, waiting, SettledHow.DROPPED)
        if isinstance(command, Thanks) and waiting is not None:
            raise NotDoneError(WhyNot.YES_EXPECTED)
        return None
    if waiting is None:
        why = WhyNot.NOTHING_WAITS if command.number is None else WhyNot.OVER_QUESTION
        raise NotDoneError(why, take=take)
    code = _code(waiting)
    if command.yes and request.by_text and command.number != code:
        if command.number is not None:  # one try: whoever guesses must begin anew
            _settle(request, waiting, SettledHow.DROPPED)
        raise NotDoneError(WhyNot.CODE_EXPECTED)
    if command.number not in (None, waiting.id, code):
        raise NotDoneError(WhyNot.OVER_QUESTION)
    if request.now - waiting.asked_at > timedelta(minutes=WAITS_MINUTES):
        _settle(request, waiting, SettledHow.LATE)
        raise NotDoneError(WhyNot.LATE_YES, minutes=WAITS_MINUTES)
    _settle(request, waiting, SettledHow.YES if command.yes else SettledHow.NO)
    return waiting


def has_code(request: Request, text: str, code: int | None) -> bool:
    """Whether this command waits in time for this code, which then is used up."""
    waiting = confirmations.waiting(request.store, request.person.id)
    if waiting is None or waiting.command != text:
        return False
    late = request.now - waiting.asked_at > timedelta(minutes=WAITS_MINUTES)
    right = code is not None and _code(waiting) == code
    answered = SettledHow.YES if right else SettledHow.DROPPED
    _settle(request, waiting, SettledHow.LATE if late else answered)
    return right and not late


def _code(waiting: Confirmation) -> int:
    return int(json.loads(waiting.would).get("code", 0))


def _settle(request: Request, waiting: Confirmation | None, how: SettledHow) -> None:
    if waiting is not None:
        confirmations.settle(request.store, waiting.id, how, request.now)


def as_asked(confirmed: Confirmation | None, case: PatientRecord, preview: Preview) -> bool:
    """Whether this is what the YES was said to: the same patient, and the same would happen."""
    if confirmed is None or confirmed.patient != case.patient.id:
        return False
    return bool(json.loads(confirmed.would)["would"] == dict(preview))


def check_unchanged(confirmed: Confirmation | None, case: PatientRecord) -> None:
    """Raise NotDoneError where the plan has changed since the YES was asked for."""
    if confirmed is not None and json.loads(confirmed.would).get("stood") != _stood(case):
        raise NotDoneError(WhyNot.PLAN_CHANGED, patient=case.patient.name)


def _stood(case: PatientRecord) -> str:
    """All of the plan that a command may change, as one text to compare."""
    moves = len(plans.moves(case.store, case.episode.id))
    pauses = [(pause.on, pause.until) for pause in plans.pauses(case.store, case.episode.id)]
    raised = [
        (one.id, one.closed_at is None, one.loads_from)
        for one in escalations.of_patient(case.store, case.patient.id)
    ]
    episode = case.episode
    said = (episode.hops_allowed, episode.pain_limit, episode.slower, episode.discharged)
    return str((moves, pauses, raised, said))
