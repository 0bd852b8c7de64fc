"""The queue of questions that wait: which share a message, their buttons, what is left of them.

Words nothing (`asking`) and reads nothing (`reading`).
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from dialogs.questions import Kind, Question, Row
from dialogs.turn import Asked, Choice

# Replies that were not understood before choices are offered, and before the text goes to the
# clinician [count]. Convention.
TRIES_BEFORE_CHOICES = 2
TRIES_BEFORE_UNREAD = 3

# So many words that cannot be placed, and no answer beside them, are something told and no slip:
# the clinician sees them at once. Convention.
TOLD_WORDS = 3

# What the minutes pad offers. Convention: fine where stiffness matters, coarse beyond.
MINUTES_OFFERED = ((0, 5, 10, 15), (20, 30, 45, 60))

# The two messages of an evening, by their batches, and how many questions one of them holds [count,
# at most]: what is left of the first goes with the second. Convention.
EVENING = frozenset({"session", "besides"})
EVENING_QUESTIONS_MAX = 4

# Buttons that stand side by side on a narrow phone [count, at most]. Convention.
BUTTONS_A_ROW_MAX = 6


def batch(waiting: tuple[Asked, ...]) -> tuple[Asked, ...]:
    """The questions at the head of the queue that share one message.

    Signs and enrolment questions are put one at a time; a session's questions only with others
    about the same day, and what is left of its first message with its second.
    """
    if not waiting:
        return ()
    first = waiting[0]
    fact = first.question.row
    if fact.group in ("sign", "enrolment"):
        return waiting[:1]
    together: list[Asked] = []
    for asked in waiting:
        batches = {fact.batch, asked.question.row.batch}
        if len(batches) > 1 and batches != EVENING:
            break
        full = len(together) == EVENING_QUESTIONS_MAX
        if fact.group == "session" and (full or asked.about != first.about):
            break
        together.append(asked)
    return tuple(together)


def choices(asked: Asked, words: Mapping[str, str]) -> tuple[tuple[Choice, ...], ...]:
    """Buttons for one question, in rows; none where a pad does not help.

    words: what the buttons for yes, no, left, right and both show.
    """
    kind = asked.question.row.kind
    if kind is Kind.SCALE:
        rows = [[str(n) for n in range(6)], [str(n) for n in range(6, 11)]]
    elif kind is Kind.MINUTES:
        rows = [[str(n) for n in row] for row in MINUTES_OFFERED]
    elif kind is Kind.POINTS:
        rows = _point_rows(asked.question.row)
    elif kind is Kind.SETS and asked.out_of:
        rows = [[str(n) for n in range(asked.out_of + 1)]]
    elif kind is Kind.YES_NO:
        rows = [["yes", "no"]]
    elif kind is Kind.SIDE:
        rows = [["left", "right", "both"]]
    else:
        rows = []
    return tuple(
        tuple(Choice(words.get(answer, answer), answer, asked) for answer in row) for row in rows
    )


def _point_rows(row: Row) -> list[list[str]]:
    points = [str(n) for n in row.allowed or range(row.lowest, row.highest + 1)]
    half = -(-len(points) // 2) if len(points) > BUTTONS_A_ROW_MAX else len(points)
    return [points[:half], points[half:]] if points[half:] else [points]


def without(waiting: tuple[Asked, ...], answered: tuple[Asked, ...]) -> tuple[Asked, ...]:
    """What still waits once these are gone."""
    keys = {asked.key for asked in answered}
    return tuple(asked for asked in waiting if asked.key not in keys)


def belongs_to(asked: Asked, group: str, about: date | None = None) -> bool:
    """Whether a question is of this group, and about this day where one is given."""
    return asked.question.row.group == group and about in (None, asked.about)


def signs_of(waiting: tuple[Asked, ...]) -> tuple[Asked, ...]:
    """The closed questions about warning signs, which nothing but an answer ends."""
    return tuple(asked for asked in waiting if asked.question is Question.SIGN)
