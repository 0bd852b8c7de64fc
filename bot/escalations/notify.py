"""Tells the next clinician of an escalation, as the rules say. Nothing but an acknowledgement
ends it; see `rules.escalation`. Tells whoever has it what the patient wrote since.

What can wait for a working day is not told here but listed; see `send_daily_lists`.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta

from bot.clinic import Clinic
from bot.escalations.open import UNREACHABLE
from bot.escalations.repeats import may_repeat
from bot.escalations.rota import rota
from bot.patient_record.record import PatientRecord
from bot.patient_record.say import words_of
from bot.ports import Button
from bot.store import escalations, notices, outbox, people
from bot.store.database import Row, Store
from bot.store.escalations import Escalation
from bot.store.notices import NoticeKind
from bot.store.outbox import Draft, Urgency
from bot.store.people import Person, Role
from dialogs.advising import (
    DayNumbers,
    EscalationNotice,
    ListedEscalation,
    numbers_line,
    say_escalation,
    say_listed_escalation,
)
from dialogs.lines import is_of_number, line, word_for
from dialogs.turn import Question, Said, Situation, Value
from dialogs.words import shipped_words
from rules.escalation import Notify, TellEveryone, Wait, next_step, remind_at
from rules.history import Tier

# Days of numbers that a notice shows, and steps taken in one pass at the most. Convention.
DAYS_SHOWN = 3
STEPS_A_PASS = 50


def notify(store: Store, clinic: Clinic, number: int, now: datetime) -> None:
    """Take the steps that are due for one escalation, and write down when the next one is."""
    escalation = escalations.get(store, number)
    if escalation.acknowledged_at is not None:
        _tell_holder(store, clinic, escalation, now)
        return
    if is_listed(escalation):
        return
    for _ in range(STEPS_A_PASS):
        on_call = rota(store, clinic, now)
        step = next_step(escalations.view(store, number), on_call, now, clinic.pace)
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


def is_listed(escalation: Escalation) -> bool:
    """Whether the escalation waits for the daily list: nobody has it, and it can wait until
    then."""
    waits = escalation.tier is Tier.NEXT_WORKING_DAY
    return waits and escalation.acknowledged_at is None


def title_of(clinic: Clinic, escalation: Escalation, language: str) -> str:
    """What it is about, in a clinician's language: our own words, in the clinic's language, where
    no message of the patient led to it."""
    if escalation.sign == UNREACHABLE:
        return line("not-delivered", language, why=escalation.words)
    if escalation.message is None:
        return escalation.words
    sign = clinic.lexicon_in(language).signs.get(escalation.sign)
    return word_for("sign", escalation.sign, language) if sign is None else sign.sign.title


def quoted(clinic: Clinic, escalation: Escalation) -> str:
    """What the patient wrote; empty where no words of theirs led to it."""
    ours = escalation.message is None or is_of_number(escalation.words, clinic.language)
    return "" if ours else escalation.words


def with_number(clinic: Clinic, escalation: Escalation) -> str:
    """Our own remarks, after the pain that led to them where no words did."""
    words, remarks = escalation.words, escalation.remarks
    if not is_of_number(words, clinic.language):
        return remarks
    return f"{words[:1].upper()}{words[1:]}. {remarks}".strip()


def _tell_holder(store: Store, clinic: Clinic, escalation: Escalation, now: datetime) -> None:
    """Whoever has the escalation hears each new word once. Where that cannot arrive, the words
    become an escalation of their own, and are chased."""
    for words in notices.untold_words(store, escalation.id):
        row = None
        if words["failed_at"] is None:
            row = _pass_on(store, clinic, escalation, words, now)
        notices.words_told(store, words["id"], row)
        if row is None:
            _raise_anew(store, clinic, escalation, words["note"], now)
    view = escalations.view(store, escalation.id)
    if remind_at(view, clinic.pace) <= now:
        _remind(store, clinic, escalation, len(view.reminded_at), now)
        view = escalations.view(store, escalation.id)
    escalations.wait_until(store, escalation.id, remind_at(view, clinic.pace))


def _remind(
    store: Store, clinic: Clinic, escalation: Escalation, times: int, now: datetime
) -> None:
    """Whoever has it hears that it is not closed, and from the second time on a lead as well, or
    where there is none whoever else is on the rota."""
    holder = escalation.acknowledged_by
    assert holder is not None
    others = [one for one in people.by_role(store, *people.CLINICAL) if one.id != holder]
    leads = [one for one in others if one.role is Role.LEAD_CLINICIAN] or others
    for person in [people.person(store, holder), *(leads if times else ())]:
        if person.opted_out_at is not None:
            continue
        values: dict[str, Value] = {
            "number": escalation.id,
            "patient": people.person(store, escalation.patient).name,
            "title": title_of(clinic, escalation, person.language).rstrip("."),
            "since": escalation.raised_at.astimezone(clinic.zone_info),
            "by": "" if person.id == holder else people.person(store, holder).name,
        }
        situation = Situation(
            now=now.astimezone(clinic.zone_info), language=person.language, clinic=clinic.name
        )
        text = words_of(clinic, Said("clinician/held", values), situation)
        row = outbox.write(
            store, Draft(person.id, text, Urgency.ESCALATION, escalation=escalation.id), now
        )
        kind = NoticeKind.REMINDED
        notices.note(store, escalation.id, kind, now, person=person.id, outbox=row)


def _pass_on(
    store: Store, clinic: Clinic, escalation: Escalation, words: Row, now: datetime
) -> int | None:
    """None: the holder cannot be reached."""
    assert escalation.acknowledged_by is not None
    holder = people.person(store, escalation.acknowledged_by)
    at = notices.happened_at(words)
    # Our own words about theirs are no quotation.
    ours = words["note"] in escalation.remarks
    return _more(store, clinic, escalation, holder, words["note"], at, now, ours=ours)


def tell_after_closing(
    store: Store, clinic: Clinic, number: int, remarks: str, now: datetime
) -> None:
    """Whoever closed it hears what came later, or where they have left all the others; nobody,
    where it is not closed."""
    escalation = escalations.get(store, number)
    here = [one for one in people.by_role(store, *people.CLINICAL) if one.opted_out_at is None]
    told = [one for one in here if one.id == escalation.closed_by] or here
    for person in told if escalation.closed_at is not None else ():
        _more(store, clinic, escalation, person, remarks, now, now, ours=True)


def _more(
    store: Store,
    clinic: Clinic,
    escalation: Escalation,
    person: Person,
    wrote: str,
    at: datetime,
    now: datetime,
    *,
    ours: bool,
) -> int | None:
    situation = Situation(
        now=now.astimezone(clinic.zone_info), language=person.language, clinic=clinic.name
    )
    values: dict[str, Value] = {
        "number": escalation.id,
        "patient": people.person(store, escalation.patient).name,
        "wrote": wrote,
        "at": at.astimezone(clinic.zone_info),
        "ours": ours,
        "is_closed": escalation.closed_at is not None,
    }
    text = words_of(clinic, Said("clinician/more-words", values), situation)
    draft = Draft(person.id, text, Urgency.ESCALATION, escalation=escalation.id)
    return outbox.write(store, draft, now)


def _raise_anew(
    store: Store, clinic: Clinic, escalation: Escalation, words: str, now: datetime
) -> None:
    number = escalations.open_one(
        store,
        escalation.patient,
        sign=escalation.sign,
        tier=escalation.tier,
        words=words,
        on=now.astimezone(clinic.zone_info).date(),
        now=now,
        stops_loading=escalation.stops_loading,
        message=escalation.message,
        told_patient=escalation.told_patient,
        remarks=escalation.remarks,
    )
    assert number is not None
    notify(store, clinic, number, now)


def _tell(store: Store, clinic: Clinic, number: int, step: Notify, now: datetime) -> None:
    joined = _joined(store, number)
    row = None
    if step.round == 1 or may_repeat(store, clinic, step.channel, now):
        row = _send(store, clinic, joined, int(step.clinician), step.channel, now)
    for one in joined:
        notices.note(
            store,
            one,
            NoticeKind.TOLD,
            now,
            person=int(step.clinician),
            channel=step.channel,
            round_number=step.round,
            outbox=row,
        )


def _tell_everyone(
    store: Store, clinic: Clinic, number: int, step: TellEveryone, now: datetime
) -> None:
    """After the first round on one channel each, which changes every time."""
    joined = _joined(store, number)
    for on_call in rota(store, clinic, now):
        channels = on_call.channels
        if step.round > 1 and channels:
            free = [one for one in channels if may_repeat(store, clinic, one, now)]
            channels = (free[step.round % len(free)],) if free else ()
        for channel in channels:
            _send(store, clinic, joined, int(on_call.clinician), channel, now, exhausted=True)
    for one in joined:
        kind = NoticeKind.TOLD_EVERYONE
        notices.note(store, one, kind, now, round_number=step.round)


def _joined(store: Store, number: int) -> list[int]:
    """What one message tells of, the most urgent first: all that nobody has, where the whole rota
    was told in vain of it. What is new has its own message, at full pace."""

    def tried(one: int) -> bool:
        return bool(notices.history(store, one, NoticeKind.TOLD_EVERYONE))

    if not tried(number):
        return [number]
    waiting = [one for one in escalations.unacknowledged(store) if not is_listed(one)]
    return [one.id for one in waiting if tried(one.id)]


def _send(
    store: Store,
    clinic: Clinic,
    numbers: list[int],
    person: int,
    channel: str,
    now: datetime,
    *,
    exhausted: bool = False,
) -> int | None:
    language = people.person(store, person).language
    situation = Situation(
        now=now.astimezone(clinic.zone_info), language=language, clinic=clinic.name
    )
    others = [
        words_of(clinic, say_listed_escalation(_line(store, clinic, one, language)), situation)
        for one in numbers[1:]
    ]
    text = _text(
        store, clinic, numbers[0], person, now, exhausted=exhausted, others="\n".join(others)
    )
    buttons = tuple(row for number in numbers for row in _have_it(number, language, len(numbers)))
    draft = Draft(person, text, Urgency.ESCALATION, buttons, escalation=numbers[0])
    return outbox.write(store, draft, now, channel)


def _line(store: Store, clinic: Clinic, number: int, language: str) -> ListedEscalation:
    one = escalations.get(store, number)
    return ListedEscalation(
        number=number,
        patient=people.person(store, one.patient).name,
        title=title_of(clinic, one, language),
        wrote=quoted(clinic, one),
        since=one.raised_at.astimezone(clinic.zone_info),
        stops_loading=False,
    )


def _have_it(number: int, language: str, count: int) -> tuple[tuple[Button, ...], ...]:
    """The button of a notice. It carries words that may be typed as well, in any language."""
    shown = shipped_words(language).buttons["have"]
    label = shown if count == 1 else f"{shown}: {number}"
    return ((Button(label, f"i have it {number}"),),)


def _text(
    store: Store,
    clinic: Clinic,
    number: int,
    person: int,
    now: datetime,
    *,
    exhausted: bool,
    others: str,
) -> str:
    """The notice in the words for this clinician, with times on the clinic's clock."""
    escalation = escalations.get(store, number)
    language = people.person(store, person).language
    case = PatientRecord(store, clinic, people.person(store, escalation.patient), now)
    told_before = [
        row for row in notices.history(store, number, NoticeKind.TOLD) if row["person"] == person
    ]
    notice = EscalationNotice(
        number=number,
        patient=case.patient.name,
        tier=escalation.tier,
        title=title_of(clinic, escalation, language),
        wrote=quoted(clinic, escalation),
        since=escalation.raised_at.astimezone(clinic.zone_info),
        numbers=numbers_line(_numbers(case), language),
        told=escalation.told_patient,
        again=len(told_before) + 1,
        exhausted=exhausted,
        others=others,
        remarks=with_number(clinic, escalation),
    )
    situation = replace(
        case.situation(prescribe=False),
        now=now.astimezone(clinic.zone_info),
        language=language,
    )
    return words_of(clinic, say_escalation(notice), situation)


def _numbers(case: PatientRecord) -> tuple[DayNumbers, ...]:
    """The answers of the last days, oldest first."""
    days: dict[date, dict[str, int]] = {
        case.today - timedelta(days=ago): {} for ago in reversed(range(DAYS_SHOWN))
    }
    for kept in case.kept:
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
