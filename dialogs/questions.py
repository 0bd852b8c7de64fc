"""Every question: what kind of answer it takes, its range, its group, and its buttons.

Holds no wording (`templates/en/ask`) and reads nothing (`reading`). Read next: `patient`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from dialogs.turn import Asked, Choice, Question
from rules.outcomes import allowed_points
from rules.quantities import Count, Effort, Minutes, Pain


class Kind(StrEnum):
    """What sort of answer a question takes."""

    SCALE = "scale"
    MINUTES = "minutes"
    SETS = "sets"
    COUNT = "count"
    POINTS = "points"
    YES_NO = "yes-no"
    SIDE = "side"
    TIME = "time"
    PLACE = "place"
    TOPIC = "topic"
    WORDS = "words"


@dataclass(frozen=True)
class Fact:
    """What is known of a question.

    `lowest`, `highest`: range of the answer, both included [unit of the kind].
    `group`: what is complete once no question of it waits. `batch`: questions of one batch share
    a message. `label`: the key of the words that name it in a reply. `allowed`: the only points
    that there are, where not every number of the range is one; empty otherwise.
    """

    kind: Kind
    group: str
    batch: str
    lowest: int = 0
    highest: int = 0
    label: str = ""
    allowed: tuple[int, ...] = ()


# More sets than this in one session is a slip of the finger. Convention.
SETS_MAX = 20
# Nobody is stiff or active for longer than this at a stretch. Convention: `Minutes` allows a day.
MINUTES_MAX = Minutes.highest
# Single-leg heel raises in one go. Convention, well over any count seen in practice.
HEEL_RAISES_MAX = min(200, Count.highest)


def _pain(group: str, batch: str, label: str = "pain") -> Fact:
    return Fact(Kind.SCALE, group, batch, Pain.lowest, Pain.highest, label)


def _minutes(group: str, batch: str, label: str) -> Fact:
    return Fact(Kind.MINUTES, group, batch, 0, MINUTES_MAX, label)


def _raises(batch: str, label: str) -> Fact:
    return Fact(Kind.COUNT, "weekly", batch, 0, HEEL_RAISES_MAX, label)


def _points(item: int) -> Fact:
    points = tuple(sorted(allowed_points(item)))
    every = len(points) == points[-1] + 1
    allowed = () if every else points
    return Fact(Kind.POINTS, "visa-a", "visa-a", points[0], points[-1], "item", allowed)


# The items of the sheet, in its order. Their wording belongs to its publisher and is not here.
VISA_A = tuple(Question(f"visa-a-{item}") for item in range(1, 9))

FACTS: dict[Question, Fact] = {
    Question.FIRST_STEP_PAIN: _pain("morning", "morning"),
    Question.STIFFNESS: _minutes("morning", "morning", "stiffness"),
    Question.NEXT_DAY_PAIN: _pain("follow-up", "morning", "worst"),
    Question.TWO_DAY_PAIN: _pain("follow-up", "morning", "worst"),
    Question.SETS_DONE: Fact(Kind.SETS, "session", "session", 0, SETS_MAX, "sets"),
    Question.PAIN_DURING: _pain("session", "session", "during"),
    Question.PAIN_AFTER: _pain("session", "session", "after"),
    Question.EFFORT: Fact(Kind.SCALE, "session", "effort", Effort.lowest, Effort.highest, "effort"),
    Question.PAINKILLER: Fact(Kind.YES_NO, "session", "effort", label="painkiller"),
    Question.ACTIVITY_MINUTES: _minutes("session", "activity", "activity"),
    Question.ACTIVITY_EFFORT: Fact(
        Kind.SCALE, "session", "activity-effort", Effort.lowest, Effort.highest, "effort"
    ),
    Question.HEEL_RAISES: _raises("weekly", "heel-raises"),
    Question.OTHER_HEEL_RAISES: _raises("other-heel-raises", "other-heel-raises"),
    **{question: _points(item) for item, question in enumerate(VISA_A, start=1)},
    Question.CONSENT: Fact(Kind.YES_NO, "enrolment", "consent"),
    Question.TIME_ZONE: Fact(Kind.PLACE, "enrolment", "time-zone"),
    Question.MORNING_TIME: Fact(Kind.TIME, "enrolment", "morning-time"),
    Question.SIDE: Fact(Kind.SIDE, "enrolment", "side"),
    Question.USUAL_PAIN: _pain("enrolment", "usual-pain"),
    Question.USUAL_STIFFNESS: _minutes("enrolment", "usual-stiffness", "stiffness"),
    Question.SIGN: Fact(Kind.YES_NO, "sign", "sign"),
    Question.WHAT_ABOUT: Fact(Kind.TOPIC, "what-about", "what-about"),
    Question.SET_OFF: Fact(Kind.WORDS, "set-off", "set-off"),
}

ENROLMENT = tuple(question for question in Question if FACTS[question].group == "enrolment")

SESSION = (
    Question.SETS_DONE,
    Question.PAIN_DURING,
    Question.PAIN_AFTER,
    Question.EFFORT,
    Question.PAINKILLER,
    Question.ACTIVITY_MINUTES,
)

# Replies that were not understood before choices are offered, and before the text goes to the
# clinician [count]. Convention.
TRIES_BEFORE_CHOICES = 2
TRIES_BEFORE_UNREAD = 3

# So many words that cannot be placed, and no answer beside them, are something told and no slip:
# the clinician sees them at once. Convention.
TOLD_WORDS = 3

# What the minutes pad offers. Convention: fine where stiffness matters, coarse beyond.
MINUTES_OFFERED = ((0, 5, 10, 15), (20, 30, 45, 60))

# Buttons that stand side by side on a narrow phone [count, at most]. Convention.
BUTTONS_A_ROW_MAX = 6

# Lettered choices for minutes, where numbers would be read as minutes themselves. Convention.
LETTERED_MINUTES = {"a": 0, "b": 5, "c": 15, "d": 30, "e": 60}


def batch(waiting: tuple[Asked, ...]) -> tuple[Asked, ...]:
    """The questions at the head of the queue that share one message.

    Signs and enrolment questions are put one at a time; a session's questions only with others
    about the same day.
    """
    if not waiting:
        return ()
    first = waiting[0]
    fact = FACTS[first.question]
    if fact.group in ("sign", "enrolment"):
        return waiting[:1]
    together = []
    for asked in waiting:
        same = FACTS[asked.question].batch == fact.batch
        if not same or (fact.group == "session" and asked.about != first.about):
            break
        together.append(asked)
    return tuple(together)


def choices(asked: Asked, words: Mapping[str, str]) -> tuple[tuple[Choice, ...], ...]:
    """Buttons for one question, in rows; none where a pad does not help.

    words: what the buttons for yes, no, left, right and both show.
    """
    kind = FACTS[asked.question].kind
    if kind is Kind.SCALE:
        rows = [[str(n) for n in range(6)], [str(n) for n in range(6, 11)]]
    elif kind is Kind.MINUTES:
        rows = [[str(n) for n in row] for row in MINUTES_OFFERED]
    elif kind is Kind.POINTS:
        rows = _point_rows(FACTS[asked.question])
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


def item_of(question: Question) -> int:
    """Which item of the VISA-A sheet a question is about [1-8]; 0 where it is no item of it."""
    return VISA_A.index(question) + 1 if question in VISA_A else 0


def template_name(question: Question) -> str:
    """What the template is called that puts a question: all items of a sheet share one."""
    return FACTS[question].batch if question in VISA_A else question.value


def _point_rows(fact: Fact) -> list[list[str]]:
    points = [str(n) for n in fact.allowed or range(fact.lowest, fact.highest + 1)]
    half = -(-len(points) // 2) if len(points) > BUTTONS_A_ROW_MAX else len(points)
    return [points[:half], points[half:]] if points[half:] else [points]


def without(waiting: tuple[Asked, ...], answered: tuple[Asked, ...]) -> tuple[Asked, ...]:
    """What still waits once these are gone."""
    keys = {asked.key for asked in answered}
    return tuple(asked for asked in waiting if asked.key not in keys)


def belongs_to(asked: Asked, group: str, about: date | None = None) -> bool:
    """Whether a question is of this group, and about this day where one is given."""
    return FACTS[asked.question].group == group and about in (None, asked.about)
