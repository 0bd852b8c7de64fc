"""Opens a prompt: puts its questions into the queue and says them, in one SMS segment.

When a prompt is due is decided elsewhere; what is done with the replies: `patient`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date, datetime, timedelta

from dialogs.asking import ask
from dialogs.late import close_what_is_over, still_missed
from dialogs.questions import SESSION
from dialogs.rendering import gsm, render, segments
from dialogs.turn import Asked, Question, Said, Situation, State, Turn
from dialogs.waiting import signs_of, without
from dialogs.words import Words, shipped_words
from rules.warning_sign import Sign

# What the rules need of a session is asked once more, on the morning after. Convention: later,
# nobody remembers the sets.
REPORTED_AGAIN = (Question.SETS_DONE, Question.PAIN_DURING, Question.PAIN_AFTER)
REPORT_AGAIN_DAYS = 1

# How far a prompt may be cut to stay in one segment: 0 whole, then without the name, with briefer
# questions, without greeting, with the briefest questions. Convention.
SHORTENINGS = range(5)


def open_prompt(
    kind: str,
    state: State,
    situation: Situation,
    asks: tuple[Question, ...],
    about: Mapping[Question, date],
    closes_at: datetime | None = None,
) -> Turn:
    """A prompt goes out: its questions are put into the queue and asked.

    kind: "morning", "evening", "follow-up", "weekly", or the first three with "-reminder".
    about: the local date each question's answer belongs to; today where it is left out.
    closes_at: when the prompt is over; None: its questions stay open.
    A reminder asks only what still waits, and never for the sheet alone. Nothing is said where
    nothing is left to ask.
    A new morning drops the questions of an older one: the answer would land on the wrong day.
    """
    words = shipped_words(situation.language)
    if kind.endswith("-reminder"):
        return _remind(kind, state, situation, asks, words)
    state = _reopened(close_what_is_over(state, situation), kind, situation, closes_at)
    kept = tuple(a for a in state.waiting if _stays(a, kind, situation.today))
    new = tuple(replace(a, closes_at=closes_at) for a in _new(kept, situation, asks, about))
    gone = without(state.waiting, kept)
    codes = set(asks)
    repeated = tuple(a for a in kept if a.question in codes and a not in new)
    if not new and not repeated:
        return Turn(replace(state, waiting=kept))
    missed = without(still_missed((*state.missed, *gone), situation), (*kept, *new))
    signs = signs_of(kept)
    rest = tuple(a for a in kept if a not in signs and a not in repeated)
    waiting = signs + _by_question(repeated + new) + rest
    held = () if kind == "morning" else state.held
    state = State(
        waiting=waiting, gathered=state.gathered, guess=state.guess, held=held, missed=missed
    )
    return Turn(state, said=(_fitting(kind, state, situation, words),))


def ask_sign(state: State, signs: tuple[Sign, ...], situation: Situation) -> Turn:
    """Closed questions about warning signs go to the head of the queue; the first is asked.

    A sign that is being asked about already is not asked twice.
    """
    words = shipped_words(situation.language)
    waiting_for = {a.sign for a in state.waiting if a.question is Question.SIGN}
    new = tuple(
        Asked(Question.SIGN, situation.today, sign.key, wording=sign.closed_question)
        for sign in signs
        if sign.key not in waiting_for
    )
    before = signs_of(state.waiting)
    rest = tuple(a for a in state.waiting if a.question is not Question.SIGN)
    state = replace(state, waiting=before + new + rest)
    if not new:
        return Turn(state)
    return Turn(state, said=(ask(state, situation, words),))


def drop_signs(state: State) -> State:
    """The state without closed questions, once one of them was answered yes and acted on."""
    waiting = tuple(a for a in state.waiting if a.question is not Question.SIGN)
    return replace(state, waiting=waiting)


def _stays(asked: Asked, kind: str, today: date) -> bool:
    """Whether a question that waits outlives the opening of a prompt of this kind."""
    group = asked.question.row.group
    if group in ("sign", "enrolment"):
        return True
    if group in ("what-about", "set-off", "visa-a"):
        return False
    if kind == "morning":
        if group == "session":
            needed = asked.question in REPORTED_AGAIN
            return needed and asked.about >= today - timedelta(days=REPORT_AGAIN_DAYS)
        return group == "weekly" or (group == "morning" and asked.about == today)
    return kind != "evening" or group != "morning"


def _reopened(state: State, kind: str, situation: Situation, closes_at: datetime | None) -> State:
    """A report that was missed yesterday waits again behind the morning's questions."""
    if kind != "morning":
        return state
    reports = tuple(
        replace(a, closes_at=closes_at)
        for a in state.missed
        if a.question.row.group == "session" and _stays(a, kind, situation.today)
    )
    missed = without(state.missed, reports)
    return replace(state, waiting=(*state.waiting, *reports), missed=missed)


def _new(
    kept: tuple[Asked, ...],
    situation: Situation,
    asks: tuple[Question, ...],
    about: Mapping[Question, date],
) -> tuple[Asked, ...]:
    """The questions to add: none that waits already, no report of a session that is reported."""
    waiting = {asked.key for asked in kept}
    wanted = asks
    if Question.SETS_DONE in asks:
        wanted = tuple(q for q in asks if q not in SESSION) + SESSION
    new = []
    for question in wanted:
        report = question in SESSION
        on = about.get(question, about.get(Question.SETS_DONE) if report else None)
        on = on or situation.today
        asked = Asked(question, on)
        if question is Question.SETS_DONE and situation.prescription:
            asked = replace(asked, out_of=situation.prescription.dose.sets)
        reported = report and situation.last_session_on == on
        if asked.key not in waiting and not reported:
            new.append(asked)
    return tuple(new)


def _by_question(waiting: tuple[Asked, ...]) -> tuple[Asked, ...]:
    """In the order in which questions are put: the morning's first, the session's as listed."""
    order = list(Question)
    return tuple(sorted(waiting, key=lambda asked: order.index(asked.question)))


def _remind(
    kind: str, state: State, situation: Situation, asks: tuple[Question, ...], words: Words
) -> Turn:
    codes = set(asks) | (set(SESSION) if Question.SETS_DONE in asks else set())
    due = tuple(a for a in state.waiting if a.question in codes)
    if all(a.question.row.item for a in due):
        return Turn(state)
    rest = tuple(a for a in state.waiting if a not in due)
    signs = signs_of(rest)
    state = replace(state, waiting=signs + due + tuple(a for a in rest if a not in signs))
    return Turn(state, said=(_fitting(kind, state, situation, words),))


def _fitting(kind: str, state: State, situation: Situation, words: Words) -> Said:
    """The prompt, shortened only as far as one SMS segment asks for."""
    said = Said("prompt")
    for short in SHORTENINGS:
        said = ask(state, situation, words, "prompt", prompt_kind=kind, short=short)
        if segments(gsm(render(said, situation))).count == 1:
            break
    return said
