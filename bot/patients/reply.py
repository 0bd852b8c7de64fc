"""What is decided and said once a message is written down: the advice with a tip, the reasons, the
plan, how it is going. Each reads the one record that is handed on. Read next: `consequences`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date, datetime, timedelta

from bot.charts.message_images import exercise_picture, weeks_picture
from bot.escalations.alerts import raise_alerts
from bot.patient_record.decide import decide
from bot.patient_record.prompt_schedule import is_left_alone, plan_prompts
from bot.patient_record.record import PatientRecord
from bot.patient_record.say import Say, say
from bot.patients.consequence_values import (
    Decide,
    Plan,
    RaiseAlerts,
    Reply,
    SayHeldBack,
    SayVisaTotal,
)
from bot.patients.topic_replies import say_held, topic_answer
from bot.store import conversations, decisions, tips
from dialogs.advising import say_advice, say_plan, say_why
from dialogs.journey import say_level
from dialogs.progress import SetOff, planned_days, say_progress, say_week
from dialogs.rendering import gsm, segments
from dialogs.sheet import say_total
from dialogs.tips import Tip, fitting, shipped_tips
from dialogs.turn import Asked, Question, Said
from dialogs.wishes import PlanAsked, ProgressAsked, TopicsAsked, WhyAsked
from rules.reasons import Action, Advice
from rules.usual import pain_limit

# The most that advice and tip take together [SMS segments]. Convention.
SEGMENTS_MAX = 2


def reply(record: PatientRecord, one: Reply, message: int) -> PatientRecord:
    """Do one thing; gives the record as it stands after it."""
    match one:
        case Say():
            say(record, one)
        case Decide():
            return _decide(record, one, message)
        case SayHeldBack():
            _say_held_back(record, one.since)
        case WhyAsked():
            _say_why(record)
        case PlanAsked():
            _say_plan(record)
        case ProgressAsked():
            _say_progress(record)
        case TopicsAsked():
            _say_topics(record, one)
        case SayVisaTotal():
            _say_visa_total(record, one.on)
        case Plan():
            plan_prompts(record)
        case RaiseAlerts():
            raise_alerts(record)
    return record


def _decide(record: PatientRecord, wanted: Decide, message: int) -> PatientRecord:
    before = record.decided_today
    advice, after = decide(record, message)
    if not wanted.said:
        return after
    same = before is not None and _same(before.advice, advice)
    said = say_advice(advice, after.protocol, after.situation())
    if before is not None and (wanted.corrected or _turns(before.advice, advice, after)):
        changed = Said("advice-changed", {"advice": after.words(said)})
        say(after, Say(Said("advice-same") if same else changed))
    elif same and not wanted.whole:
        say(after, Say(Said("noted")))
    else:
        say(after, _with_more(after, advice, said))
    return after


def _same(before: Advice, after: Advice) -> bool:
    keys = ("on", "action", "reason", "position")
    return all(getattr(before, key) == getattr(after, key) for key in keys)


def _turns(before: Advice, now: Advice, record: PatientRecord) -> bool:
    """Whether something else is to be done today than was said before; not once today's session is
    done."""
    if any(row.on == record.today for row in record.sessions):
        return False
    return (before.session_today, before.position) != (now.session_today, now.position)


def _say_held_back(record: PatientRecord, since: datetime) -> None:
    """Today's advice, if it was decided when the closed questions were put and held back."""
    latest = record.decided_today
    if latest is not None and latest.decided_at >= since:
        say(record, Say(say_advice(latest.advice, record.protocol, record.situation())))


def _with_more(record: PatientRecord, advice: Advice, said: Said) -> Say:
    """The advice, and behind it what goes with a new level, or else a tip."""
    if advice.action is Action.STOP:
        return Say(said)
    told = tips.last_told(record.store, record.patient.id)
    key = f"level {advice.position.level}"
    if not advice.session_today or told.get(key, date.min) >= record.history.enrolled_on:
        return Say(_with_tip(record, advice, said, told))
    tips.keep(record.store, record.patient.id, key, record.today, record.now)
    begun = say_level(record.words(said), record.history, record.protocol, record.goal)
    picture = exercise_picture(record)
    return Say(begun, picture=None if picture is None else picture[0])


