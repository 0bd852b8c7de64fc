"""Answers that come late, or about another day: each lands on its own day and question, or is
asked about.

The rule, in full. A question is open from its prompt until the prompt is over (`Asked.closes_at`)
or a later prompt takes its place; then it is missed. A missed question takes no bare number
silently:

* while this morning's questions are open they take the numbers, or are asked again;
* else two or more numbers that answer all of what was missed together count for it, if nothing
  that is open takes any of them; the patient is told for what they count;
* where what is open takes some of them the patient is asked; but the items of a sheet may be
  answered in parts, so while it is open they are taken for it;
* one number alone counts for a follow-up of the day, where nothing was asked after it; else it is
  asked about (`unprompted`);
* a message that names a day ("yesterday 3 10", "this morning 4 20") is about that day.

An answer is taken for up to three days. Never guesses between two. Read next: `patient`.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

from dialogs.answering import Talk, accept
from dialogs.asking import ask
from dialogs.reading import TOO_MANY, Reading, read_answers
from dialogs.rendering import day_word
from dialogs.request_words import after_phrase, before_phrase, request_words
from dialogs.tokens import tokens
from dialogs.turn import Asked, Question, Said, Situation, State, Turn, Value
from dialogs.waiting import batch, without
from dialogs.words import bare

# How long an answer is taken after its day [days]. Convention: later, nobody remembers a number.
LATE_DAYS_MAX = 3

# Groups of questions that can be answered late.
LATE = frozenset({"morning", "follow-up", "session", "visa-a"})

MORNING = (Question.FIRST_STEP_PAIN, Question.STIFFNESS)


def close_what_is_over(state: State, situation: Situation) -> State:
    """The state with questions whose prompt is over moved to those missed."""
    over = tuple(
        a for a in state.waiting if a.closes_at is not None and a.closes_at <= situation.now
    )
    missed = still_missed((*state.missed, *over), situation)
    if not over and missed == state.missed:
        return state
    waiting = without(state.waiting, over)
    follow_up = any(a.question.row.group == "follow-up" for a in waiting)
    return replace(state, waiting=waiting, missed=missed, held=state.held if follow_up else ())


def released(before: State, after: State) -> bool:
    """Whether closing a follow-up leaves a morning that was held back for it complete."""
    return bool(before.held) and not after.held


def still_missed(asked: tuple[Asked, ...], situation: Situation) -> tuple[Asked, ...]:
    """Those that can still be answered late: of the last days, without an answer, once each."""
    first = situation.today - timedelta(days=LATE_DAYS_MAX)
    known = {(answer.question, answer.about) for answer in situation.answered}
    kept: dict[object, Asked] = {}
    for one in asked:
        late = one.question.row.group in LATE and one.about >= first
        if late and (one.question, one.about) not in known:
            kept[one.key] = replace(one, closes_at=None, tries=0)
    return tuple(kept.values())


def late_answer(talk: Talk) -> Turn | None:
    """Numbers that answer all of what was missed together, or the follow-up that was asked last;
    None where they do not, or where this morning's questions or all of what is open take them."""
    waiting = batch(talk.state.waiting)
    if not waiting:
        last = _follow_up_asked_last(talk)
        reading = _complete(read_answers(talk.text, last, talk.words), last)
        if reading is not None:
            return _taken(talk, reading)
    fitting = [
        reading
        for asked in _batches(talk.state.missed)
        if len(asked) > 1
        and (reading := _complete(read_answers(talk.text, asked, talk.words), asked)) is not None
    ]
    if not fitting:
        return None
    if waiting and waiting[0].question.row.group not in LATE - {"morning"}:
        return None
    now = read_answers(talk.text, waiting, talk.words) if waiting else Reading()
    of_a_sheet = bool(waiting) and bool(waiting[0].question.row.item)
    if _complete(now, waiting) is not None or (of_a_sheet and now.reads and not now.problem):
        return None
    takes_some = (now.reads and not now.problem) or now.problem == TOO_MANY
    if takes_some or len(fitting) > 1 or _may_correct(talk, fitting[0]):
        return ask_about(talk)
    return _taken(talk, fitting[0])


def _may_correct(talk: Talk, reading: Reading) -> bool:
    """Whether the numbers may as well stand for answers that were given today."""
    answered = {(one.question, one.about) for one in talk.situation.answered}
    today = talk.situation.today
    return all((one.asked.question, today) in answered for one in reading.reads)


def _follow_up_asked_last(talk: Talk) -> tuple[Asked, ...]:
    """The follow-up that was missed today, where nothing was asked after it."""
    last = talk.state.missed[-1:]
    today = talk.situation.today
    return tuple(
        one
        for one in last
        if one.question.row.group == "follow-up"
        and one.about + timedelta(days=one.question.row.days_after) == today
    )


def ask_about(talk: Talk) -> Turn:
    """Ask which day or session the numbers are about; what waits is put again afterwards."""
    asked = Asked(Question.WHAT_ABOUT, talk.situation.today)
    state = replace(
        talk.state, waiting=(asked, *talk.state.waiting), unprompted=talk.text.strip(), last=()
    )
    return Turn(state, said=(ask(state, talk.situation, talk.words),))


