"""Finds why a patient needs a look: what is open, and what the numbers say. Reads only.

Somebody whose alarm already says so is not listed again for the same reason.
Read next: `worklist`, which ranks people by what was found.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import timedelta
from enum import StrEnum

from bot.patient_record.record import PatientRecord
from bot.patient_record.say import words_of
from bot.store import decisions, escalations, inbox, people, prompts
from bot.store.escalations import Escalation
from dialogs.alerting import say_alert
from dialogs.lines import line, word_for
from dialogs.turn import Question, Value
from rules.alerts import AlertKey, is_due, notices
from rules.distance import Distance, distance
from rules.prompt_times import PromptKind
from rules.reasons import Action, Reason

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
    OVER_LIMIT = "over the limit"
    OVER_USUAL = "above usual"
    NOTICED = "noticed in the numbers"
    STOPPED = "exercises stopped"
    STEPPED_BACK = "stepped back"
    NOT_SETTLING = "not settling"
    SILENT = "silent"
    UNREAD = "unread messages"
    AT_A_GATE = "waiting at a gate"
    LOW_RESPONSE = "low response rate"

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
    `sign`: what tells two reasons of a kind apart. `amount`: how much of it there is; more of it,
    or another reason, is news.
    """

    patient: str
    person: int
    kind: NeedKind
    why: str
    escalation: int | None = None
    tier: str | None = None
    held_by: str | None = None
    sign: str = ""
    amount: int = 0

    @property
    def key(self) -> str:
        """Names the reason while it stays the same one."""
        return f"{self.kind} {self.escalation or self.sign}".strip()


@dataclass(frozen=True)
class Found:
    """All that was found of one patient: the reasons, and the numbers to rank by.

    `days_silent`: 0 where they are not silent. `distance`: None where no morning was answered.
    """

    needs: tuple[Need, ...]
    distance: Distance | None = None
    days_silent: int = 0


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


def found_of(case: PatientRecord, language: str = "en") -> Found:
    """What is open of one patient, and what the numbers say of a treatment that goes on."""
    waiting = [open_need(case, one, language) for one in case.not_closed]
    if case.episode.enrolled_on is None or case.episode.discharged:
        return Found((*waiting, *_unread(case, language)))
    told = {one.sign for one in case.not_closed}
    days = _days_silent(case)
    far = distance(case.history, case.protocol, case.today)
    seen = [
        *_far(case, far, language),
        *_noticed(case, language),
        *_stopped(case, language),
        *_stepped_back(case, language),
        *_silent(case, days, language),
        *_low_response(case, language),
        *_decided(case, language),
        *_unread(case, language),
    ]
    untold = (one for one in seen if not told & (TOLD_BY.get(one.kind, set()) | {one.sign}))
    ranked = sorted(untold, key=lambda one: one.kind.rank)
    return Found((*waiting, *ranked), far, days)


def is_silent(case: PatientRecord) -> bool:
    """No answer for so long that a clinician is told, or no wish to be asked."""
    return case.patient.opted_out_at is not None or _days_silent(case) > 0


def response(case: PatientRecord, days: int = RATE_DAYS) -> Response:
    """How many of the last `days` mornings before today that were asked about were answered."""
    since = case.today - timedelta(days=days)
    asked = prompts.dates_written(case.store, case.patient.id, PromptKind.MORNING, since)
    past = [on for on in asked if on < case.today]
    answered = sum(Question.FIRST_STEP_PAIN in case.days.get(on, {}) for on in past)
    return Response(answered, len(past))


def open_need(case: PatientRecord, one: Escalation, language: str) -> Need:
    """An open escalation as a reason; what is written to it later is more of it."""
    held_by = None
    if one.acknowledged_by is not None:
        held_by = people.person(case.store, one.acknowledged_by).name
    held = line("nobody-has-it", language)
    if held_by is not None:
        held = line("somebody-has-it", language, by=held_by)
    why = line(
        "open-why",
        language,
        number=one.id,
        tier=word_for("tier", one.tier, language),
        sign=word_for("sign", one.sign, language),
        since=one.raised_at.astimezone(case.clinic.zone_info),
        held=held,
    )
    need = _need(case, NeedKind.ESCALATION, why, one.sign, len(one.words))
    return replace(need, escalation=one.id, tier=one.tier.value, held_by=held_by)


def _need(case: PatientRecord, kind: NeedKind, why: str, sign: str = "", amount: int = 0) -> Need:
    return Need(case.patient.name, case.patient.id, kind, why, sign=sign, amount=amount)


