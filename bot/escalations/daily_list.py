"""Lists what can wait for a working day: one message a working day to a clinician, never one each.

The rules say who is told next of each escalation, as for an alarm; here those for one clinician go
out together, a quarter of an hour after opening. Whoever had the list today is not told again
today: another clinician is, or the next day's list tells it. Read next: `rota`,
`rules.escalation`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, time, timedelta

from bot.clinic import Clinic
from bot.escalations.notify import is_listed, quoted, title_of
from bot.escalations.rota import next_list_at, rota
from bot.patient_record.say import situation_at, words_of
from bot.ports import Button
from bot.store import escalations, notices, outbox, people
from bot.store.database import Store
from bot.store.escalations import Escalation
from bot.store.notices import NoticeKind
from bot.store.outbox import Draft, Urgency
from dialogs.advising import ListedEscalation, say_listed_escalation
from dialogs.turn import Said
from dialogs.words import shipped_words
from rules.escalation import Done, NextStep, Notify, OnCall, TellEveryone, Wait, next_step
from rules.prompt_times import instant, local_date

# Lines of one list [count, at most]; more go to the next clinician. Convention.
LINES_MAX = 20


@dataclass
class _List:
    """What one clinician is about to be told: escalations with the step that led to it."""

    steps: list[tuple[Escalation, Notify | TellEveryone]] = field(default_factory=list)


def send_daily_lists(store: Store, clinic: Clinic, now: datetime) -> None:
    """Send the lists that are due; write down when each other escalation is looked at again."""
    due = [escalations.get(store, number) for number in escalations.due(store, now)]
    listable = sorted(filter(is_listed, due), key=lambda m: (not m.stops_loading, m.id))
    if not listable:
        return
    on_call = rota(store, clinic, now)
    listed = notices.listed_since(store, _today_began(clinic, now))
    lists = {int(one.clinician): _List() for one in on_call}
    for escalation in listable:
        step = _step(store, clinic, escalation, on_call, listed, now)
        match step:
            case Wait():
                escalations.wait_until(store, escalation.id, step.until)
            case Notify():
                lists[int(step.clinician)].steps.append((escalation, step))
            case TellEveryone():
                for one in lists.values():
                    one.steps.append((escalation, step))
                kind = NoticeKind.TOLD_EVERYONE
                notices.note(store, escalation.id, kind, now, round_number=step.round)
    for person, made in lists.items():
        if made.steps:
            _send(store, clinic, person, made.steps[:LINES_MAX], now)


def _today_began(clinic: Clinic, now: datetime) -> datetime:
    return instant(local_date(now, clinic.zone_info), time(0), clinic.zone_info)


def _step(
    store: Store,
    clinic: Clinic,
    escalation: Escalation,
    on_call: tuple[OnCall, ...],
    listed: frozenset[int],
    now: datetime,
) -> NextStep:
    """The step of the rules, kept back to the hour of the list and to whoever had none today."""
    hours = clinic.pace.working_hours
    first_at = next_list_at(escalation.raised_at, hours)
    if now < first_at:
        return Wait(first_at)
    view = escalations.view(store, escalation.id)
    step = next_step(view, on_call, now, clinic.pace)
    if isinstance(step, Wait | Done):
        return step
    coming = next_list_at(now, hours)
    if now < coming and local_date(coming, clinic.zone_info) == local_date(now, clinic.zone_info):
        return Wait(coming)
    tomorrow = Wait(next_list_at(now + timedelta(seconds=1), hours))
    if isinstance(step, TellEveryone):
        told_today = [at for at in view.told_everyone_at if at >= _today_began(clinic, now)]
        return tomorrow if listed or told_today else step
    on_duty = tuple(one for one in on_call if one.on_duty) or on_call
    fresh = tuple(one for one in on_duty if int(one.clinician) not in listed)
    step = next_step(view, fresh, now, clinic.pace)
    return step if isinstance(step, Notify) else tomorrow


def _send(
    store: Store,
    clinic: Clinic,
    person: int,
    steps: list[tuple[Escalation, Notify | TellEveryone]],
    now: datetime,
) -> None:
    channel = next((step.channel for _, step in steps if isinstance(step, Notify)), None)
    language = people.person(store, person).language
    situation = situation_at(clinic, language, now)
    lines = [
        words_of(
            clinic,
            say_listed_escalation(_line(store, clinic, escalation, step, language)),
            situation,
        )
        for escalation, step in steps
    ]
    first = steps[0][0].id
    said = Said("clinician/list", {"lines": "\n".join(lines), "count": len(lines), "number": first})
    draft = Draft(
        person,
        words_of(clinic, said, situation),
        Urgency.ESCALATION,
        _buttons([escalation.id for escalation, _ in steps], language),
        escalation=first,
    )
    row = outbox.write(store, draft, now, channel)
    for escalation, step in steps:
        notices.note(
            store,
            escalation.id,
            NoticeKind.TOLD,
            now,
            person=person,
            channel=channel or "",
            round_number=step.round,
            outbox=row,
        )


def _line(
    store: Store,
    clinic: Clinic,
    escalation: Escalation,
    step: Notify | TellEveryone,
    language: str,
) -> ListedEscalation:
    return ListedEscalation(
        number=escalation.id,
        patient=people.person(store, escalation.patient).name,
        title=title_of(clinic, escalation, language),
        wrote=quoted(clinic, escalation),
        since=escalation.raised_at.astimezone(clinic.zone_info),
        stops_loading=escalation.stops_loading,
        exhausted=isinstance(step, TellEveryone),
    )


def _buttons(numbers: list[int], language: str) -> tuple[tuple[Button, ...], ...]:
    """All at once where there are several, then one each; they carry what may be typed."""
    shown = shipped_words(language).buttons
    each = [(Button(f"{shown['have']}: {n}", f"i have it {n}"),) for n in numbers]
    every = (Button(shown["have-all"], "i have them all"),)
    return (every, *each) if len(numbers) > 1 else tuple(each)
