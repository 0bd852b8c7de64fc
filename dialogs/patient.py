"""What a patient may say, and what follows: the table of keywords, and step().

Order: a button answers its own question; STOP and its kin; a correction; keywords; a report out of
turn, a wish, numbers of another day; answers to what waits; anything else is asked about, or kept
for the clinician. Warning signs are looked for before this, by `rules.screening`. Never decides on
load. Read next: `answering`, `late`, `preferences`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

from dialogs.amending import amend
from dialogs.answering import Talk, accept, answer_typed, not_understood
from dialogs.asking import ask
from dialogs.correcting import correction, reread
from dialogs.enrolment import answer_enrolment, open_enrolment, skip_ability
from dialogs.late import (
    close_what_is_over,
    late_answer,
    of_a_named_day,
    released,
    still_missed,
)
from dialogs.own_data import own_data
from dialogs.preferences import asks_to_stop, paused, wish
from dialogs.prompts import ask_sign, drop_signs, open_prompt
from dialogs.questions import Kind
from dialogs.reading import Reading, command, read_answers
from dialogs.reporting import done_and_more, open_report, report
from dialogs.sheet import no_sheet, whole_sheet
from dialogs.topics import answered_beside, courtesy_turn, topic_turn
from dialogs.turn import (
    Asked,
    Message,
    OptedIn,
    OptedOut,
    Question,
    Said,
    Situation,
    Skipped,
    State,
    Turn,
    Unread,
)
from dialogs.unprompted import answer_set_off, answer_topic, unprompted
from dialogs.waiting import without
from dialogs.wishes import PersonAsked, PlanAsked, ResumeAsked, UrgentSaid, WhyAsked
from dialogs.words import Words, bare, shipped_words

__all__ = ["ask_sign", "correct", "drop_signs", "open_enrolment", "open_prompt", "step"]


def step(state: State, message: Message, situation: Situation, words: Words | None = None) -> Turn:
    """One message of a patient: the new state, what is recorded, what is said. Never raises.

    words: the language's keywords; None takes those shipped for `situation.language`.
    """
    open_now = close_what_is_over(state, situation)
    words = words or shipped_words(situation.language)
    talk = Talk(open_now, message.text, situation, words)
    turn = answered_beside(talk, _step(talk, message.pressed))
    if released(state, open_now):
        turn = replace(turn, recorded=(*state.held, *turn.recorded))
    return turn


def _step(talk: Talk, pressed: Asked | None) -> Turn:
    if pressed is not None:
        return _pressed(talk, pressed)
    keyword = command(talk.text, talk.words)
    if asks_to_stop(talk.text, talk.situation.language):
        keyword = "stop"
    if keyword in OPTING:
        return OPTING[keyword](talk)
    asked = own_data(talk)
    if asked is not None:
        return asked
    if talk.situation.opted_out:
        return answer_typed(talk) if _asks_sign(talk.state) else _opted_out(talk)
    corrected = correction(talk) or _outside_enrolment(talk, amend)
    if corrected is not None:
        return corrected
    if keyword and not _answers_first(talk, keyword):
        return COMMANDS[keyword](talk)
    for heard in (report, done_and_more, of_a_named_day):
        turn = _outside_enrolment(talk, heard)
        if turn is not None:
            return turn
    return wish(talk) or _answer(talk)


def _asks_sign(state: State) -> bool:
    return bool(state.waiting) and state.waiting[0].question is Question.SIGN


def _outside_enrolment(talk: Talk, heard: Callable[[Talk], Turn | None]) -> Turn | None:
    """What is heard of a patient who is not answering the first questions."""
    waiting = talk.state.waiting
    enrolling = bool(waiting) and waiting[0].question.row.group == "enrolment"
    return None if enrolling else heard(talk)


def correct(state: State, asked: tuple[Asked, ...], text: str, situation: Situation) -> Turn:
    """An earlier message was edited: its text is read again for the questions it answered.

    Recorded are answers with `corrects`. An edit that cannot be read changes nothing and goes to
    the clinician.
    """
    words = shipped_words(situation.language)
    return reread(Talk(state, text, situation, words), asked)


def _answer(talk: Talk) -> Turn:
    about = topic_turn(talk)
    if about is not None:
        return about
    late = late_answer(talk)
    if late is not None:
        return late
    if not talk.state.waiting:
        return unprompted(talk)
    group = talk.state.waiting[0].question.row.group
    if group == "enrolment":
        return answer_enrolment(talk)
    if group == "what-about":
        return answer_topic(talk)
    if group == "set-off":
        return answer_set_off(talk)
    if group == "visa-a":
        return no_sheet(talk) or whole_sheet(talk) or answer_typed(talk)
    return answer_typed(talk)


def _pressed(talk: Talk, pressed: Asked) -> Turn:
    """A button answers exactly the question it was made for, or nothing."""
    waiting = next((a for a in talk.state.waiting if a.key == pressed.key), None)
    if waiting is None:
        return _pressed_late(talk, pressed)
    if waiting.question.row.group in ("enrolment", "what-about"):
        if waiting is talk.state.waiting[0]:
            return _answer(talk)
        return Turn(talk.state, said=(Said("too-late-button"),))
    reading = read_answers(talk.text, (replace(waiting, tries=0),), talk.words)
    if reading.problem:
        return not_understood(talk, Reading(problem=reading.problem, at=waiting))
    return accept(talk, reading)


def _pressed_late(talk: Talk, pressed: Asked) -> Turn:
    """A button of a question that waits no more. It counts for its own day where that day has no
    answer yet, for three days; what has an answer is never changed by a button. An answer about a
    warning sign counts whenever it comes.
    """
    sign = pressed.question.row.group == "sign"
    just_answered = any(pressed.key == asked.key for asked in talk.state.last)
    if not sign and (just_answered or not still_missed((pressed,), talk.situation)):
        return Turn(talk.state, said=(Said("too-late-button"),))
    reading = read_answers(talk.text, (pressed,), talk.words)
    if reading.problem:
        return Turn(talk.state, said=(Said("too-late-button"),))
    missed = without(talk.state.missed, (pressed,))
    turn = accept(replace(talk, state=replace(talk.state, missed=missed)), reading)
    return replace(turn, said=(Said("noted"), *turn.said)) if not sign else turn


# Opting out and in


def _stop(_talk: Talk) -> Turn:
    return Turn(State(), (OptedOut(),), (Said("opted-out"),))


def _start(talk: Talk) -> Turn:
    if talk.situation.opted_out and talk.situation.enrolled:
        return Turn(talk.state, (OptedIn(),), (Said("opted-in"),))
    if talk.situation.opted_out:
        # Whoever did not agree, or left before the end, is asked again from the beginning.
        return replace(open_enrolment(talk.state, talk.situation), recorded=(OptedIn(),))
    if talk.situation.paused_until is not None:
        return _resume(talk)
    if talk.state.waiting:
        return Turn(talk.state, said=(ask(talk.state, talk.situation, talk.words),))
    if not talk.situation.enrolled:
        return open_enrolment(talk.state, talk.situation)
    return Turn(talk.state, said=(Said("hello"),))


def _help(talk: Talk) -> Turn:
    return Turn(talk.state, said=(Said("help"),))


def _opted_out(talk: Talk) -> Turn:
    """Nothing is sent to a person who left; what they write is still seen."""
    if talk.words.answers.get(bare(talk.text)) == "yes":
        return _start(talk)
    return Turn(talk.state, (Unread(talk.text),))


# Keywords


def _done(talk: Talk) -> Turn:
    return open_report(talk, talk.situation.today)


def _skip(talk: Talk) -> Turn:
    finished = skip_ability(talk)
    if finished is not None:
        return finished
    kept = tuple(a for a in talk.state.waiting if a.question.row.group in ("sign", "enrolment"))
    gone = without(talk.state.waiting, kept)
    state = replace(talk.state, waiting=kept, held=(), unprompted="")
    recorded = ((Skipped(gone),) if gone else ()) + talk.state.held
    if kept:
        return Turn(state, recorded, (ask(state, talk.situation, talk.words, "needed"),))
    return Turn(state, recorded, (Said("skipped"),))


def _resume(talk: Talk) -> Turn:
    return Turn(talk.state, (ResumeAsked(),), (Said("resumed"),))


def _why(talk: Talk) -> Turn:
    return Turn(talk.state, (WhyAsked(),))


def _plan(talk: Talk) -> Turn:
    return Turn(talk.state, (PlanAsked(),))


def _person(talk: Talk) -> Turn:
    return Turn(talk.state, (PersonAsked(),), (Said("person"),))


def _urgent(talk: Talk) -> Turn:
    """What it leads to and the reply are those of a warning sign: `bot.patients.warning_signs`."""
    return Turn(talk.state, (UrgentSaid(),))


def _thanks(talk: Talk) -> Turn:
    """Thanks get a human word, an "ok" needs none; a question that waits is put again. Beside a
    warning sign that is asked about there is no word for anything else."""
    kind_word = None if _asks_sign(talk.state) else courtesy_turn(talk)
    if kind_word is not None:
        return kind_word
    if talk.state.waiting:
        return Turn(talk.state, said=(ask(talk.state, talk.situation, talk.words),))
    return Turn(talk.state)


def _hello(talk: Talk) -> Turn:
    if talk.state.waiting:
        return _thanks(talk)
    return Turn(talk.state, said=(Said("hello"),))


OPTING: Mapping[str, Callable[[Talk], Turn]] = {"stop": _stop, "start": _start, "help": _help}

COMMANDS: Mapping[str, Callable[[Talk], Turn]] = {
    "done": _done,
    "skip": _skip,
    "pause": paused,
    "resume": _resume,
    "why": _why,
    "plan": _plan,
    "person": _person,
    "urgent": _urgent,
    "thanks": _thanks,
    "hello": _hello,
}


def _answers_first(talk: Talk, keyword: str) -> bool:
    """Whether the question that waits takes the keyword as its answer.

    "not today" is no session, where the session is asked about; in enrolment nothing
    but the goal can be skipped, and nothing paused.
    """
    if not talk.state.waiting:
        return False
    first = talk.state.waiting[0]
    fact = first.question.row
    if first.question is Question.GOAL and keyword == "skip":
        return True
    if fact.group == "enrolment":
        return keyword in ("done", "pause", "resume", "plan", "why")
    takes_words = fact.kind in (Kind.SETS, Kind.YES_NO) and fact.group != "sign"
    return takes_words and bare(talk.text) in talk.words.answers
