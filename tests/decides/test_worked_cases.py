"""Invented but realistic diaries through the whole decision order, at the published ceiling.

Pain limit 5. Levels: 1 two-leg or assisted raises, 2 single-leg, 3 added weight, 4 hops, 5 sport;
one dose each, so that a dose less is the step back that C27 and C28 ask for: one clear reading no
longer takes a level. Source: invented, convention; ceiling and 48 hours as in silbernagel-2007.
"Usual" is the morning value told at enrolment. Mornings run oldest to today; None:
not answered. Unless the row says otherwise the last session was two days ago.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import date, timedelta

import pytest
from decides.building import SETTINGS, level

from rules.advice import advise
from rules.history import (
    Activity,
    HeelRaises,
    History,
    LoadingStop,
    Morning,
    Move,
    MovedBy,
    Session,
    Tendon,
    Tier,
)
from rules.protocol import Position, Protocol
from rules.quantities import Count, Minutes, Pain
from rules.reasons import Action, Advice, Reason

TODAY = date(2026, 5, 20)
PROTOCOL = Protocol(
    name="worked cases",
    title="Worked cases",
    version="1",
    tendon=None,
    settings=replace(SETTINGS, pain_limit=5, comfort_max=3),
    levels=(
        level("two-leg raises", days_min=14, spacing_hours=24, heel_raises_min=10),
        level("single-leg raises", days_min=21, spacing_hours=24),
        level("added weight", days_min=42, spacing_hours=48, heavy=True),
        level("hops and run", days_min=28, spacing_hours=72, hops=True),
        level("sport", days_min=28, spacing_hours=72, hops=True),
    ),
)


@dataclass(frozen=True)
class Case:
    """One diary. Pains: during, after, at 24 and at 48 hours of the last session."""

    level: int
    day: int
    usual: tuple[int, int]
    mornings: list[int]
    stiffness: list[int]
    week_before: tuple[float, float]
    pains: tuple[int | None, int | None, int | None, int | None]
    done: tuple[int, int]
    last_days_ago: int = 2
    heel_raises: int | None = None
    activities: tuple[tuple[int, int], ...] = ()
    loading_stop: tuple[str, Tier] | None = None
    tendon: Tendon = field(default=Tendon.MID_PORTION)


def days_ago(days: int) -> date:
    """A date so many days before today."""
    return TODAY - timedelta(days=days)


def week_with_mean(mean: float) -> list[int]:
    """Seven whole numbers whose mean is the nearest to `mean`, the higher ones last."""
    total = round(7 * mean)
    return [(total + index) // 7 for index in range(7)]


def session_days(case: Case) -> list[int]:
    """Days ago of the sessions: the done ones, at the level's spacing back from the last."""
    spacing = PROTOCOL.levels[case.level - 1].spacing_days
    done, prescribed = case.done
    step = spacing if 100 * done >= 80 * prescribed else spacing * prescribed // done
    return [case.last_days_ago + step * index for index in range(done)][::-1]


def history_of(case: Case) -> History:
    """The diary as a history. Earlier sessions went well and were followed up."""
    pain = [*week_with_mean(case.week_before[0]), *case.mornings]
    stiffness = [*week_with_mean(case.week_before[1]), *case.stiffness]
    begins = days_ago(case.day)
    done = [days for days in session_days(case) if days <= case.day]
    plain = Session(days_ago(0), Position(case.level, 1), pain_during=Pain(2), pain_after=Pain(1))
    usual = Pain(case.usual[0])
    sessions = [
        replace(plain, on=days_ago(days), pain_24h=usual, pain_48h=usual) for days in done[:-1]
    ]
    during, after, next_day, two_days = (None if p is None else Pain(p) for p in case.pains)
    sessions.append(
        replace(
            plain, on=days_ago(case.last_days_ago), pain_during=during, pain_after=after,
            pain_24h=next_day, pain_48h=two_days,
        )
    )  # fmt: skip
    raises = case.heel_raises
    sign = case.loading_stop
    return History(
        tendon=case.tendon,
        enrolled_on=days_ago(120),
        usual_pain=usual,
        usual_stiffness=Minutes(case.usual[1]),
        moves=(
            Move(days_ago(120), Position(1, 1), MovedBy.ENROLMENT),
            Move(begins, Position(case.level, 1), MovedBy.RULES),
        ),
        mornings=tuple(
            Morning(days_ago(13 - index), Pain(pain[index]), Minutes(stiffness[index]))
            for index in range(14)
        ),
        sessions=tuple(sessions),
        activities=tuple(Activity(days_ago(ago), Minutes(m)) for ago, m in case.activities),
        heel_raises=() if raises is None else (HeelRaises(days_ago(1), Count(raises)),),
        loading_stops=() if sign is None else (LoadingStop(*sign, raised_on=TODAY),),
        hops_allowed=True,
    )