def _with_tip(record: PatientRecord, advice: Advice, said: Said, told: Mapping[str, date]) -> Said:
    """The advice, and behind it the first tip that fits the moment and the room; in place of a tip,
    that nothing is asked tomorrow."""
    text = record.words(said)
    if is_left_alone(record, record.today + timedelta(days=1)):
        return Said("with-tip", {"text": text, "tip": record.words(Said("none-tomorrow"))})
    shipped = shipped_tips(record.patient.language)
    limit = pain_limit(record.history, record.protocol)
    for tip in fitting(shipped, advice, record.episode.tendon, told, record.today, limit):
        tip_text = record.words(Said(tip.text)) if tip.asks else tip.text
        both = Said("with-tip", {"text": text, "tip": tip_text})
        long = segments(gsm(record.words(both))).count > SEGMENTS_MAX
        if not long and not (tip.asks and record.state.waiting):
            _keep_tip(record, tip)
            return both
    return said


def _keep_tip(record: PatientRecord, tip: Tip) -> None:
    tips.keep(record.store, record.patient.id, tip.key, record.today, record.now)
    if tip.asks:
        state = replace(record.state, waiting=(Asked(Question.SET_OFF, record.today),))
        conversations.keep(record.store, record.patient.id, state, record.now)


def _say_topics(record: PatientRecord, asked: TopicsAsked) -> None:
    for topic in asked.topics:
        said = topic_answer(record, topic)
        if said is not None:
            say(record, Say(said))
        elif topic == "session":
            _say_plan(record)
        else:
            _say_why(record)


def _say_why(record: PatientRecord) -> None:
    latest = decisions.latest(record.store, record.episode.id)
    # On a morning that is skipped no answer will come to decide the day.
    now = record.held or is_left_alone(record, record.today)
    advice = record.advice if now or latest is None else latest.advice
    if record.held == "asked":
        said = say_held(record, record.held)
    elif advice is None or (latest is None and not record.held):
        said = Said("nothing-decided")
    else:
        said = say_why(advice, record.protocol, record.situation())
    say(record, Say(said))


def _say_plan(record: PatientRecord) -> None:
    """The session, the days of this week it falls on, and the drawing of it where it is shown."""
    latest = decisions.latest(record.store, record.episode.id)
    alone = is_left_alone(record, record.today)  # no answers will come to decide this day
    advice = record.advice if alone or latest is None else latest.advice
    if record.held:
        say(record, Say(say_held(record, record.held)))
    if record.held or advice is None:
        return
    situation, prescription = record.situation(), record.prescription()
    decided = alone or record.decided_today is not None
    plan = record.words(say_plan(advice, record.protocol, situation, decided=decided))
    days: tuple[date, ...] = ()
    if prescription is not None:
        days = planned_days(
            record.today,
            prescription.level.spacing_days,
            situation.last_session_on,
            session_today=record.session_offered,
        )
    say(record, Say(say_week(plan, days, situation)))
    if days:
        _show(record, exercise_picture(record))


def _say_progress(record: PatientRecord) -> None:
    if record.episode.enrolled_on is None:
        return
    set_off = tuple(
        SetOff(answer.about, str(answer.value))
        for answer in record.kept
        if answer.question == Question.SET_OFF
    )
    said = say_progress(record.history, record.protocol, record.situation(), set_off)
    say(record, Say(said))
    _show(record, weeks_picture(record))


def _show(record: PatientRecord, picture: tuple[int, Said] | None) -> None:
    if picture is not None:
        number, said = picture
        say(record, Say(said, picture=number))


def _say_visa_total(record: PatientRecord, on: date) -> None:
    """The total of a sheet and how far it lies from the one before; nothing where an item is open.

    What change is called important is for the clinician to see, and `rules.alerts` raises it.
    """
    total = dict(record.sheets).get(on)
    earlier = [(before, points) for before, points in record.sheets if before < on]
    if total is not None:
        say(record, Say(say_total(total, earlier[-1] if earlier else None)))
