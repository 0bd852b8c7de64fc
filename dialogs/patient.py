"""What a patient may say, and what follows: the table of keywords, and step().

Order: a button answers its own question; STOP and its kin; a correction; keywords; answers to
what waits; anything else is asked about, or kept for the clinician. Warning signs are looked for
before this, by `rules.screening`. Never decides on load. Read next: `answering`, `enrolment`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

from dialogs.answering import Talk, accept, answer_typed, not_understood
from dialogs.asking import ask
from dialogs.correcting import correction, reread
from dialogs.enrolment import answer_enrolment, open_enrolment
from dialogs.loose import answer_loose, loose
from dialogs.prompts import ask_sign, drop_signs, open_prompt
from dialogs.questions import FACTS, SESSION, Kind, batch, without
from dialogs.reading import Reading, command, read_answers, sentence
from dialogs.reading_times import read_until
from dialogs.turn import (
    Asked,
    Message,
    OptedIn,
    OptedOut,
    PauseAsked,
    PersonAsked,
    PlanAsked,
    Question,
    ResumeAsked,
    Said,
    Situation,
    Skipped,
    State,
    Turn,
    Unread,
    WhyAsked,
)
from dialogs.words import Words, bare, plain, shipped_words

__all__ = ["ask_sign", "correct", "drop_signs", "open_enrolment", "open_prompt", "step"]


def step(state: State, message: Message, situation: Situation, words: Words | None = None) -> Turn:
    """One message of a patient: the new state, what is recorded, what is said. Never raises.

    words: the language's keywords; None takes those shipped for `situation.language`.
    """
    talk = Talk(state, message.text, situation, words or shipped_words(situation.language))
    if message.pressed is not None:
        return _pressed(talk, message.pressed)
    keyword = command(message.text, talk.words)
    if keyword in OPTING:
        return OPTING[keyword](talk)
    if situation.opted_out:
        return _opted_out(talk)
    corrected = correction(talk)
    if corrected is not None:
        return corrected
    if keyword and not _answers_first(talk, keyword):
        return COMMANDS[keyword](talk)
    opened = _done_and_more(talk) or _pause_phrase(talk)
    if opened is not None:
        return opened
    return _answer(talk)


def correct(state: State, asked: tuple[Asked, ...], text: str, situation: Situation) -> Turn:
    """An earlier message was edited: its text is read again for the questions it answered.

    Recorded are answers with `corrects`. An edit that cannot be read changes nothing and goes to
    the clinician.
    """
    words = shipped_words(situation.language)
    return reread(Talk(state, text, situation, words), asked)


def _answer(talk: Talk) -> Turn:
    if not talk.state.waiting:
        return loose(talk)
    group = FACTS[talk.state.waiting[0].question].group
    if group == "enrolment":
        return answer_enrolment(talk)
    if group == "what-about":
        return answer_loose(talk)
    return answer_typed(talk)


def _pressed(talk: Talk, pressed: Asked) -> Turn:
    """A button answers exactly the question it was made for, or nothing."""
    waiting = next((a for a in talk.state.waiting if a.key == pressed.key), None)
    if waiting is None:
        return Turn(talk.state, said=(Said("too-late-button"),))
    if FACTS[waiting.question].group in ("enrolment", "what-about"):
        if waiting is talk.state.waiting[0]:
            return _answer(talk)
        return Turn(talk.state, said=(Said("too-late-button"),))
    reading = read_answers(talk.text, (replace(waiting, tries=0),), talk.words)
    if reading.problem:
        return not_understood(talk, Reading(problem=reading.problem, at=waiting))
    return accept(talk, reading)


# Opting out and in


def _stop(_talk: Talk) -> Turn:
    return Turn(State(), (OptedOut(),), (Said("opted-out"),))


def _start(talk: Talk) -> Turn:
    if talk.situation.opted_out:
        return Turn(talk.state, (OptedIn(),), (Said("opted-in"),))
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
    today = talk.situation.today
    waiting = talk.state.waiting
    mine = tuple(a for a in waiting if a.question in SESSION or _activity(a))
    if not mine and talk.situation.last_session_on == today:
        return Turn(talk.state, said=(Said("session-already"),))
    if not any(a.about == today for a in mine):
        prescribed = talk.situation.prescription
        sets = prescribed.dose.sets if prescribed else 0
        new = tuple(Asked(q, today, out_of=sets if q is Question.SETS_DONE else 0) for q in SESSION)
        mine = new + mine
    signs = tuple(a for a in waiting if a.question is Question.SIGN)
    rest = tuple(a for a in without(waiting, mine) if a not in signs)
    state = replace(talk.state, waiting=signs + mine + rest, last=())
    return Turn(state, said=(ask(state, talk.situation, talk.words),))


def _activity(asked: Asked) -> bool:
    return asked.question is Question.ACTIVITY_EFFORT


def _skip(talk: Talk) -> Turn:
    kept = tuple(a for a in talk.state.waiting if FACTS[a.question].group in ("sign", "enrolment"))
    gone = without(talk.state.waiting, kept)
    state = replace(talk.state, waiting=kept, held=(), loose="")
    recorded = ((Skipped(gone),) if gone else ()) + talk.state.held
    if kept:
        return Turn(state, recorded, (ask(state, talk.situation, talk.words, "needed"),))
    return Turn(state, recorded, (Said("skipped"),))


def _pause(talk: Talk) -> Turn:
    until = read_until(talk.text, talk.situation.today, talk.words)
    if until is None:
        return Turn(talk.state, said=(Said("pause-how-long"),))
    kept = tuple(a for a in talk.state.waiting if a.question is Question.SIGN)
    state = replace(talk.state, waiting=kept, held=(), loose="")
    return Turn(state, (PauseAsked(until),), (Said("paused", {"until": until}),))


def _resume(talk: Talk) -> Turn:
    return Turn(talk.state, (ResumeAsked(),), (Said("resumed"),))


def _why(talk: Talk) -> Turn:
    return Turn(talk.state, (WhyAsked(),))


def _plan(talk: Talk) -> Turn:
    return Turn(talk.state, (PlanAsked(),))


def _person(talk: Talk) -> Turn:
    return Turn(talk.state, (PersonAsked(),), (Said("person"),))


def _thanks(talk: Talk) -> Turn:
    """A courtesy needs no answer; a question that waits is put again."""
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
    "pause": _pause,
    "resume": _resume,
    "why": _why,
    "plan": _plan,
    "person": _person,
    "thanks": _thanks,
    "hello": _hello,
}


def _answers_first(talk: Talk, keyword: str) -> bool:
    """Whether the question that waits takes the keyword as its answer.

    "not today" is no session, where the session is asked about; in enrolment nothing can be
    skipped or paused.
    """
    if not talk.state.waiting:
        return False
    first = talk.state.waiting[0]
    fact = FACTS[first.question]
    if fact.group == "enrolment":
        return keyword in ("done", "pause", "resume", "plan", "why")
    takes_words = fact.kind in (Kind.SETS, Kind.YES_NO) and fact.group != "sign"
    return takes_words and bare(talk.text) in talk.words.answers


def _done_and_more(talk: Talk) -> Turn | None:
    """ "done 3 2 1": the report is opened and the rest read as its answers."""
    line = plain(talk.text)
    starts = [w for w, meaning in talk.words.commands.items() if meaning == "done"]
    start = next((w for w in starts if line.startswith((w + " ", w + ",", w + "."))), None)
    if start is None or (
        talk.state.waiting
        and talk.state.waiting[0].question not in SESSION
        and FACTS[talk.state.waiting[0].question].kind is Kind.YES_NO
    ):
        return None
    opened = _done(talk)
    more = replace(talk, state=opened.state, text=line[len(start) :].strip(" ,.:;"))
    asked = batch(opened.state.waiting)
    if not asked or asked[0].question is not Question.SETS_DONE:
        return None
    reading = read_answers(more.text, asked, talk.words)
    return accept(more, reading) if reading.reads else None


def _pause_phrase(talk: Talk) -> Turn | None:
    """ "pause for a week", "pause until 3 May"."""
    line = bare(talk.text)
    starts = [w for w, meaning in talk.words.commands.items() if meaning == "pause"]
    if not any(line.startswith(word + " ") for word in starts):
        return None
    until = read_until(talk.text, talk.situation.today, talk.words)
    if until is None and sentence(talk.text, talk.words):
        # "I am away and my calf is sore" tells more than a pause: it is not swallowed here.
        return None
    waiting = talk.state.waiting
    if waiting and FACTS[waiting[0].question].group == "enrolment":
        return None
    return _pause(talk)
