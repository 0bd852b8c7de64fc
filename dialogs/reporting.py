"""A session reported by the patient without being asked: "done", "did 3x12, pain 2, later 3".

What is complete is taken; what is missing is asked for. Repetitions are not a question of ours: a
count other than the one prescribed goes to the clinician with the words. Read next: `patient`.
"""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, timedelta

from dialogs.answering import Talk, accept
from dialogs.asking import ask
from dialogs.late import LATE_DAYS_MAX, named_day
from dialogs.questions import SESSION, Kind
from dialogs.reading import Read, Reading, read_answers
from dialogs.request_words import RequestWords, after_phrase, request_words
from dialogs.turn import Asked, Question, Said, Turn
from dialogs.waiting import batch, signs_of, without
from dialogs.words import Words, bare, plain

# How long a report that the patient opened stays open [hours]. Convention: an evening.
OPEN_FOR = timedelta(hours=6)

_TIMES = re.compile(
    r"(?<![\d.])(\d{1,2}) ?[x*\u00d7] ?(\d{1,3})(?: ?(?:s|sec|secs|seconds|segundos))?(?!\w|\.\d)"
)


def open_report(talk: Talk, on: date) -> Turn:
    """The questions about the session of a day go to the head of the queue, behind any sign."""
    waiting = talk.state.waiting
    mine = tuple(a for a in waiting if _of_a_session(a))
    done = talk.situation.last_session_on == on or any(
        a.question is Question.SETS_DONE and a.about == on for a in talk.situation.answered
    )
    if done and not any(a.about == on for a in mine):
        return Turn(talk.state, said=(Said("session-already"),))
    if not any(a.about == on for a in mine):
        mine = _questions(talk, on) + mine
    signs = signs_of(waiting)
    rest = tuple(a for a in without(waiting, mine) if a not in signs)
    missed = tuple(a for a in talk.state.missed if not (_of_a_session(a) and a.about == on))
    state = replace(talk.state, waiting=signs + mine + rest, last=(), missed=missed)
    return Turn(state, said=(ask(state, talk.situation, talk.words),))


def done_and_more(talk: Talk) -> Turn | None:
    """ "done 3 2 1": the report is opened and the rest read as its answers."""
    line = plain(talk.text)
    starts = [w for w, meaning in talk.words.commands.items() if meaning == "done"]
    start = next((w for w in starts if line.startswith((w + " ", w + ",", w + "."))), None)
    if start is None or (
        talk.state.waiting
        and talk.state.waiting[0].question not in SESSION
        and talk.state.waiting[0].question.row.kind is Kind.YES_NO
    ):
        return None
    opened = open_report(talk, talk.situation.today)
    more = replace(talk, state=opened.state, text=line[len(start) :].strip(" ,.:;"))
    asked = batch(opened.state.waiting)
    if not asked or asked[0].question is not Question.SETS_DONE:
        return None
    reading = read_answers(more.text, asked, talk.words)
    return accept(more, reading) if reading.reads else None


def report(talk: Talk) -> Turn | None:
    """ "did 3x12, pain 2, later 3", today's or a named day's; None where it is no report."""
    requests = request_words(talk.situation.language)
    line = bare(talk.text)
    found = _sets(line, requests, talk.words)
    if found is None or (talk.state.waiting and _enrolling(talk)):
        return None
    sets, amount, rest = found
    on, rest = _day(talk, rest)
    if on < talk.situation.today - timedelta(days=LATE_DAYS_MAX):
        return Turn(talk.state, said=(Said("too-late-number"),))
    opened = open_report(talk, on)
    asked = {a.question: a for a in opened.state.waiting if a.about == on}
    if Question.SETS_DONE not in asked:
        return opened if opened.said[0].template == "session-already" else None
    reads = [Read(asked[Question.SETS_DONE], sets)]
    beside = "" if _as_prescribed(talk, amount) else talk.text
    others = tuple(asked[q] for q in SESSION[1:4] if q in asked)
    reading = read_answers(_labelled(rest, requests, talk.words), others, talk.words)
    if rest and not reading.problem:
        reads += reading.reads
        beside = beside or reading.rest
    elif rest and any(letter.isalpha() for letter in rest):
        beside = talk.text
    return accept(replace(talk, state=opened.state), Reading(tuple(reads), rest=beside))


def _questions(talk: Talk, on: date) -> tuple[Asked, ...]:
    prescribed = talk.situation.prescription
    sets = prescribed.dose.sets if prescribed else 0
    closes_at = talk.situation.now + OPEN_FOR
    return tuple(
        Asked(q, on, out_of=sets if q is Question.SETS_DONE else 0, closes_at=closes_at)
        for q in SESSION
    )


def _of_a_session(asked: Asked) -> bool:
    return asked.question in SESSION or asked.question is Question.ACTIVITY_EFFORT


def _enrolling(talk: Talk) -> bool:
    return talk.state.waiting[0].question.row.group == "enrolment"


def _sets(line: str, requests: RequestWords, words: Words) -> tuple[int, int, str] | None:
    """Sets done, repetitions or seconds (0 where not told), and the rest of the line.

    "3x12" says it alone; "3 sets" needs "did" before it.
    """
    did = after_phrase(line, requests.lists["report.did"])
    rest = line if did is None else did
    times = _TIMES.search(rest)
    if times and int(times[1]) <= Question.SETS_DONE.row.highest:
        return int(times[1]), int(times[2]), _cut(rest, times)
    labels = [phrase for phrase, label in words.labels.items() if label == "sets"]
    pattern = "|".join(re.escape(phrase) for phrase in sorted(labels, key=len, reverse=True))
    counted = re.search(rf"(?<![\d.])(\d{{1,2}}) (?:{pattern})(?: (?:of|de) (\d{{1,3}}))?\b", rest)
    if did is None or counted is None:
        return None
    return int(counted[1]), int(counted[2] or 0), _cut(rest, counted)


def _cut(line: str, found: re.Match[str]) -> str:
    return f"{line[: found.start()].strip()} {line[found.end() :].strip(' ,.:;')}".strip(" ,.:;")


def _day(talk: Talk, rest: str) -> tuple[date, str]:
    found = named_day(talk, rest)
    if found is None or found[2]:
        return talk.situation.today, rest
    return found[0], found[1]


def _as_prescribed(talk: Talk, amount: int) -> bool:
    prescribed = talk.situation.prescription
    return not amount or prescribed is None or prescribed.dose.amount == amount


def _labelled(rest: str, requests: RequestWords, words: Words) -> str:
    """The rest with the patient's own names for the two pains in the place of ours."""
    marks = {"after": "\x01", "during": "\x02"}
    for name, mark in marks.items():
        for phrase in requests.lists[f"report.{name}"]:
            rest = re.sub(rf"(?<!\w){re.escape(phrase)}(?!\w)", mark, rest)
    for name, mark in marks.items():
        label = next((p for p, meaning in words.labels.items() if meaning == name), name)
        rest = rest.replace(mark, label)
    return rest
