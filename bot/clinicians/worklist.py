"""Ranks who needs somebody, with the reason for each: the clinician's list. Reads only.

What is open stands first, by tier; then what the numbers say of those nobody was alarmed about.
Somebody whose alarm already says so is not listed again for the same reason.
Read next: `show`, which makes lines of it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum
from zoneinfo import ZoneInfo

from bot.clinic import Clinic
from bot.store import answers, decisions, escalations, inbox, people, plans, prompts
from bot.store.database import Store
from bot.store.escalations import Escalation
from bot.store.people import Person
from bot.store.plans import Episode
from dialogs.lines import line, word_for
from dialogs.turn import Question
from rules.alerts import AlertKey
from rules.prompt_times import PromptKind
from rules.reasons import Action, Advice, Reason

WEEK_DAYS = 7  # How far back a step back and an unread message count [days]. Convention.

# Mornings that a response rate is counted over, and asked at least [days]. Convention.
RATE_DAYS, RATE_ASKED_MIN = 14, 5

# A rate under this is low [percent of the mornings asked]. Convention.
RATE_LOW_PERCENT = 60

# How old a decision may be to speak for today [days]. Convention.
DECISION_DAYS_MAX = 3


class NeedKind(StrEnum):
    """Why somebody needs a look. In the order of need."""

    ESCALATION = "open escalation"
    STOPPED = "exercises stopped"
    STEPPED_BACK = "stepped back"
    SILENT = "silent"
    NOT_SETTLING = "not settling"
    LOW_RESPONSE = "low response rate"
    AT_A_GATE = "waiting at a gate"
    UNREAD = "unread messages"

    @property
    def rank(self) -> int:
        """Rank for sorting [0 first]."""
        return list(NeedKind).index(self)


TOLD_BY = {
    NeedKind.SILENT: {AlertKey.SILENCE},
    NeedKind.STEPPED_BACK: {AlertKey.STEPPED_BACK_TWICE},
    NeedKind.NOT_SETTLING: {AlertKey.NOT_SETTLING},
}
"""The alarms that already say what a reason says."""

UNSETTLED = frozenset(
    {
        Reason.NOT_SETTLED_BY_TWO_DAYS,
        Reason.PAIN_OVER_CEILING,
        Reason.WEEKS_WORSE_THAN_BEFORE,
        Reason.WELL_ABOVE_USUAL,
        Reason.ABOVE_USUAL_TWICE,
        Reason.SETTLING_AFTER_STEP_BACK,
        Reason.NEXT_DAY_ABOVE_USUAL,
        Reason.SORE_AFTER_TWO_OF_THREE,
        Reason.WEEK_WORSE_THAN_LAST,
    }
)


@dataclass(frozen=True)
class Need:
    """One reason to look at a patient. `why`: in words, with its numbers.

    `escalation`, `tier`: of an open escalation, else None. `held_by`: who has it, None for nobody.
    """

    patient: str
    person: int
    kind: NeedKind
    why: str
    escalation: int | None = None
    tier: str | None = None
    held_by: str | None = None


@dataclass(frozen=True)
class Response:
    """Mornings answered of those asked [count, count]."""

    answered: int
    asked: int

    @property
    def is_low(self) -> bool:
        """Under the limit, where enough was asked."""
        low = 100 * self.answered < RATE_LOW_PERCENT * self.asked
        return self.asked >= RATE_ASKED_MIN and low


def needs_of(store: Store, clinic: Clinic, now: datetime, language: str = "en") -> list[Need]:
    """All reasons, in a clinician's language, most urgent first: open escalations by tier, those
    nobody has before the others; then patients under treatment by the order of `NeedKind`."""
    waiting = escalations.not_closed(store)
    waiting.sort(key=lambda one: (one.tier.urgency, one.acknowledged_by is not None, one.id))
    found = [_open(store, clinic, one, language) for one in waiting]
    told = {(one.patient, one.sign) for one in waiting}
    others = [
        need
        for episode in plans.under_treatment(store)
        for need in patient_needs(store, clinic, episode, now, language)
        if not any((need.person, sign) in told for sign in TOLD_BY.get(need.kind, ()))
    ]
    others += _former(store, now, language)
    return found + sorted(others, key=lambda need: (need.kind.rank, need.person))


def patient_needs(
    store: Store, clinic: Clinic, episode: Episode, now: datetime, language: str = "en"
) -> Iterator[Need]:
    """What the numbers say of one patient; open escalations aside."""
    person = people.person(store, episode.patient)
    today = now.astimezone(ZoneInfo(person.zone)).date()
    reasons = {
        NeedKind.STOPPED: _stopped(store, person, today, language),
        NeedKind.STEPPED_BACK: _stepped_back(store, episode, today, language),
        NeedKind.SILENT: _silent(store, clinic, episode, today, language),
        NeedKind.LOW_RESPONSE: _low_response(store, episode, person, today, language),
        NeedKind.UNREAD: _unread(store, person, now, language),
        **_decided(store, episode, today, language),
    }
    for kind, why in reasons.items():
        if why:
            yield Need(person.name, person.id, kind, why)


def response(store: Store, episode: Episode, today: date, days: int = RATE_DAYS) -> Response:
    """How many of the last `days` mornings before today that were asked about were answered."""
    since = today - timedelta(days=days)
    asked = prompts.dates_written(store, episode.patient, PromptKind.MORNING, since)
    kept = answers.standing(store, episode.id, since)
    answered = {one.about for one in kept if one.question == Question.FIRST_STEP_PAIN}
    past = [on for on in asked if on < today]
    return Response(sum(on in answered for on in past), len(past))


def _former(store: Store, now: datetime, language: str) -> Iterator[Need]:
    """What was written by somebody whose treatment has ended: nothing else of theirs counts."""
    for episode in plans.ended(store):
        person = people.person(store, episode.patient)
        why = _unread(store, person, now, language)
        if why:
            yield Need(person.name, person.id, NeedKind.UNREAD, why)


def _open(store: Store, clinic: Clinic, one: Escalation, language: str) -> Need:
    patient = people.person(store, one.patient)
    held_by = None
    if one.acknowledged_by is not None:
        held_by = people.person(store, one.acknowledged_by).name
    since = one.raised_at.astimezone(clinic.zone_info)
    held = line("nobody-has-it", language)
    if held_by is not None:
        held = line("somebody-has-it", language, by=held_by)
    sign = word_for("sign", one.sign, language)
    why = line("open-why", language, sign=sign, since=since, held=held)
    kind = NeedKind.ESCALATION
    return Need(patient.name, patient.id, kind, why, one.id, one.tier.value, held_by)


def _stopped(store: Store, person: Person, today: date, language: str) -> str:
    """What is closed and still stops loading until somebody lifts it; rest to a day ends itself."""
    stopping = escalations.still_stopping(store, person.id, today)
    endless = [one for one in stopping if one.loads_from is None]
    if not endless:
        return ""
    numbers = ", ".join(str(one.id) for one in endless)
    since = endless[0].raised_at.astimezone(ZoneInfo(person.zone)).date()
    return line("stopped", language, numbers=numbers, since=since, patient=person.name)


def _stepped_back(store: Store, episode: Episode, today: date, language: str) -> str:
    moves = plans.moves(store, episode.id)
    on = [m.on for m in moves if m.step_back and m.on > today - timedelta(days=WEEK_DAYS)]
    return line("stepped-back", language, on=on[-1]) if on else ""


def _silent(store: Store, clinic: Clinic, episode: Episode, today: date, language: str) -> str:
    person = people.person(store, episode.patient)
    if person.opted_out_at is not None:
        return line("left", language, on=person.opted_out_at.date())
    if _is_paused(store, episode, today):
        return ""
    days = (today - _last_heard(store, episode, person, today)).days
    silence_days = clinic.protocol(episode.protocol).settings.silence_days
    return line("silent", language, count=days) if days >= silence_days else ""


def _last_heard(store: Store, episode: Episode, person: Person, today: date) -> date:
    """The latest of: enrolment, the last answer, the last day of a pause."""
    ended = [one.until for one in plans.pauses(store, episode.id) if one.until]
    days = [episode.enrolled_on or today, *(until for until in ended if until < today)]
    last_at = answers.last_at(store, episode.id)
    if last_at is not None:
        days.append(last_at.astimezone(ZoneInfo(person.zone)).date())
    return max(days)


def _low_response(
    store: Store, episode: Episode, person: Person, today: date, language: str
) -> str:
    if person.opted_out_at is not None or _is_paused(store, episode, today):
        return ""
    rate = response(store, episode, today)
    if not rate.is_low:
        return ""
    return line("low-response", language, answered=rate.answered, asked=rate.asked)


def _is_paused(store: Store, episode: Episode, today: date) -> bool:
    pauses = plans.pauses(store, episode.id)
    return any(one.on <= today <= (one.until or date.max) for one in pauses)


def _decided(store: Store, episode: Episode, today: date, language: str) -> dict[NeedKind, str]:
    """What the latest decision says, while it is not too old to."""
    kept = decisions.latest(store, episode.id)
    if kept is None or (today - kept.advice.on).days > DECISION_DAYS_MAX:
        return {}
    reasons = _reasons(kept.advice)
    unsettled = [reason for reason in reasons if reason in UNSETTLED]
    # A step back has a reason of its own above, and says the same.
    if kept.advice.action is Action.STEP_BACK:
        unsettled = []
    gate = line("at-a-gate", language) if Reason.NEEDS_CLINICIAN in reasons else ""
    not_settling = ""
    if unsettled:
        reason = word_for("reason", unsettled[0], language)
        not_settling = line("not-settling", language, reason=reason)
    return {NeedKind.NOT_SETTLING: not_settling, NeedKind.AT_A_GATE: gate}


def _reasons(advice: Advice) -> list[Reason]:
    return [advice.reason, *(finding.reason for finding in advice.also)]


def _unread(store: Store, person: Person, now: datetime, language: str) -> str:
    count = inbox.unread(store, person.id, now - timedelta(days=WEEK_DAYS))
    return line("unread", language, count=count) if count else ""