def _far(case: PatientRecord, far: Distance | None, language: str) -> Iterator[Need]:
    """Mornings over the limit; else those well above usual."""
    if far is None:
        return
    values: dict[str, Value] = {"worst": far.worst}
    values |= {"limit": far.limit, "usual": far.usual, "days": WEEK_DAYS}
    if far.is_over_limit:
        why = line("over-limit", language, count=far.above_limit, **values)
        yield _need(case, NeedKind.OVER_LIMIT, why, amount=far.worst)
    elif far.is_over_usual:
        why = line("over-usual", language, count=far.above_usual, **values)
        yield _need(case, NeedKind.OVER_USUAL, why, amount=far.worst)


def _noticed(case: PatientRecord, language: str) -> Iterator[Need]:
    """Each notice of the rules that is not an escalation yet, nor was one lately."""
    if case.patient.opted_out_at is not None:
        return
    zone = case.local_now.tzinfo
    raised = escalations.of_patient(case.store, case.patient.id)
    told_on = {one.sign: one.raised_at.astimezone(zone).date() for one in raised}
    situation = replace(case.situation(), language=language)
    for alert in notices(case.history, case.protocol, case.today):
        if is_due(alert, told_on.get(alert.key), case.protocol, case.today):
            why = words_of(case.clinic, say_alert(alert, situation), situation)
            yield _need(case, NeedKind.NOTICED, why, alert.key)


def _stopped(case: PatientRecord, language: str) -> Iterator[Need]:
    """What is closed and still stops loading until somebody lifts it; rest to a day ends itself."""
    stopping = escalations.still_stopping(case.store, case.patient.id, case.today)
    endless = [one for one in stopping if one.loads_from is None]
    if not endless:
        return
    numbers = ", ".join(str(one.id) for one in endless)
    since = endless[0].raised_at.astimezone(case.local_now.tzinfo).date()
    values: dict[str, Value] = {"numbers": numbers, "since": since, "patient": case.patient.name}
    yield _need(case, NeedKind.STOPPED, line("stopped", language, **values), numbers)


def _stepped_back(case: PatientRecord, language: str) -> Iterator[Need]:
    since = case.today - timedelta(days=WEEK_DAYS)
    on = [move.on for move in case.moves if move.step_back and move.on > since]
    if on:
        why = line("stepped-back", language, on=on[-1])
        yield _need(case, NeedKind.STEPPED_BACK, why, amount=on[-1].toordinal())


def _silent(case: PatientRecord, days: int, language: str) -> Iterator[Need]:
    left = case.patient.opted_out_at
    if left is not None:
        yield _need(case, NeedKind.SILENT, line("left", language, on=left.date()), "left")
    elif days:
        why = line("silent", language, count=days)
        yield _need(case, NeedKind.SILENT, why, amount=days // WEEK_DAYS)


def _days_silent(case: PatientRecord) -> int:
    """Days without an answer since the latest of enrolment, the last answer and the last day of a
    pause; 0 in a pause, after an opt-out, and while they are too few to be told."""
    if case.patient.opted_out_at is not None or case.paused_until() is not None:
        return 0
    ended = [one.until for one in case.pauses if one.until and one.until < case.today]
    days = [case.episode.enrolled_on or case.today, *ended]
    if case.kept:
        last_at = max(one.answered_at for one in case.kept)
        days.append(last_at.astimezone(case.local_now.tzinfo).date())
    silent = (case.today - max(days)).days
    return silent if silent >= case.protocol.settings.silence_days else 0


def _low_response(case: PatientRecord, language: str) -> Iterator[Need]:
    if case.patient.opted_out_at is not None or case.paused_until() is not None:
        return
    rate = response(case)
    if rate.is_low:
        why = line("low-response", language, answered=rate.answered, asked=rate.asked)
        yield _need(case, NeedKind.LOW_RESPONSE, why)


def _decided(case: PatientRecord, language: str) -> Iterator[Need]:
    """What the latest decision says, while it is not too old to."""
    kept = decisions.latest(case.store, case.episode.id)
    if kept is None or (case.today - kept.advice.on).days > DECISION_DAYS_MAX:
        return
    reasons = [kept.advice.reason, *(finding.reason for finding in kept.advice.also)]
    unsettled = [reason for reason in reasons if reason in UNSETTLED]
    # A step back has a reason of its own above, and says the same.
    if unsettled and kept.advice.action is not Action.STEP_BACK:
        why = line("not-settling", language, reason=word_for("reason", unsettled[0], language))
        yield _need(case, NeedKind.NOT_SETTLING, why, unsettled[0])
    if Reason.NEEDS_CLINICIAN in reasons:
        yield _need(case, NeedKind.AT_A_GATE, line("at-a-gate", language))


def _unread(case: PatientRecord, language: str) -> Iterator[Need]:
    since = case.now - timedelta(days=WEEK_DAYS)
    unread = inbox.unread_since(case.store, case.patient.id, since)
    if unread:
        why = line("unread", language, count=len(unread))
        yield _need(case, NeedKind.UNREAD, why, amount=unread[-1].id)