FLAT = [2] * 7
TENS = [10] * 7
WALKS = ((25, 90), (18, 100), (11, 80), (1, 230))
C01 = Case(
    1,
    14,
    (3, 15),
    [3, 3, 2, 3, 2, 2, 2],
    [15, 15] + [10] * 5,
    (3.1, 17),
    (3, 2, 2, 2),
    (13, 14),
    heel_raises=12,
)
C04 = Case(
    2, 22, (2, 10), [2, 2, 1, 2, 1, 2, 1], [10, 10] + [5] * 5, (2.1, 11), (3, 2, 2, 1), (20, 22)
)
C07 = Case(
    3, 44, (1, 5), [1, 1, 0, 1, 0, 1, 0], [5, 5, 5, 0, 0, 5, 0], (1.1, 5), (2, 1, 1, 0), (18, 19)
)
C13 = Case(
    2, 3, (2, 10), [2, 2, 2, 1, 2, 1, 1], [10, 10, 10, 5, 10, 5, 5], (2.1, 11), (2, 1, 1, 1), (3, 3)
)
C15 = Case(1, 14, (2, 10), FLAT, TENS, (2.1, 10), (2, 1, 2, 2), (4, 14), heel_raises=12)
C17 = Case(2, 23, (3, 15), [3] * 7, [15] * 7, (3.0, 15), (5, 4, 3, 3), (21, 23))
C22 = Case(1, 15, (2, 10), FLAT, TENS, (2.2, 10), (3, 2, 2, 2), (14, 15), heel_raises=6)
C25 = Case(2, 9, (2, 10), [2, 2, 2, 2, 2, 3, 2], TENS, (2.1, 10), (7, 4, 3, 2), (8, 9))
C27 = Case(
    2,
    11,
    (2, 10),
    [2, 2, 2, 2, 2, 3, 6],
    [10] * 5 + [15, 20],
    (2.1, 10),
    (4, 4, 6, None),
    (10, 11),
    1,
)
C28 = Case(
    3, 15, (2, 10), [2, 2, 2, 2, 2, 4, 4], [10] * 5 + [15, 15], (2.0, 10), (4, 4, 4, 4), (6, 7)
)
C29 = Case(2, 19, (3, 15), [4, 4, 4, 5, 4, 4, 4], [20] * 7, (2.0, 12), (4, 4, 4, 4), (17, 19))
C37 = Case(3, 18, (1, 5), [1] * 7, [5] * 7, (1.1, 5), (2, 2, 1, None), (8, 8), 1)
C38 = Case(2, 10, (2, 10), [2] * 6 + [4], [10] * 6 + [15], (2.0, 10), (3, 3, 4, None), (9, 10), 1)
C42 = Case(
    2,
    12,
    (2, 10),
    [2] * 6 + [4],
    [10] * 6 + [20],
    (2.0, 10),
    (2, 2, 4, None),
    (11, 12),
    1,
    activities=WALKS,
)
C43 = Case(
    4,
    9,
    (1, 5),
    [1] * 7,
    [5] * 7,
    (1.0, 5),
    (8, 6, None, None),
    (4, 4),
    1,
    loading_stop=("tendon-rupture", Tier.EMERGENCY),
)
C50 = Case(
    2,
    12,
    (2, 10),
    [2] * 6 + [3],
    TENS,
    (2.0, 10),
    (2, 2, 3, 2),
    (11, 12),
    loading_stop=("calf-swelling", Tier.SAME_DAY),
)
C51 = Case(
    3,
    25,
    (1, 5),
    [1, 1, 1, 2, 3, 3, 4],
    [5, 5, 5, 10, 15, 15, 20],
    (1.0, 5),
    (3, 3, 4, None),
    (10, 11),
    1,
    loading_stop=("antibiotic", Tier.SAME_DAY),
)
C56 = Case(
    1,
    21,
    (4, 75),
    [4] * 7,
    [75, 80, 90, 75, 80, 90, 85],
    (4.0, 78),
    (2, 2, 4, 4),
    (19, 21),
    loading_stop=("stiff-for-long", Tier.NEXT_WORKING_DAY),
    tendon=Tendon.INSERTIONAL,
)


