"""A message with nothing waiting: numbers are asked about, anything else goes to the clinician.

Nothing is dropped and nothing is guessed. Read next: `patient`.
"""

from __future__ import annotations

from dataclasses import replace

from dialogs.answering import Talk, accept
from dialogs.asking import ask
from dialogs.correcting import changed, replaced
from dialogs.late import MORNING, ask_about
from dialogs.numbering import numbered
from dialogs.questions import SESSION
from dialogs.reading import read_answers
from dialogs.reporting import open_report
from dialogs.tokens import tokens
from dialogs.turn import Answer, Asked, Completed, Question, Recorded, Remark, Said, Turn, Unread
from dialogs.waiting import without
from dialogs.words import bare, plain

# The most numbers in one message that are asked about [count]: a session's, with how hard it was.
NUMBERS_MAX = 4

# What one number after a session is about, by the days since [days].
AFTER_SESSION = {0: Question.PAIN_AFTER, 1: Question.NEXT_DAY_PAIN, 2: Question.TWO_DAY_PAIN}

# How much of the patient's words on what set it off is shown back [characters]. Convention.
SET_OFF_LENGTH_MAX = 60


def unprompted(talk: Talk) -> Turn:
    """Nothing waits. Numbers, and what follows them, are asked about; anything else is kept for the
    clinician."""
    again = _sent_again(talk)
    if again is not None:
        return again
    numbers, words = _numbers_first(talk)
    if not _numbers(talk, numbers):
        return Turn(talk.state, (Unread(talk.text),), (Said("unread"),))
    turn = ask_about(replace(talk, text=numbers))
    return replace(turn, recorded=(Remark(words),)) if words else turn


def _sent_again(talk: Talk) -> Turn | None:
    """All that the last message answered, once more: it takes the place of what was read. Not of a
    morning: its two numbers may as well be a session's."""
    last = tuple(replace(one, tries=0) for one in talk.state.last)
    if len(last) < 2 or last[0].question.row.group == "morning":
        return None
    reading = read_answers(talk.text, last, talk.words)
    whole = len(reading.reads) == len(last) and not (reading.problem or reading.rest)
    return replaced(talk, reading) if whole else None


def _numbers_first(talk: Talk) -> tuple[str, str]:
    """The numbers that a message begins with, and what stands behind them: "3 10 can I run?"; a
    list in the bot's own numbering without its marks."""
    listed = numbered(talk.text, NUMBERS_MAX)
    if listed is not None:
        return " ".join(listed.values()), ""
    pieces = tokens(talk.text, talk.words)
    told = next((one for one in pieces if one.kind not in ("value", "sep", "and")), None)
    line, marks = plain(talk.text, accents=True), " ,.;:-"
    if told is None or not line[:1].isdecimal():
        return talk.text, ""
    return line[: told.at].strip(marks), line[told.at :].strip(marks)


def answer_topic(talk: Talk) -> Turn:
    """What the numbers were about. Not told clearly: numbers and words go to the clinician."""
    topic = talk.words.topics.get(talk.text.strip().lower().strip(".!"), "other")
    rest = talk.state.waiting[1:]
    state = replace(talk.state, waiting=rest, unprompted="")
    asked = _meant(talk, topic)
    reading = read_answers(talk.state.unprompted, asked, talk.words)
    if not asked or reading.problem or len(reading.reads) != len(asked):
        words = Unread(f"{talk.state.unprompted} / {talk.text}")
        return _then(talk, Turn(state, (words,), (Said("unread"),)))
    if asked[0].question is Question.SETS_DONE:
        opened = open_report(replace(talk, state=state), asked[0].about)
        return accept(replace(talk, state=opened.state), reading)
    gone = without(rest, asked)
    missed = without(talk.state.missed, asked)
    state = replace(state, waiting=gone, missed=missed, last=asked)
    recorded: tuple[Recorded, ...] = (
        *(Answer(r.asked.question, r.asked.about, r.value, corrects=True) for r in reading.reads),
        Completed(asked[0].question.row.group, asked[0].about),
    )
    known = {(answer.question, answer.about) for answer in talk.situation.answered}
    said = tuple(
        changed(r.asked, r.value)
        for r in reading.reads
        if (r.asked.question, r.asked.about) in known
    )
    return _then(talk, Turn(state, recorded, said))


def answer_set_off(talk: Talk) -> Turn:
    """The patient's own words on what set it off. A number is no answer to that."""
    asked = talk.state.waiting[0]
    rest = replace(talk, state=replace(talk.state, waiting=talk.state.waiting[1:]))
    if talk.words.answers.get(bare(talk.text)) in ("no", "none", "unsure"):
        return Turn(rest.state, said=(Said("noted"),))
    if not any(letter.isalpha() for letter in talk.text):
        return unprompted(rest)
    told = " ".join(talk.text.split())[:SET_OFF_LENGTH_MAX]
    recorded = (Answer(asked.question, asked.about, told), Unread(talk.text))
    return Turn(rest.state, recorded, (Said("set-off-noted"),))


def _then(talk: Talk, turn: Turn) -> Turn:
    """The turn, with what still waits put again behind it."""
    if not turn.state.waiting:
        return turn
    following = (ask(turn.state, talk.situation, talk.words),)
    return replace(turn, said_after=(*turn.said_after, *following))


def _meant(talk: Talk, topic: str) -> tuple[Asked, ...]:
    """The questions that the numbers answer, by what they are about and how many they are."""
    count = _numbers(talk, talk.state.unprompted)
    today, last_on = talk.situation.today, talk.situation.last_session_on
    if topic == "morning":
        return tuple(Asked(question, today) for question in MORNING[:count])
    if topic != "session":
        return ()
    if count == 1:
        question = AFTER_SESSION.get((today - last_on).days) if last_on else None
        return (Asked(question, last_on),) if last_on and question else ()
    here = (*talk.state.waiting, *talk.state.missed)
    on = next((a.about for a in here if a.question is Question.SETS_DONE), today)
    return tuple(Asked(question, on) for question in SESSION[:count]) if count >= 3 else ()


def _numbers(talk: Talk, text: str | None = None) -> int:
    """How many numbers a message consists of; 0 where it holds anything else."""
    pieces = tokens(talk.text if text is None else text, talk.words)
    values = [piece for piece in pieces if piece.kind == "value"]
    others = [piece for piece in pieces if piece.kind not in ("value", "sep", "and")]
    fact = Question.FIRST_STEP_PAIN.row
    if others or not values or len(values) > NUMBERS_MAX:
        return 0
    first = values[0]
    whole = first.low == int(first.low) == first.high and first.unit != "minutes"
    return len(values) if whole and fact.lowest <= first.low <= fact.highest else 0
