"""The enrolment dialog: consent, time zone, morning time, side, usual pain and stiffness, goal; and
what the patient can do, where it is open at which level the ladder begins.

One question a message. A guessed time zone is confirmed by the time it is there. A "no" to
consent ends it. What the patient can do may be skipped. Read next: `patient`.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import time
from textwrap import shorten

from dialogs.answering import Talk, not_understood, read_back
from dialogs.asking import ask
from dialogs.questions import ABILITY, ENROLMENT
from dialogs.reading import Reading, command, read_answers
from dialogs.reading_places import read_place
from dialogs.rendering import render
from dialogs.turn import (
    Answer,
    Asked,
    Consented,
    Declined,
    Enrolled,
    Question,
    Said,
    Situation,
    State,
    Turn,
    Unread,
    Value,
)
from dialogs.waiting import signs_of
from dialogs.words import bare, shipped_words

# How much of a goal is kept [characters]. Convention: with the sentence around it, one SMS.
GOAL_LENGTH_MAX = 60


def open_enrolment(state: State, situation: Situation) -> Turn:
    """Start the enrolment dialog afresh: consent is asked first, and nothing that the clinic has
    told with the invitation."""
    today = situation.today
    signs = signs_of(state.waiting)
    told = _told_before(situation)
    questions = ENROLMENT + (ABILITY if situation.asks_ability else ())
    state = State(
        waiting=signs + tuple(Asked(one, today) for one in questions if one not in told),
        gathered=tuple(Answer(one, today, value) for one, value in told.items()),
    )
    return Turn(state, said=(ask(state, situation, shipped_words(situation.language)),))


def _told_before(situation: Situation) -> dict[Question, int | str]:
    told: dict[Question, int | str] = {}
    if situation.side:
        told[Question.SIDE] = situation.side
    if situation.usual is not None:
        told[Question.USUAL_PAIN], told[Question.USUAL_STIFFNESS] = situation.usual
    return told


def answer_enrolment(talk: Talk) -> Turn:
    """A reply to the enrolment question at the head of the queue."""
    asked = talk.state.waiting[0]
    if asked.question is Question.TIME_ZONE:
        return _time_zone(talk)
    if asked.question is Question.GOAL:
        return _gathered(talk, _goal(talk))
    reading = read_answers(talk.text, (asked,), talk.words)
    if reading.problem or len(reading.reads) != 1:
        return not_understood(talk, Reading(problem=reading.problem or "unclear", at=asked))
    if asked.question is not Question.CONSENT:
        return _with_notes(_gathered(talk, reading.reads[0].value), reading)
    if not reading.reads[0].value:
        return Turn(State(), (Declined(),), (Said("enrolment/declined"),))
    shown = render(ask(talk.state, talk.situation, talk.words), talk.situation)
    state = replace(talk.state, waiting=talk.state.waiting[1:])
    return Turn(state, (Consented(shown),), (ask(state, talk.situation, talk.words),))


def _with_notes(turn: Turn, reading: Reading) -> Turn:
    """The turn, with what was rounded said back and words beside the answer kept."""
    noted = read_back(reading.reads[0])
    said = (noted, *turn.said) if noted else turn.said
    recorded = (*turn.recorded, Unread(reading.rest)) if reading.rest else turn.recorded
    return replace(turn, recorded=recorded, said=said)


def _time_zone(talk: Talk) -> Turn:
    """A place, or the yes or no to the zone offered."""
    meaning = talk.words.answers.get(bare(talk.text), "")
    if talk.state.guess and meaning == "yes":
        return _gathered(talk, talk.state.guess)
    if talk.state.guess and meaning == "no":
        state = replace(talk.state, guess="")
        return Turn(state, said=(ask(state, talk.situation, talk.words, "enrolment/other-city"),))
    place = read_place(talk.text, talk.words)
    if place is None:
        problem = Reading(problem="unclear", at=talk.state.waiting[0])
        return not_understood(replace(talk, state=replace(talk.state, guess="")), problem)
    if place.certain:
        return _gathered(talk, place.zone)
    state = replace(talk.state, guess=place.zone)
    return Turn(state, said=(ask(state, talk.situation, talk.words),))


def _goal(talk: Talk) -> str:
    """What the patient wants to be able to do again, in their own words; empty where they would
    rather not say. A number says nothing of it."""
    declined = talk.words.answers.get(bare(talk.text)) in ("no", "none", "unsure")
    words = any(letter.isalpha() for letter in talk.text)
    if declined or not words or command(talk.text, talk.words) == "skip":
        return ""
    return shorten(talk.text, GOAL_LENGTH_MAX, placeholder="...")


def _gathered(talk: Talk, value: int | str) -> Turn:
    """Keep the answer and ask on; after the last one the patient is enrolled."""
    asked = talk.state.waiting[0]
    answer = Answer(asked.question, asked.about, value)
    gathered = (*talk.state.gathered, answer)
    waiting = talk.state.waiting[1:]
    # Who can not rise on both feet is not asked about one.
    if waiting and (asked.question not in ABILITY or value):
        state = replace(talk.state, waiting=waiting, gathered=gathered, guess="")
        return Turn(state, said=(ask(state, talk.situation, talk.words),))
    return _finished(gathered, talk.situation)


def skip_ability(talk: Talk) -> Turn | None:
    """SKIP, where a question may be skipped; None where it may not."""
    if talk.state.waiting and talk.state.waiting[0].question in ABILITY:
        return _finished(talk.state.gathered, talk.situation)
    return None


def _finished(gathered: tuple[Answer, ...], situation: Situation) -> Turn:
    enrolled = _enrolled(gathered)
    told = tuple(
        answer
        for answer in gathered
        if answer.question in ABILITY or (answer.question is Question.GOAL and answer.value)
    )
    values: dict[str, Value] = {
        "morning_time": enrolled.morning_time.strftime("%H:%M"),
        "side": enrolled.side,
        "goal": next(one.value for one in gathered if one.question is Question.GOAL),
        "begins_open": situation.asks_ability,
    }
    return Turn(State(), (enrolled, *told), (Said("enrolment/welcome", values),))


def _enrolled(gathered: tuple[Answer, ...]) -> Enrolled:
    values = {answer.question: answer.value for answer in gathered}
    return Enrolled(
        time_zone=str(values[Question.TIME_ZONE]),
        morning_time=time.fromisoformat(str(values[Question.MORNING_TIME])),
        side=str(values[Question.SIDE]),
        usual_pain=int(values[Question.USUAL_PAIN]),
        usual_stiffness=int(values[Question.USUAL_STIFFNESS]),
    )
