"""Everything the bot says, each template with each of its branches, for the tests of wording."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from decides.examples import EXAMPLES
from talks.talking import RAISES, SITUATION, TODAY, ZONE

from dialogs.advising import (
    DayNumbers,
    EscalationNotice,
    numbers_line,
    prescription_at,
    say_advice,
    say_escalation,
    say_plan,
    say_plan_changed,
    say_sign,
    say_why,
)
from dialogs.alerting import say_alert
from dialogs.asking import ask, session_values
from dialogs.questions import FACTS, SESSION, Kind
from dialogs.turn import Answer, Asked, Question, Said, Situation, State, Value
from dialogs.wording import render
from dialogs.words import shipped_words
from rules.advice import advise
from rules.alerts import Alert, AlertKey
from rules.history import Tier
from rules.protocol import Dose, DoseUnit, Position
from rules.protocol_reader import shipped_protocol
from rules.reasons import Action, Advice, Finding, Reason

WORDS = shipped_words()
BOTH = replace(SITUATION, side="both")
# A clinic that has set little: no names, no phone, no crisis line.
BARE = replace(
    SITUATION,
    patient_name="",
    clinic="",
    clinician_name="",
    clinic_phone="",
    crisis_line="",
    prescription=None,
)
SITUATIONS = (SITUATION, BOTH, BARE)
PROTOCOLS = ("mid-portion-ladder", "insertional-ladder", "heavy-slow")


@dataclass(frozen=True)
class Saying:
    """A text as it is sent. `for_patient`: a patient reads it, not a clinician."""

    template: str
    text: str
    for_patient: bool = True


def sayings() -> list[Saying]:
    """Every text, with sample values for every branch."""
    found = [
        Saying(said.template, render(said, situation))
        for said, situation in [*_advice(), *_questions(), *_signs(), *_replies()]
    ]
    clinician = [
        Saying(said.template, render(said, situation), for_patient=False)
        for said, situation in _for_clinicians()
    ]
    return found + clinician


Spoken = Iterator[tuple[Said, Situation]]


def _advice() -> Spoken:
    """Every worked example of the rules, each of its reasons said in its own right."""
    for example in EXAMPLES:
        found = advise(example.history, example.protocol, example.today)
        noon = datetime.combine(example.today, SITUATION.now.time(), ZONE)
        situation = replace(SITUATION, now=noon)
        for finding in (found.because, *found.also):
            advice = replace(found, because=finding)
            for moved in (advice, replace(advice, position=_below(advice))):
                yield say_advice(moved, example.protocol, situation), situation
                yield say_why(moved, example.protocol, situation), situation
                yield say_plan(moved, example.protocol, situation), situation
    yield from _every_session()


def _below(advice: Advice) -> Position:
    return Position(max(1, advice.position.level - 1), 1)


def _every_session() -> Spoken:
    """Each dose of each shipped protocol, as an advance to it."""
    ready = Finding(Action.ADVANCE, Reason.READY, {})
    for name in PROTOCOLS:
        protocol = shipped_protocol(name)
        for number, level in enumerate(protocol.levels, 1):
            for dose in range(1, len(level.doses) + 1):
                at = Position(number, dose)
                advice = Advice(TODAY, ready, (), Position(number, max(1, dose - 1)), at)
                yield say_advice(advice, protocol, SITUATION), SITUATION
                changed = prescription_at(protocol, at)
                for today in (True, False):
                    said = say_plan_changed(changed, SITUATION, session_today=today)
                    yield said, SITUATION
    yield say_plan_changed(None, SITUATION), SITUATION
    yield say_plan_changed(None, SITUATION, paused_on=TODAY), SITUATION
    yield say_plan_changed(None, SITUATION, paused_on=TODAY, paused_until=TODAY), SITUATION
    yield Said("plan", {**session_values(None), "session_today": False}), SITUATION


def _questions() -> Spoken:
    """Each question alone and with those it is put together with, today's and an older day's."""
    groups = [(question,) for question in Question] + [
        (Question.FIRST_STEP_PAIN, Question.STIFFNESS, Question.NEXT_DAY_PAIN),
        (Question.FIRST_STEP_PAIN, Question.STIFFNESS, Question.TWO_DAY_PAIN),
        SESSION[:3],
        SESSION[3:5],
    ]
    for group in groups:
        for about in (TODAY, TODAY - timedelta(days=1), TODAY - timedelta(days=2)):
            for situation in SITUATIONS:
                for out_of in (0, 3):
                    yield from _asked(group, about, situation, out_of)


def _asked(group: tuple[Question, ...], about: date, situation: Situation, out_of: int) -> Spoken:
    waiting = tuple(
        Asked(q, about, wording="Do you have chest pain? Reply YES or NO.", out_of=out_of)
        for q in group
    )
    state = State(waiting, loose="7")
    yield ask(state, situation, WORDS), situation
    for problem in ("unclear", "too-many", "out-of-range", "choices", "unread"):
        yield ask(state, situation, WORDS, f"unclear/{problem}"), situation
    yield ask(state, situation, WORDS, "needed"), situation
    if FACTS[group[0]].group == "enrolment":
        both = (Answer(Question.SIDE, about, "both"),)
        guessed = replace(state, guess="America/New_York", gathered=both)
        yield ask(guessed, situation, WORDS), situation
        yield ask(state, situation, WORDS, "enrolment/other-city"), situation
    if group[0] is Question.FIRST_STEP_PAIN and about == TODAY:
        yield from _prompted(state, situation)


def _prompted(state: State, situation: Situation) -> Spoken:
    seconds = replace(RAISES, dose=Dose(4, 40, DoseUnit.SECONDS))
    loaded = replace(RAISES, dose=Dose(3, 15, DoseUnit.REPETITIONS, 5.0))
    for kind in ("morning", "evening", "follow-up", "weekly", "morning-reminder"):
        for prescription in (None, RAISES, seconds, loaded):
            for short in (0, 2, 3, 4, 5):
                values = session_values(prescription)
                said = ask(state, situation, WORDS, "prompt", kind_of=kind, short=short, **values)
                yield said, situation


def _signs() -> Spoken:
    for situation in SITUATIONS:
        for tier in Tier:
            yield say_sign(tier, "leg-clot", situation), situation
        yield say_sign(Tier.EMERGENCY, "crisis", situation), situation
        yield say_sign(Tier.NEXT_WORKING_DAY, "low-mood", situation), situation


def _replies() -> Spoken:
    """What answers a patient besides questions and advice."""
    plain = [
        "passed-on", "sign-no", "no-session", "session-already", "too-late-button", "skipped",
        "pause-how-long", "resumed", "help", "opted-out", "opted-in", "person", "unread", "hello",
        "noted", "enrolment/declined", "stranger", "nothing-decided",
    ]  # fmt: skip
    said = [Said(name) for name in plain]
    said.append(Said("paused", {"until": TODAY}))
    said.append(Said("correct-which", {"example": "3 10"}))
    said.append(Said("enrolment/welcome", {"morning_time": "07:30", "side": "left"}))
    said.append(Said("told/acknowledged", {"by": "Dr Moss"}))
    said += [Said("told/closed", {"by": "Dr Moss", "others": others}) for others in (0, 1)]
    for question in Question:
        numbers = FACTS[question].kind in (Kind.SCALE, Kind.MINUTES, Kind.SETS, Kind.COUNT)
        if numbers or question is Question.PAINKILLER:
            said += _read_back(question)
    for situation in SITUATIONS:
        for one in said:
            yield one, situation


def _read_back(question: Question) -> Iterator[Said]:
    for minutes in (True, False):
        for note in ("higher", "rounded"):
            values: dict[str, Value] = {"question": question.value, "value": 4, "minutes": minutes}
            yield Said("read-back", {**values, "note": note})
        for yes_no in (True, False):
            for value in (0, 1):
                yield Said("corrected", {**values, "value": value, "yes_no": yes_no})


def _for_clinicians() -> Spoken:
    days = (
        DayNumbers(TODAY - timedelta(days=1), 3, 10, 4, 2),
        DayNumbers(TODAY, None, None),
    )
    notice = EscalationNotice(
        number=12,
        patient="Ana Lund",
        tier=Tier.SAME_DAY,
        title="calf swollen, warm or tender",
        wrote="3 10 but my calf\nis hot",
        since=SITUATION.now,
    )
    full = replace(notice, numbers=numbers_line(days), told="Be seen today.", patient_phone="+1")
    for one in (notice, full):
        for again in (1, 2):
            yield say_escalation(replace(one, again=again)), SITUATION
        yield say_escalation(replace(one, exhausted=True)), SITUATION
    yield Said("clinician/expected"), SITUATION
    for said in _clinician_replies():
        yield said, SITUATION
    numbers = {
        "weeks": 12, "visa_a_rise": 4, "points_min": 14, "pain_same_day": 10, "days_silent": 3,
        "step_backs": 2, "window_days": 14, "usual": 2.0,
    }  # fmt: skip
    for key in AlertKey:
        for mean in (None, 3.4):
            evidence = {**numbers, "pain_mean": mean}
            yield say_alert(Alert(Tier.SAME_DAY, key, TODAY, evidence)), SITUATION


def _clinician_replies() -> Iterator[Said]:
    who: dict[str, Value] = {"number": 12, "patient": "Ana Lund", "by": "Dr Moss"}
    for name in ("acknowledged", "closed-before", "somebody-has-it"):
        yield Said(f"clinician/{name}", who)
    yield Said("clinician/closed", {**who, "outcome": "seen"})
    yield Said("clinician/taken", {**who, "at": "09:05"})
    yield Said("clinician/refused", {"why": "there is no patient of that name"})
    yield Said("clinician/invited", {"name": "Ana", "code": "ABCD-2345", "days": 7})
    yield Said("clinician/welcome", {"name": "Dr Moss"})
    for name in ("needs", "patient", "plan-changed"):
        yield Said(f"clinician/{name}", {"lines": "Ana Lund\nlevel 2, dose 1"})
