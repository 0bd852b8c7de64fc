"""Tells the next clinician of an escalation, as the rules say. Nothing but an acknowledgement
ends it; see `rules.escalation`."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta

from bot.case import Case
from bot.clinic import Clinic
from bot.ports import Button
from bot.say import words_of
from bot.store import answers, escalations, outbox, people
from bot.store.database import Store
from bot.store.escalations import Escalation, NoticeKind
from bot.store.outbox import Draft, Urgency
from dialogs.advising import DayNumbers, EscalationNotice, numbers_line, say_escalation
from dialogs.turn import Question
from rules.escalation import Notify, OnCall, TellEveryone, Wait, next_step

# Days of numbers that a notice shows, and steps taken in one pass at the most. Convention.
DAYS_SHOWN = 3
STEPS_A_PASS = 50


def notify(store: Store, clinic: Clinic, number: int, now: datetime) -> None:
    """Take the steps that are due for one escalation, and write down when the next one is."""
    for _ in range(STEPS_A_PASS):
        step = next_step(escalations.view(store, number), rota(store), now, clinic.pace)
        match step:
            case Notify():
                _tell(store, clinic, number, step, now)
            case TellEveryone():
                _tell_everyone(store, clinic, number, step, now)
            case Wait():
                escalations.wait_until(store, number, step.until)
                return
            case _:
                return


def rota(store: Store) -> tuple[OnCall, ...]:
    """The clinicians in the order in which they are told, each with the channels that work."""
    return tuple(
        OnCall(str(person.id), tuple(c.channel for c in people.contacts(store, person.id)))
        for person in people.by_role(store, *people.CLINICAL)
    )


def _tell(store: Store, clinic: Clinic, number: int, step: Notify, now: datetime) -> None:
    person = int(step.clinician)
    text = _text(store, clinic, number, person, now, exhausted=False)
    draft = Draft(person, text, Urgency.ESCALATION, _have_it(number), escalation=number)
    row = outbox.write(store, draft, now, step.channel)
    escalations.note(
        store,
        number,
        NoticeKind.TOLD,
        now,
        person=person,
        channel=step.channel,
        round_number=step.round,
        outbox=row,
    )


def _tell_everyone(
    store: Store, clinic: Clinic, number: int, step: TellEveryone, now: datetime
) -> None:
    for on_call in rota(store):
        person = int(on_call.clinician)
        text = _text(store, clinic, number, person, now, exhausted=True)
        for channel in on_call.channels:
            draft = Draft(person, text, Urgency.ESCALATION, _have_it(number), escalation=number)
            outbox.write(store, draft, now, channel)
    kind = NoticeKind.TOLD_EVERYONE
    escalations.note(store, number, kind, now, round_number=step.round)


def _have_it(number: int) -> tuple[tuple[Button, ...], ...]:
    """The one button of a notice. It carries the words that may be typed as well."""
    return ((Button("I have it", f"i have it {number}"),),)


def _text(
    store: Store, clinic: Clinic, number: int, person: int, now: datetime, *, exhausted: bool
) -> str:
    """The notice in the words for this clinician, with times on the clinic's clock."""
    escalation = escalations.get(store, number)
    case = Case(store, clinic, people.person(store, escalation.patient), now)
    told_before = [row for row in escalations.history(store, number, NoticeKind.TOLD)
                   if row["person"] == person]
    notice = EscalationNotice(
        number=number,
        patient=case.patient.name,
        tier=escalation.tier,
        title=_title(clinic, escalation),
        wrote=escalation.words if escalation.message is not None else "",
        since=escalation.raised_at.astimezone(clinic.zone_info),
        numbers=numbers_line(_numbers(case)),
        told=escalation.told_patient,
        again=len(told_before) + 1,
        exhausted=exhausted,
    )
    situation = replace(
        case.situation(prescribe=False),
        now=now.astimezone(clinic.zone_info),
        language=people.person(store, person).language,
    )
    return words_of(clinic, say_escalation(notice), situation)


def _title(clinic: Clinic, escalation: Escalation) -> str:
    """What it is about: our own words where no message of the patient led to it."""
    if escalation.message is None:
        return escalation.words
    sign = clinic.lexicon.signs.get(escalation.sign)
    return escalation.sign.replace("-", " ") if sign is None else sign.sign.title


def _numbers(case: Case) -> tuple[DayNumbers, ...]:
    """The answers of the last days, oldest first."""
    days: dict[date, dict[str, int]] = {
        case.today - timedelta(days=ago): {} for ago in reversed(range(DAYS_SHOWN))
    }
    for kept in answers.standing(case.store, case.episode.id):
        if kept.about in days and isinstance(kept.value, int):
            days[kept.about][kept.question] = kept.value
    return tuple(
        DayNumbers(
            on,
            day.get(Question.FIRST_STEP_PAIN),
            day.get(Question.STIFFNESS),
            day.get(Question.PAIN_DURING),
            day.get(Question.PAIN_AFTER),
        )
        for on, day in days.items()
    )
