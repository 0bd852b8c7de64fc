"""Which mornings a calm patient is not asked, by hand. Convention, no source.

Sessions on even days to day 28, all at one place since day -20; the morning in question is that of
day 29. First-step pain 2, stiffness 10 minutes and sessions of 2 at worst are usual.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest
from decides.building import (
    LADDER,
    PRESENT,
    day,
    morning,
    moves,
    ready_history,
    session,
    with_last,
    with_mornings,
    with_sessions,
)

from bot.patient_record.readings import sessions_of
from bot.store.answers import SessionRow
from rules.asking_less import morning_is_skipped
from rules.history import DayWord, History, LoadingStop, Move, MovedBy, Pause, Says, Tier
from rules.protocol import Position
from rules.quantities import Pain
from rules.usual import next_day_pain

STAYED = moves((-40, PRESENT))
CALM = ready_history(
    moves=STAYED,
    mornings=tuple(morning(number) for number in range(-40, 29)),
    sessions=tuple(session(number) for number in range(-20, 30, 2)),
)


def without(history: History, *days: int) -> History:
    """The history with these mornings not answered."""
    gone = [day(number) for number in days]
    return replace(history, mornings=tuple(m for m in history.mornings if m.on not in gone))


FLARED = with_sessions(with_mornings(CALM, morning(8, 4)), session(6, pain_48h=Pain(4)))
STEP = Move(day(5), PRESENT, MovedBy.RULES, do_less=True)


@pytest.mark.parametrize(
    ("history", "skipped"),
    [
        pytest.param(CALM, True, id="four calm weeks"),
        pytest.param(with_mornings(CALM, morning(8, 3)), True, id="a point over, three weeks ago"),
        pytest.param(FLARED, False, id="a day that read two points over"),
        pytest.param(with_mornings(CALM, morning(24, 3)), False, id="a point over this week"),
        pytest.param(with_mornings(CALM, morning(28, 2, 30)), False, id="stiffer this week"),
        pytest.param(
            with_sessions(CALM, session(26, pain_48h=Pain(3))), False, id="48 hours a point over"
        ),
        pytest.param(with_last(CALM, pain_after=Pain(3)), False, id="a session that hurt"),
        pytest.param(with_last(CALM, pain_during=None, pain_after=None), False, id="pain not told"),
        pytest.param(with_sessions(CALM, session(28, Position(2, 2))), False, id="another dose"),
        pytest.param(without(CALM, 28), False, id="yesterday not answered"),
        pytest.param(without(CALM, 23, 25), True, id="four of six mornings"),
        pytest.param(without(CALM, 23, 25, 27), False, id="three of six mornings"),
        pytest.param(without(CALM, 8, 9, 11, 13), False, id="a week of few answers"),
        pytest.param(replace(CALM, moves=(*STAYED, STEP)), False, id="a step down"),
        pytest.param(
            replace(CALM, loading_stops=(LoadingStop("leg-clot", Tier.SAME_DAY, day(3), day(5)),)),
            False,
            id="a warning sign",
        ),
        pytest.param(replace(CALM, pauses=(Pause(day(3), day(4)),)), False, id="a pause"),
        pytest.param(
            replace(CALM, day_words=(DayWord(day(9), Says.REST, "Cleo"),)), False, id="told to rest"
        ),
        pytest.param(replace(CALM, enrolled_on=day(10)), False, id="enrolled lately"),
        pytest.param(replace(CALM, sessions=CALM.sessions[:-1]), False, id="no session yesterday"),
    ],
)
def test_the_morning_after_a_session_of_a_calm_patient_is_skipped(
    history: History, skipped: bool
) -> None:
    """And after nothing else."""
    assert morning_is_skipped(history, LADDER, day(29)) is skipped


def test_what_came_since_the_session_counts_for_both_days() -> None:
    """Unless the day between told for itself, or the clinic asks every morning."""
    row = SessionRow(day(28), PRESENT, 3, datetime(2026, 3, 30, 19, tzinfo=UTC))
    told = {day(28): {"two-day-pain": 4}, day(30): {"first-step-pain": 2}}
    spoken = {**told, day(29): {"first-step-pain": 3}}

    between = [
        next_day_pain(replace(CALM, mornings=(), sessions=found), found[0])
        for found in (
            sessions_of(told, [row], for_both=True),
            sessions_of(spoken, [row], for_both=True),
            sessions_of(told, [row]),
        )
    ]

    assert between == [4, None, None]
