"""Everything the bot says, each template with each of its branches, for the tests of wording."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from decides.examples import EXAMPLES
from talks.talking import SITUATION, TODAY, ZONE

from dialogs.advising import (
    DayNumbers,
    EscalationNotice,
    ListedEscalation,
    numbers_line,
    prescription_at,
    say_advice,
    say_escalation,
    say_listed_escalation,
    say_plan,
    say_plan_changed,
    say_sign,
    say_why,
)
from dialogs.alerting import say_alert
from dialogs.asking import ask, session_values
from dialogs.questions import SESSION, VISA_A
from dialogs.reading import NUMBERED
from dialogs.rendering import render, template_names
from dialogs.samples import included, sample_values
from dialogs.turn import Answer, Asked, Question, Said, Situation, State, Value
from dialogs.words import shipped_words
from rules.advice import advise
from rules.alerts import Alert, AlertKey
from rules.history import Tier
from rules.protocol import Position
from rules.protocol_reader import shipped_protocol
from rules.reasons import Action, Advice, Finding, Reason

# A clinic that has set little: no names, no phone, no crisis line.
LITTLE: dict[str, object] = {
    "patient_name": "",
    "clinic": "",
    "clinician_name": "",
    "clinic_phone": "",
    "crisis_line": "",
    "prescription": None,
}
SIGN_QUESTIONS = {
    "en": "Do you have chest pain? Reply YES or NO.",
    "es": "\u00bfTe duele el pecho? Responde S\u00cd o NO.",
}
PROTOCOLS = ("mid-portion-ladder", "insertional-ladder", "heavy-slow")


# What these folders hold is read by clinicians.
CLINICIANS = ("clinician/", "alert/")


@dataclass(frozen=True)
class Saying:
    """A text as it is sent. `for_patient`: a patient reads it, not a clinician."""

    template: str
    text: str
    for_patient: bool = True


def sayings(language: str = "en") -> list[Saying]:
    """Every text of a language, with sample values for every branch."""
    base = replace(SITUATION, language=language)
    spoken = [*_advice(base), *_questions(base), *_signs(base), *_replies(base)]
    spoken += _for_clinicians(base)
    spoken += _others(base, {said.template for said, _ in spoken})
    return [
        Saying(said.template, render(said, situation), not said.template.startswith(CLINICIANS))
        for said, situation in spoken
    ]


def _clinics(base: Situation) -> tuple[Situation, ...]:
    """The same patient with one sore side, with two, and at a clinic that has set little."""
    return (base, replace(base, side="both"), replace(base, **LITTLE))  # type: ignore[arg-type]


Spoken = Iterator[tuple[Said, Situation]]


def _advice(base: Situation) -> Spoken:
    """Every worked example of the rules, each of its reasons said in its own right."""
    for example in EXAMPLES:
        found = advise(example.history, example.protocol, example.today)
        noon = datetime.combine(example.today, SITUATION.now.time(), ZONE)
        situation = replace(base, now=noon)
        for finding in (found.because, *found.also):
            advice = replace(found, because=finding)
            for moved in (advice, replace(advice, position=_below(advice))):
                yield say_advice(moved, example.protocol, situation), situation
                yield say_why(moved, example.protocol, situation), situation
                yield say_plan(moved, example.protocol, situation), situation
    yield from _every_session(base)


def _below(advice: Advice) -> Position:
    return Position(max(1, advice.position.level - 1), 1)


def _every_session(base: Situation) -> Spoken:
    """Each dose of each shipped protocol, as an advance to it, and the first session ever."""
    first = replace(base, last_session_on=None)
    few = Finding(Action.HOLD, Reason.TOO_FEW_DAYS, {"days_min": 7, "days_at_level": 0,
                  "level_began_on": TODAY.isoformat()})  # fmt: skip
    at_first = Advice(TODAY, few, (), Position(1, 1), Position(1, 1))
    ladder = shipped_protocol(PROTOCOLS[0])
    yield say_advice(at_first, ladder, first), first
    yield say_why(at_first, ladder, first), first
    yield say_plan(at_first, ladder, first, decided=False), first
    ready = Finding(Action.ADVANCE, Reason.READY, {})
    for name in PROTOCOLS:
        protocol = shipped_protocol(name)
        for number, level in enumerate(protocol.levels, 1):
            for dose in range(1, len(level.doses) + 1):
                at = Position(number, dose)
                advice = Advice(TODAY, ready, (), Position(number, max(1, dose - 1)), at)
                yield say_advice(advice, protocol, base), base
                changed = prescription_at(protocol, at)
                for today in (True, False):
                    said = say_plan_changed(changed, base, session_today=today)
                    yield said, base
    yield say_plan_changed(None, base), base
    for held in ("stopped", "asked", "paused", "rest"):
        yield say_plan_changed(None, base, held=held), base
    yield say_plan_changed(None, base, paused_on=TODAY), base
    yield say_plan_changed(None, base, paused_on=TODAY, paused_until=TODAY), base
    nothing = {**session_values(None), "session_today": False, "decided": True}
    yield Said("plan", nothing), base


def _questions(base: Situation) -> Spoken:
    """Each question alone and with those it is put together with, today's and an older day's."""
    # Of the items of a sheet one of each kind: 0 to 10, and points of its own.
    like_others = (*VISA_A[:5], VISA_A[7])
    singly = [question for question in Question if question not in like_others]
    groups = [(question,) for question in singly] + [
        (Question.FIRST_STEP_PAIN, Question.STIFFNESS, Question.NEXT_DAY_PAIN),
        (Question.FIRST_STEP_PAIN, Question.STIFFNESS, Question.TWO_DAY_PAIN),
        SESSION[:4],
        SESSION[3:],
        SESSION[4:],
        (Question.FIRST_STEP_PAIN, Question.STIFFNESS, VISA_A[0]),
        (Question.FIRST_STEP_PAIN, Question.STIFFNESS, *VISA_A[6:]),
        VISA_A,
        VISA_A[6:],
    ]
    for group in groups:
        for about in (TODAY, TODAY - timedelta(days=1), TODAY - timedelta(days=2)):
            for situation in _clinics(base):
                if situation.side == "both":
                    known = Answer(Question.NEXT_DAY_PAIN, about, 2)
                    situation = replace(situation, answered=(known,))
                for out_of in (0, 3):
                    yield from _asked(group, about, situation, out_of)


def _asked(group: tuple[Question, ...], about: date, situation: Situation, out_of: int) -> Spoken:
    waiting = tuple(
        Asked(q, about, wording=SIGN_QUESTIONS[situation.language], out_of=out_of) for q in group
    )
    state = State(waiting, unprompted="7")
    words = shipped_words(situation.language)
    yield ask(state, situation, words), situation
    for problem in ("unclear", "too-many", "out-of-range", "choices", "unread"):
        yield ask(state, situation, words, f"unclear/{problem}"), situation
    yield ask(state, situation, words, "needed"), situation
    if group[0].row.group == "enrolment":
        both = (Answer(Question.SIDE, about, "both"),)
        guessed = replace(state, guess="America/New_York", gathered=both)
        yield ask(guessed, situation, words), situation
        yield ask(state, situation, words, "enrolment/other-city"), situation
    if group[0] is Question.FIRST_STEP_PAIN and about == TODAY:
        yield from _prompted(state, situation)


def _prompted(state: State, situation: Situation) -> Spoken:
    words = shipped_words(situation.language)
    for kind in ("morning", "evening", "follow-up", "weekly", "morning-reminder"):
        for short in range(5):
            yield ask(state, situation, words, "prompt", prompt_kind=kind, short=short), situation


def _signs(base: Situation) -> Spoken:
    for situation in _clinics(base):
        for tier in Tier:
            yield say_sign(tier, "leg-clot", situation), situation
        yield say_sign(Tier.EMERGENCY, "crisis", situation), situation
        yield say_sign(Tier.NEXT_WORKING_DAY, "low-mood", situation), situation


def _replies(base: Situation) -> Spoken:
    """What answers a patient besides questions and advice."""
    plain = [
        "passed-on", "sign-no", "sign-no-words", "crisis-denied", "crisis-line", "not-answered",
        "no-session", "session-already", "too-late-button", "skipped",
        "resumed", "help", "person", "urgent", "unread",
        "hello", "noted", "enrolment/declined", "stranger", "nothing-decided",
    ]  # fmt: skip
    said = [Said(name) for name in plain]
    said += [Said("pause-how-long", {"ill": ill}) for ill in (False, True)]
    said += [Said("goal-changed", {"goal": goal}) for goal in ("run 5 km", "")]
    for ill in (False, True):
        said += [Said("paused", {"until": TODAY, "on": on, "ill": ill}) for on in (None, TODAY)]
    said.append(Said("correct-which", {"example": "3 10"}))
    for goal, asked in (("", False), ("run 5 km with my daughter", True)):
        values = {"morning_time": "07:30", "side": "left", "goal": goal, "begins_open": asked}
        said.append(Said("enrolment/welcome", values))
    said.append(Said("told/acknowledged", {"by": "Dr Moss"}))
    until = date(2026, 3, 15)
    follows = ("go-on", "rest", "sent-on", "stopped", "wait", "paused", "nothing")
    said += [
        Said("told/closed", {"by": "Dr Moss", "follows": one, "until": until, "questions": asked})
        for one in follows
        for asked in (True, False)
    ]
    said += [Said("told/lifted", {"by": "Dr Moss"})]
    for question in Question:
        numbers = question.row.kind in NUMBERED
        if numbers or question is Question.PAINKILLER:
            said += _read_back(question)
    for situation in _clinics(base):
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


def _for_clinicians(base: Situation) -> Spoken:
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
        since=base.now,
    )
    numbers = numbers_line(days, base.language)
    full = replace(notice, numbers=numbers, told="Be seen today.", patient_phone="+1")
    full = replace(full, others="2 Bo: silence", remarks="may mean: a clot")
    for one in (notice, full):
        for again in (1, 2):
            yield say_escalation(replace(one, again=again)), base
        yield say_escalation(replace(one, exhausted=True)), base
    for tier in Tier:
        yield say_escalation(replace(full, tier=tier)), base
    matter = ListedEscalation(12, "Ana Lund", "no answer for 3 days", "", base.now)
    for one in (matter, replace(matter, wrote="my heel", stops_loading=False, exhausted=True)):
        yield say_listed_escalation(one), base
    more: dict[str, Value] = {"number": 12, "patient": "Ana Lund", "wrote": "hot", "at": base.now}
    for ours in (False, True):
        values = {**more, "ours": ours, "is_closed": ours}
        yield Said("clinician/more-words", values), base
    for asked in ("", "asked: Is it? Answered: no"):
        yield Said("clinician/words-line", {**more, "asked": asked}), base
    for left in (0, 3):
        yield Said("clinician/words", {"lines": "Ana: hello", "count": 1, "more": left}), base
    for meant in ("", "PAUSE Ana till 3 May"):
        yield Said("clinician/expected", {"meant": meant}), base
    for numbers in ("", "3 4"):
        yield Said("clinician/thanked", {"numbers": numbers}), base
    yield Said("clinician/commands"), base
    for said in _clinician_replies():
        yield said, base
    compared = {
        "weeks": 12, "visa_a_rise": 4, "points_min": 14, "pain_same_day": 10, "days_silent": 3,
        "step_backs": 2, "window_days": 14, "usual": 4.0, "limit": 4, "days": 14, "steps_down": 3,
        "reason": "follow-up-missing", "sessions": 6, "sessions_done": 2, "sessions_due": 7,
        "sessions_masked": 4, "effort_min": 8, "stiffness_mean": 31.4, "stiffness_mean_before": 10,
    }  # fmt: skip
    raises = {"on_one": 1, "in_a_row": 12, "begins_at": 5}
    for key in AlertKey:
        for mean, slower in ((None, 0), (3.4, 1)):
            evidence = {**compared, **raises, "pain_mean": mean, "slower": slower}
            yield say_alert(Alert(Tier.SAME_DAY, key, TODAY, evidence), base), base
    for on_one in (None, 0, 1):
        evidence = {**compared, **raises, "on_one": on_one, "in_a_row": None}
        told = Alert(Tier.NEXT_WORKING_DAY, AlertKey.FIRST_LEVEL, TODAY, evidence)
        yield say_alert(told, base), base


def _clinician_replies() -> Iterator[Said]:
    who: dict[str, Value] = {"number": 12, "patient": "Ana Lund", "by": "Dr Moss"}
    for name in ("note-kept", "somebody-has-it"):
        yield Said(f"clinician/{name}", who)
    yield Said("clinician/somebody-has-them", {**who, "lines": "12 (Ana Lund), 13 (Bo)"})
    for count in (1, 2):
        values: dict[str, Value] = {"number": 12, "count": count, "lines": "12 Ana Lund: silence"}
        yield Said("clinician/list", values)
    yield Said("clinician/taken", {**who, "at": "09:05"})
    yield Said("clinician/refused", {"why": "there is no patient of that name"})
    for held in (True, False):
        yield Said("clinician/spending", {"used": 1600, "limit": 2000, "held": held})
    invited = {"name": "Ana", "code": "ABCD-2345", "days": 7, "number": 1, "dose": 1}
    for asked in (False, True):
        yield Said("clinician/invited", {**invited, "begins_open": asked})
    yield Said("menu")
    for nobody in (False, True):
        counts = {"patients": 60, "answers": 112, "open": 2}
        yield Said("clinician/running", {**counts, "nobody": nobody})
    yield Said("clinician/welcome", {"name": "Dr Moss"})
    for name in ("needs", "patient"):
        yield Said(f"clinician/{name}", {"lines": "Ana Lund\nlevel 2, dose 1"})


def _others(base: Situation, said_already: set[str]) -> Spoken:
    """The templates that nothing above says, with the sample values that clinics are shown."""
    reached = {n for name in said_already for n in included(name, base.language)}
    for name in template_names(base.language):
        if name in said_already or name in reached:
            continue
        for situation in _clinics(base):
            for values in sample_values(name, base.language):
                yield Said(name, values), situation
