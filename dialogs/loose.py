"""A message with nothing waiting: a number is asked about, anything else goes to the clinician.

Nothing is dropped and nothing is guessed. Read next: `patient`.
"""

from __future__ import annotations

from dataclasses import replace

from dialogs.answering import Talk
from dialogs.asking import ask
from dialogs.questions import FACTS
from dialogs.tokens import tokens
from dialogs.turn import Answer, Asked, Completed, Question, Recorded, Said, Turn, Unread


def loose(talk: Talk) -> Turn:
    """Nothing waits. A number alone is asked about; anything else is kept for the clinician."""
    number = _number(talk)
    if number is None:
        return Turn(talk.state, (Unread(talk.text),), (Said("unread"),))
    asked = Asked(Question.WHAT_ABOUT, talk.situation.today)
    state = replace(talk.state, waiting=(asked,), loose=str(number), last=())
    return Turn(state, said=(ask(state, talk.situation, talk.words),))


def answer_loose(talk: Talk) -> Turn:
    """What the number was about. Not told clearly: number and words go to the clinician."""
    topic = talk.words.topics.get(talk.text.strip().lower().strip(".!"), "other")
    state = replace(talk.state, waiting=talk.state.waiting[1:], loose="")
    asked = _meant(talk, topic)
    if asked is None:
        words = Unread(f"{talk.state.loose} / {talk.text}")
        return Turn(state, (words,), (Said("unread"),))
    fact = FACTS[asked.question]
    recorded: tuple[Recorded, ...] = (
        Answer(asked.question, asked.about, int(talk.state.loose), corrects=True),
        Completed(fact.group, asked.about),
    )
    return Turn(replace(state, last=(asked,)), recorded)


def _meant(talk: Talk, topic: str) -> Asked | None:
    if topic == "morning":
        return Asked(Question.FIRST_STEP_PAIN, talk.situation.today)
    if topic == "session" and talk.situation.last_session_on is not None:
        return Asked(Question.PAIN_AFTER, talk.situation.last_session_on)
    return None


def _number(talk: Talk) -> int | None:
    """The pain that a message consists of, or None: a whole number from 0 to 10, alone."""
    pieces = tokens(talk.text, talk.words)
    fact = FACTS[Question.FIRST_STEP_PAIN]
    if len(pieces) != 1 or pieces[0].kind != "value" or pieces[0].low != pieces[0].high:
        return None
    value = pieces[0].low
    whole = value == int(value) and pieces[0].unit != "minutes"
    return int(value) if whole and fact.lowest <= value <= fact.highest else None
