"""The one table of questions: a row holds all that is known of one.

Asking, reading, keeping, exporting, replaying and reporting go by it, so a new question is a row
here and an entry `[question.<key>]` in each language's `asking.toml`. Questions are put in the
order of the table. Read next: `waiting`, then `asking` and `reading`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Any, Self

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


# Pain severity 0-10, verbal numeric rating, as reported. Source: LOINC 2.82, 72514-3. LOINC has no
# code that we found for minutes of a tendon's morning stiffness, nor for the VISA-A.
PAIN_SEVERITY = "72514-3"

# More sets than this in one session is a slip of the finger. Convention.
SETS_MAX = 20
# Single-leg heel raises in one go. Convention, well over any count seen in practice.
HEEL_RAISES_MAX = min(200, Count.highest)

# Points of a sheet, as plausible as any. Convention.
SHEET_EXAMPLE = ("7", "6", "7", "7", "6", "5", "4", "10")


@dataclass(frozen=True)
class Row:
    """What is known of a question.

    `group`: what is complete once no question of it waits. "session": the questions that follow a
    session, put in the evening. `batch`: questions of one batch share a message; empty: it is put
    alone. `lowest`, `highest`: range of the answer, both included [`quantity`'s unit].
    `allowed`: the only points there are, where not every number of the range is one.
    `follows`: put only after an answer to another question makes it fit to.
    `days_after`: how long after the day that the answer is about it is put [days].
    `of_session`: the answer tells of a session, and means nothing without one.
    `label`: the key of the words in `words.toml` that name it within a reply.
    `example`: a plausible reply, low, so that it suggests nothing alarming (convention).
    `item`: which item of the VISA-A sheet it is [1-8], 0 for none.

    `column`: its column in a diary; empty: a diary does not hold it. `title`: what it is about, for
    whoever reads an export. `code`: LOINC. `report`: the head of its weekly mean in the report;
    empty: the report has no mean of it.
    """

    kind: Kind
    group: str
    batch: str = ""
    quantity: type[Pain | Effort | Minutes | Count] = Count
    lowest: int = 0
    highest: int = 0
    allowed: tuple[int, ...] = ()
    follows: bool = False
    days_after: int = 0
    of_session: bool = False
    label: str = ""
    example: str = "3"
    item: int = 0
    column: str = ""
    title: str = ""
    code: str = ""
    report: str = ""


def _pain(group: str, batch: str = "", **more: Any) -> Row:
    of_session = group in ("session", "follow-up")
    return Row(Kind.SCALE, group, batch, Pain, highest=Pain.highest, code=PAIN_SEVERITY,
               of_session=of_session, **{"label": "pain", **more})  # fmt: skip


def _effort(group: str, batch: str = "", **more: Any) -> Row:
    return Row(Kind.SCALE, group, batch, Effort, highest=Effort.highest, label="effort", **more)


def _minutes(group: str, batch: str = "", **more: Any) -> Row:
    return Row(Kind.MINUTES, group, batch, Minutes, highest=Minutes.highest, **more)


def _raises(**more: Any) -> Row:
    return Row(Kind.COUNT, "weekly", highest=HEEL_RAISES_MAX, **more)


def _item(item: int) -> Row:
    """An item of the VISA-A sheet. Its wording belongs to its publisher and is not here."""
    points = tuple(sorted(allowed_points(item)))
    every = len(points) == points[-1] + 1
    return Row(
        Kind.POINTS, "visa-a", "morning", Count, points[0], points[-1], () if every else points,
        label="item", example=SHEET_EXAMPLE[item - 1], item=item,
        title=f"VISA-A, points of item {item}",
    )  # fmt: skip


class Question(StrEnum):
    """Every question there is, by its key in the store, the wording and the buttons."""

    row: Row

    def __new__(cls, key: str, row: Row = Row(Kind.WORDS, "")) -> Self:
        """A member of the key, with its row."""
        member = str.__new__(cls, key)
        member._value_ = key
        member.row = row if row.batch else replace(row, batch=key)
        return member

    @property
    def entry(self) -> str:
        """The key of its entry in the wording: all items of the sheet share one."""
        return "visa-a" if self.row.item else self.value

    # fmt: off
    FIRST_STEP_PAIN = "first-step-pain", _pain(
        "morning", "morning", column="morning_pain",
        title="Tendon pain with the first steps of the morning",
        report="First-step pain, mean (answers)")
    STIFFNESS = "stiffness", _minutes(
        "morning", "morning", label="stiffness", example="10", column="morning_stiffness_min",
        title="Minutes until the tendon's morning stiffness eased",
        report="Stiffness min, mean (answers)")
    NEXT_DAY_PAIN = "next-day-pain", _pain(
        "follow-up", "morning", days_after=1, label="worst", example="2", column="pain_24h",
        title="Worst tendon pain in the 24 hours after the session")
    TWO_DAY_PAIN = "two-day-pain", _pain(
        "follow-up", "morning", days_after=2, label="worst", example="2", column="pain_48h",
        title="Worst tendon pain between 24 and 48 hours after the session, or in the 48 hours"
        " where pain_24h is empty")
    SETS_DONE = "sets-done", Row(
        Kind.SETS, "session", "session", highest=SETS_MAX, of_session=True, label="sets",
        column="sets_done", title="Sets done of those prescribed")
    PAIN_DURING = "pain-during", _pain(
        "session", "session", label="during", example="2", column="pain_during",
        title="Worst tendon pain during the session")
    PAIN_AFTER = "pain-after", _pain(
        "session", "session", label="after", example="1", column="pain_after",
        title="Tendon pain straight after the session")
    EFFORT = "effort", _effort(
        "session", "session", of_session=True, example="4", column="effort",
        title="How hard the session was, 0-10")
    PAINKILLER = "painkiller", Row(
        Kind.YES_NO, "session", "besides", of_session=True, label="painkiller", example="no",
        column="painkiller", title="Painkiller before the session, 1 yes, 0 no")
    ACTIVITY_MINUTES = "activity-minutes", _minutes(
        "session", "besides", label="activity", example="20", column="activity_min",
        title="Minutes of other activity on the day")
    ACTIVITY_EFFORT = "activity-effort", _effort(
        "session", follows=True, column="activity_effort",
        title="How hard the other activity was, 0-10")
    HEEL_RAISES = "heel-raises", _raises(
        label="heel-raises", column="heel_raises", title="Single-leg heel raises in one go")
    OTHER_HEEL_RAISES = "other-heel-raises", _raises(
        label="other-heel-raises", follows=True, column="other_heel_raises",
        title="Single-leg heel raises in one go, on the other side")
    VISA_A_1 = "visa-a-1", _item(1)
    VISA_A_2 = "visa-a-2", _item(2)
    VISA_A_3 = "visa-a-3", _item(3)
    VISA_A_4 = "visa-a-4", _item(4)
    VISA_A_5 = "visa-a-5", _item(5)
    VISA_A_6 = "visa-a-6", _item(6)
    VISA_A_7 = "visa-a-7", _item(7)
    VISA_A_8 = "visa-a-8", _item(8)
    CONSENT = "consent", Row(Kind.YES_NO, "enrolment")
    TIME_ZONE = "time-zone", Row(Kind.PLACE, "enrolment")
    MORNING_TIME = "morning-time", Row(Kind.TIME, "enrolment")
    SIDE = "side", Row(Kind.SIDE, "enrolment")
    USUAL_PAIN = "usual-pain", _pain("enrolment")
    USUAL_STIFFNESS = "usual-stiffness", _minutes("enrolment", label="stiffness")
    GOAL = "goal", Row(Kind.WORDS, "enrolment")
    RISES_ON_BOTH = "rises-on-both", Row(
        Kind.YES_NO, "enrolment", follows=True, column="rises_on_both",
        title="Can rise on the toes of both feet ten times, 1 yes, 0 no")
    RISES_ON_ONE = "rises-on-one", Row(
        Kind.YES_NO, "enrolment", follows=True, column="rises_on_one",
        title="Can rise on the toes of the sore side alone, 1 yes, 0 no")
    RISES_IN_A_ROW = "rises-in-a-row", Row(
        Kind.COUNT, "enrolment", follows=True, highest=HEEL_RAISES_MAX, column="rises_in_a_row",
        title="Single-leg heel raises in a row, as told at enrolment")
    SIGN = "sign", Row(Kind.YES_NO, "sign")
    WHAT_ABOUT = "what-about", Row(Kind.TOPIC, "what-about")
    SET_OFF = "set-off", Row(Kind.WORDS, "set-off")
    # fmt: on


def _of(group: str) -> tuple[Question, ...]:
    return tuple(one for one in Question if one.row.group == group and not one.row.follows)


# What is asked together, in order: when enrolling, after a session, of a sheet.
ENROLMENT, SESSION, VISA_A = _of("enrolment"), _of("session"), _of("visa-a")
# And when enrolling, where it is open at which level the ladder begins.
ABILITY = (Question.RISES_ON_BOTH, Question.RISES_ON_ONE, Question.RISES_IN_A_ROW)

# What a diary holds, by its column.
COLUMNS = {one.row.column: one for one in Question if one.row.column}
# Pain that is told while treatment goes on.
PAINS = frozenset(one for one in COLUMNS.values() if one.row.quantity is Pain)