ROWS = [
    ("C01 done, criterion met", C01, Action.ADVANCE, Reason.READY, 2),
    ("C04 all sets complete", C04, Action.ADVANCE, Reason.READY, 3),
    ("C07 heavy, stiff on some days only", C07, Action.ADVANCE, Reason.READY, 4),
    ("C13 third day, feels great", C13, Action.HOLD, Reason.TOO_FEW_DAYS, 2),
    ("C15 four of fourteen sessions", C15, Action.HOLD, Reason.TOO_FEW_SESSIONS, 1),
    ("C17 sore every time, settled by morning", C17, Action.HOLD, Reason.SORE_BUT_SETTLED, 2),
    ("C22 six heel raises", C22, Action.HOLD, Reason.CRITERION_NOT_MET, 1),
    ("C25 seven during", C25, Action.STEP_BACK, Reason.PAIN_FAR_OVER_LIMIT, 1),
    ("C27 six this morning", C27, Action.DO_LESS, Reason.PAIN_OVER_CEILING, 1),
    ("C28 still four two mornings after", C28, Action.DO_LESS, Reason.NOT_SETTLED_BY_TWO_DAYS, 2),
    ("C29 this week worse than last", C29, Action.STEP_BACK, None, 1),
    ("C37 heavy yesterday", C37, Action.REST_DAY, Reason.STILL_RECOVERING, 3),
    ("C38 four after yesterday", C38, Action.REST_DAY, Reason.NEXT_DAY_ABOVE_USUAL, 2),
    ("C42 long walk yesterday", C42, Action.REST_DAY, Reason.NEXT_DAY_ABOVE_USUAL, 2),
    ("C43 pop at tennis", C43, Action.STOP, Reason.WARNING_SIGN, 4),
    ("C50 swollen calf", C50, Action.STOP, Reason.WARNING_SIGN, 2),
    ("C51 an antibiotic", C51, Action.STOP, Reason.WARNING_SIGN, 3),
    ("C56 stiff for over an hour", C56, Action.STOP, Reason.WARNING_SIGN, 1),
]


def found(advice: Advice) -> list[Reason]:
    """All reasons of an advice."""
    return [advice.reason, *(finding.reason for finding in advice.also)]


@pytest.mark.parametrize(
    ("case", "action", "reason", "to_level"),
    [pytest.param(*row[1:], id=row[0]) for row in ROWS],
)
def test_a_worked_case_comes_out_as_told(
    case: Case, action: Action, reason: Reason | None, to_level: int
) -> None:
    """Action, level and, where the case names one, the reason are those of the worked case."""
    advice = advise(history_of(case), PROTOCOL, TODAY)

    assert (advice.action, advice.position.level) == (action, to_level)
    assert reason in (None, advice.reason)


def test_a_week_worse_than_last_is_among_the_reasons() -> None:
    """C29 is worse by the week as well as by the second morning, measured against its usual."""
    assert Reason.WEEK_WORSE_THAN_LAST in found(advise(history_of(C29), PROTOCOL, TODAY))


def test_a_rest_day_tells_of_the_long_walk_as_well() -> None:
    """C42 rests, and the walk of more than a tenth over the longest is kept beside it."""
    assert Reason.ACTIVITY_SPIKE in found(advise(history_of(C42), PROTOCOL, TODAY))


def test_the_walk_alone_is_no_reason_to_rest() -> None:
    """The same walk without the bad morning leads to no step back and no rest."""
    calm = replace(C42, mornings=FLAT, stiffness=TENS, pains=(2, 2, 2, 2), last_days_ago=2)

    advice = advise(history_of(calm), PROTOCOL, TODAY)

    assert advice.action is Action.HOLD
    assert Reason.ACTIVITY_SPIKE in found(advice)
