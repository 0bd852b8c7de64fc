"""Turns what a dialog recorded into rows. Says nothing and decides nothing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime

from bot.escalations.open import raise_concern
from bot.patient_record.prompt_schedule import plan_prompts
from bot.patient_record.record import Case
from bot.patients.preferences import keep_life
from bot.patients.warning_signs import sign_answered, warn_of_urgent_words
from bot.store import answers, audit, escalations, people, plans
from bot.store.inbox import Received
from dialogs.questions import FACTS
from dialogs.turn import (
    Answer,
    Completed,
    Consented,
    Declined,
    Enrolled,
    OptedIn,
    OptedOut,
    Question,
    Recorded,
    SignAnswered,
    Unread,
)
from dialogs.wishes import (
    ChannelChosen,
    CopyAsked,
    ErasureAsked,
    LanguageChosen,
    MorningTimeChosen,
    PauseAsked,
    PersonAsked,
    PlanAsked,
    ProgressAsked,
    ResumeAsked,
    UrgentSaid,
    WhyAsked,
    ZoneChosen,
)
from rules.history import Tier
from rules.protocol import Position

PAINS = frozenset(
    {
        Question.FIRST_STEP_PAIN,
        Question.NEXT_DAY_PAIN,
        Question.TWO_DAY_PAIN,
        Question.PAIN_DURING,
        Question.PAIN_AFTER,
    }
)

# Groups of questions whose answers the rules decide on.
DECIDED = frozenset({"morning", "session", "follow-up"})


@dataclass
class Effects:
    """What is left to do once everything is recorded. `denied_asked_at`: when the closed question
    was put that has now been answered with no. `sheet_on`: the date of a VISA-A sheet of which
    the last item was answered."""

    to_decide: bool = False
    asked_morning: bool = False
    unread: bool = False
    pains: tuple[int, ...] = ()
    corrected_since: date | None = None
    denied_asked_at: datetime | None = None
    sheet_on: date | None = None
    asked: list[WhyAsked | PlanAsked | ProgressAsked] = field(default_factory=list)


def record(case: Case, recorded: Sequence[Recorded], received: Received) -> Effects:
    """Keep each thing, in the order in which the dialog recorded it."""
    effects = Effects()
    for thing in recorded:
        match thing:
            case Answer():
                _keep_answer(case, thing, received.id, effects)
            case Completed():
                effects.to_decide |= thing.group in DECIDED
                effects.asked_morning |= thing.group == "morning"
                if thing.group == "visa-a":
                    effects.sheet_on = thing.about
            case SignAnswered():
                asked = sign_answered(case, thing.sign, yes=thing.yes, message=received.id)
                if asked is not None and not thing.yes:
                    effects.denied_asked_at = asked.asked_at
            case Unread():
                effects.unread = True
            case WhyAsked() | PlanAsked() | ProgressAsked():
                effects.asked.append(thing)
            case MorningTimeChosen() | LanguageChosen() | ChannelChosen() | ZoneChosen():
                keep_life(case, thing)
            case _:
                _keep_wish(case, thing, received)
    if effects.corrected_since is not None and effects.to_decide:
        plans.undo_moves(case.store, case.episode.id, effects.corrected_since, case.now)
    return effects


def _keep_answer(case: Case, answer: Answer, message: int, effects: Effects) -> None:
    answers.keep(
        case.store,
        case.episode.id,
        answer.question,
        answer.about,
        answer.value,
        case.now,
        message,
    )
    if answer.question is Question.SETS_DONE:
        _keep_session(case, answer)
    if answer.question in PAINS:
        effects.pains += (int(answer.value),)
    if answer.corrects:
        effects.to_decide |= FACTS[answer.question].group in DECIDED
        effects.asked_morning = True
        earlier = effects.corrected_since or answer.about
        effects.corrected_since = min(earlier, answer.about)


def _keep_session(case: Case, answer: Answer) -> None:
    """Sets done make a session; none at all unmake it."""
    if not int(answer.value):
        answers.drop_session(case.store, case.episode.id, answer.about)
        return
    position = _position_on(case, answer.about)
    sets = case.protocol.dose(position).sets
    answers.keep_session(case.store, case.episode.id, answer.about, position, sets, case.now)


def _position_on(case: Case, on: date) -> Position:
    """Where the patient stood when the session of that date was done: a report that comes a day
    late belongs to the place of its own day."""
    moves = plans.moves(case.store, case.episode.id)
    before = [move for move in moves if move.on <= on]
    return (before or list(moves))[-1].position


def _keep_wish(case: Case, wish: Recorded, received: Received) -> None:
    """What the patient wants, or agrees to."""
    store, patient, now = case.store, case.patient, case.now
    audit.note(store, patient.id, type(wish).__name__, now)
    match wish:
        case Consented():
            people.record_consent(store, patient.id, wish.wording, now)
        case Enrolled():
            _enrol(case, wish)
        case PauseAsked():
            plans.pause(store, case.episode.id, case.today, wish.until, patient.id, now)
        case ResumeAsked():
            plans.end_pauses(store, case.episode.id, case.today, now)
            plan_prompts(case.again())
        case OptedOut() | Declined():
            people.opt_out(store, patient.id, now)
            _tell_clinician(case, "opted-out", received)
        case OptedIn():
            people.opt_in(store, patient.id)
            plan_prompts(case.again())
        case PersonAsked():
            _tell_clinician(case, "asks-for-a-person", received)
        case ErasureAsked():
            _tell_clinician(case, "asks-for-erasure", received, again=False)
        case CopyAsked():
            _tell_clinician(case, "asks-for-a-copy", received, again=False)
        case UrgentSaid():
            warn_of_urgent_words(case, received)


def _enrol(case: Case, enrolled: Enrolled) -> None:
    people.set_zone(case.store, case.patient.id, enrolled.time_zone)
    there = case.again()
    plans.enrol(
        case.store,
        case.episode,
        side=enrolled.side,
        usual_pain=enrolled.usual_pain,
        usual_stiffness=enrolled.usual_stiffness,
        morning_time=enrolled.morning_time,
        on=there.today,
        now=case.now,
    )
    plan_prompts(there.again())


def _tell_clinician(case: Case, what: str, received: Received, *, again: bool = True) -> None:
    """`again` False: nothing is added to a matter of the same kind that is open already."""
    still_open = escalations.not_closed(case.store, case.patient.id)
    if not again and any(one.sign == what for one in still_open):
        return
    raise_concern(
        case.store,
        case.patient,
        sign=what,
        tier=Tier.NEXT_WORKING_DAY,
        words=received.incoming.text,
        now=case.now,
        stops_loading=False,
        message=received.id,
    )