def of_a_named_day(talk: Talk) -> Turn | None:
    """ "yesterday 3 10", "Monday: 3 2 1", "this morning 4 20": numbers with the day they are about.

    None where the message is anything else.
    """
    found = named_day(talk, bare(talk.text))
    if found is None or not _numbers_only(talk, found[1]):
        return None
    about, rest, morning = found
    waiting = batch(talk.state.waiting)
    if about == talk.situation.today and _complete(
        read_answers(talk.text, waiting, talk.words), waiting
    ):
        return None
    talk = replace(talk, text=rest)
    if about < talk.situation.today - timedelta(days=LATE_DAYS_MAX):
        return Turn(talk.state, said=(Said("too-late-number"),))
    fitting = [
        reading
        for asked in _open_on(talk, about, morning=morning)
        if (reading := _complete(read_answers(rest, asked, talk.words), asked)) is not None
    ]
    if len(fitting) != 1:
        return ask_about(talk) if about == talk.situation.today else _which(talk, about)
    return _taken(talk, fitting[0])


def named_day(talk: Talk, line: str) -> tuple[date, str, bool] | None:
    """The day that a line begins or ends with, the rest of it, and whether a morning is named."""
    requests = request_words(talk.situation.language)
    today = talk.situation.today
    mornings = requests.lists["mornings.words"]
    rest = _without_phrase(line, mornings)
    morning = rest is not None
    line = rest if rest is not None else line
    for phrase, ago in requests.days.items():
        rest = _without_phrase(line, (phrase,))
        if rest is not None:
            return today - timedelta(days=ago), _without_morning(rest, mornings), morning
    for phrase, weekday in talk.words.time["weekdays"].items():
        rest = _without_phrase(line, (str(phrase),))
        if rest is not None:
            ago = (today.weekday() - int(weekday)) % 7 or 7
            return today - timedelta(days=ago), _without_morning(rest, mornings), morning
    return (today, line, True) if morning else None


def _without_phrase(line: str, phrases: tuple[str, ...]) -> str | None:
    rest = after_phrase(line, phrases)
    return before_phrase(line, phrases) if rest is None else rest


def _without_morning(line: str, mornings: tuple[str, ...]) -> str:
    rest = _without_phrase(line, mornings)
    return line if rest is None else rest


def _numbers_only(talk: Talk, rest: str) -> bool:
    pieces = tokens(rest, talk.words)
    days = request_words(talk.situation.language).days
    if set(bare(rest).split()) & days.keys():
        return False  # "3 today was 5 yesterday"
    plain = all(piece.kind in ("value", "sep", "and", "label", "none", "no") for piece in pieces)
    return plain and any(piece.kind == "value" for piece in pieces)


def _open_on(talk: Talk, about: date, *, morning: bool) -> list[tuple[Asked, ...]]:
    """What could still be answered about a day, as questions that belong together."""
    known = {(a.question, a.about) for a in talk.situation.answered}
    options = [
        tuple(a for a in (Asked(q, about) for q in MORNING) if (a.question, about) not in known)
    ]
    if not morning:
        here = (*talk.state.waiting, *talk.state.missed)
        session = tuple(a for a in here if a.about == about)
        options.append(batch(tuple(a for a in session if a.question.row.group == "session")))
    return [option for option in options if option]


def _which(talk: Talk, about: date) -> Turn:
    """Nothing, or more than one thing, of that day fits the numbers."""
    day = day_word(about, talk.situation.today, language=talk.situation.language)
    return Turn(talk.state, said=(Said("day-unclear", {"day": day}),))


def _batches(missed: tuple[Asked, ...]) -> list[tuple[Asked, ...]]:
    """What was missed, by what belongs together: one message's questions about one day."""
    found: dict[tuple[str, date], tuple[Asked, ...]] = {}
    for asked in missed:
        key = (asked.question.row.batch, asked.about)
        found[key] = (*found.get(key, ()), asked)
    return list(found.values())


def _complete(reading: Reading, asked: tuple[Asked, ...]) -> Reading | None:
    """The reading, if it answers every question and nothing is wrong with it; how hard a session
    was may be left out, and the items of a sheet behind other questions."""
    left = without(asked, tuple(read.asked for read in reading.reads))
    spared = (bool(a.question.row.item) or a.question is Question.EFFORT for a in left)
    whole = all(spared) and not reading.problem and not (left and asked[0].question.row.item)
    return reading if reading.reads and whole else None


def _taken(talk: Talk, reading: Reading) -> Turn:
    """The answers, said back with what they are for."""
    asked = tuple(read.asked for read in reading.reads)
    missed = without(talk.state.missed, asked)
    rest = without(talk.state.waiting, asked)
    gone = tuple(a for a in talk.state.waiting if a not in rest)
    state = replace(talk.state, waiting=(*asked, *rest), missed=missed)
    turn = accept(replace(talk, state=state), reading)
    first = asked[0]
    values: dict[str, Value] = {
        "group": first.question.row.group,
        "day": day_word(first.about, talk.situation.today, language=talk.situation.language),
        "today": first.about == talk.situation.today,
    }
    if gone and len(gone) == len(asked):
        return turn
    return replace(turn, said=(Said("late-noted", values), *turn.said))
