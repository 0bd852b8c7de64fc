"""The numbers kept with each decision and alert, whole and under their names.

Templates, the record and the replay read them by name, so a changed name is a broken sentence.
Expected values follow by hand from the ready history of `building`: usual 2, limit 4, last session
on day 28 (2026-03-30), asked about on day 30 (2026-04-01).
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from decides.building import (
    LADDER,
    TODAY,
    USUAL_MOVES,
    day,
    morning,
    moves,
    ready_history,
    session,
    sessions_until,
    with_last,
    with_mornings,
    with_sessions,
)

from rules.advice import advise, ready
from rules.alerts import Alert, AlertKey, alerts
from rules.history import (
    Activity,
    DayWord,
    HeelRaises,
    History,
    LoadingStop,
    Move,
    MovedBy,
    Pause,
    Says,
    Tier,
)
from rules.protocol import Position, Tendon
from rules.quantities import Count, Effort, Minutes, Pain
from rules.reasons import FORMER, Evidence, Reason

LAST_ON = "2026-03-30"
CALM = ready_history()


def evidence_of(history: History, today: date = TODAY) -> dict[Reason, Evidence]:
    """The evidence of every reason that applies."""
    advice = advise(history, LADDER, today)
    return {one.reason: one.evidence for one in (advice.because, *advice.also)}


def _signs(*signs: tuple[str, Tier, int]) -> History:
    return ready_history(
        loading_stops=tuple(LoadingStop(name, tier, day(on)) for name, tier, on in signs)
    )


def _stepped_back(pain: int | None) -> History:
    move = Move(day(29), Position(1, 1), MovedBy.RULES, True, day(28))
    return with_mornings(ready_history(moves=(*USUAL_MOVES, move)), morning(30, pain))


def _said(says: Says) -> History:
    return ready_history(day_words=(DayWord(TODAY, says, "Dr Moss"),))


def _worse_week(pain: int, stiffness: int) -> History:
    """Six mornings of this week with `pain`, the seventh with one more; last week 2 and 10."""
    first = (morning(number, pain, stiffness) for number in range(24, 30))
    return with_mornings(CALM, *first, morning(30, pain + 1, stiffness))


def _hard(*numbers: int) -> History:
    return with_sessions(CALM, *(session(number, effort=Effort(6)) for number in numbers))


UNTOLD = ready_history(
    sessions=tuple(replace(one, pain_24h=None, pain_48h=None) for one in CALM.sessions)
)
"""Nothing told at 24 and 48 hours, so that a morning is its day's reading."""

SORE_YESTERDAY = ready_history(
    sessions=(
        *sessions_until(27),
        session(29, pain_during=Pain(5), pain_24h=None, pain_48h=None),
    )
)

FELL = (
    Move(day(18), Position(3, 1), MovedBy.RULES),
    Move(day(20), Position(2, 3), MovedBy.RULES, do_less=True, session_on=None),
)

STOPS = [
    pytest.param(
        Reason.WARNING_SIGN,
        _signs(("low-mood", Tier.NEXT_WORKING_DAY, 10), ("leg-clot", Tier.SAME_DAY, 29)),
        {
            "sign": "leg-clot",
            "tier": "same day",
            "raised_on": "2026-03-31",
            "open_signs": 2,
            "looked_at": False,
        },
        id="the most urgent of two signs",
    ),
    pytest.param(
        Reason.PAUSED, ready_history(pauses=(Pause(day(29), day(31)),)),
        {"paused_on": "2026-03-31", "paused_until": "2026-04-02"}, id="paused to a day",
    ),
    pytest.param(
        Reason.PAUSED, ready_history(pauses=(Pause(day(1), day(2)), Pause(day(29)))),
        {"paused_on": "2026-03-31", "paused_until": None}, id="paused without an end",
    ),
    pytest.param(
        Reason.CLINICIAN_SAYS_REST, _said(Says.REST), {"by": "Dr Moss", "said_on": "2026-04-01"},
        id="the clinician says rest",
    ),
    pytest.param(
        Reason.CLINICIAN_SAYS_GO_ON, _said(Says.GO_ON), {"by": "Dr Moss", "said_on": "2026-04-01"},
        id="the clinician says go on",
    ),
]  # fmt: skip

STEP_BACKS = [
    pytest.param(
        Reason.PAIN_FAR_OVER_LIMIT, with_last(CALM, pain_during=Pain(3), pain_after=Pain(8)),
        {"worst_pain": 8, "far_over": 7, "session_on": LAST_ON}, id="eight after",
    ),
    pytest.param(
        Reason.SORE_AFTER_TWO_OF_THREE, with_mornings(UNTOLD, morning(27, 5), morning(29, 5)),
        {"sore_sessions": 2, "sore_sessions_min": 2, "session_on": LAST_ON},
        id="five after each of two sessions",
    ),
    pytest.param(
        Reason.NOT_SETTLED_BY_TWO_DAYS, with_mornings(UNTOLD, morning(29, 4), morning(30, 5)),
        {"next_day_pain": 4, "two_day_pain": 5, "usual": 2.0, "margin": 2, "session_on": LAST_ON},
        id="five after two days",
    ),
    pytest.param(
        Reason.PAIN_OVER_CEILING, with_last(CALM, pain_during=Pain(6), pain_after=Pain(7)),
        {"worst_pain": 7, "ceiling": 5, "pain_during": 6, "pain_after": 7, "session_on": LAST_ON},
        id="six and seven",
    ),
    pytest.param(
        Reason.PAIN_OVER_CEILING,
        with_mornings(with_last(UNTOLD, pain_during=Pain(6)), morning(29, None)),
        {"worst_pain": 6, "ceiling": 5, "missing": "next_day_pain", "session_on": LAST_ON},
        id="six and no next day",
    ),
    pytest.param(
        Reason.PAIN_OVER_CEILING, with_mornings(UNTOLD, morning(29, 6)),
        {"ceiling": 5, "next_day_pain": 6, "usual": 2.0, "margin": 2, "session_on": LAST_ON},
        id="six the next day",
    ),
    pytest.param(
        Reason.OVER_LIMIT_THREE_TIMES,
        with_sessions(CALM, *(session(number, pain_after=Pain(5)) for number in (24, 26, 28))),
        {"sessions_over": 3, "limit": 4, "session_on": LAST_ON}, id="five in three sessions",
    ),
    # Day 30 is the 35th since enrolment; this week is 24 to 30, the weeks before -4 to 9.
    pytest.param(
        Reason.WEEKS_WORSE_THAN_BEFORE,
        with_mornings(
            ready_history(enrolled_on=day(-4)), *(morning(n, 4, 25) for n in range(25, 31))
        ),
        {
            "pain_mean": 3.71,
            "pain_mean_before": 2.0,
            "stiffness_mean": 22.86,
            "stiffness_mean_before": 10.0,
        },
        id="six worse mornings",
    ),
    # By hand: (6 x 4 + 5) / 7 = 4.142...
    pytest.param(
        Reason.WEEK_WORSE_THAN_LAST, _worse_week(4, 10),
        {"pain_mean": 4.14, "pain_mean_before": 2.0}, id="a week with more pain",
    ),
    pytest.param(
        Reason.WEEK_WORSE_THAN_LAST, _worse_week(2, 40),
        {"stiffness_mean": 40.0, "stiffness_mean_before": 10.0}, id="a week with more stiffness",
    ),
]  # fmt: skip

RESTS = [
    pytest.param(
        Reason.NEXT_DAY_ABOVE_USUAL,
        with_mornings(
            ready_history(sessions=(*sessions_until(27), session(29, pain_24h=Pain(4)))),
            morning(30, None),
        ),
        {"next_day_pain": 4, "usual": 2.0, "margin": 2, "session_on": "2026-03-31"},
        id="four the next day",
    ),
    pytest.param(
        Reason.WELL_ABOVE_USUAL, with_mornings(UNTOLD, morning(30, 6)),
        {"pain": 6, "usual": 2.0, "margin": 3}, id="six this morning",
    ),
    pytest.param(
        Reason.ABOVE_USUAL_TWICE, with_mornings(UNTOLD, morning(29, 4), morning(30, 5)),
        {"pain": 5, "usual": 2.0, "margin": 2, "days_min": 2},
        id="five this morning, four yesterday",
    ),
    pytest.param(
        Reason.SORE_SESSION_AND_NEXT_DAY,
        with_mornings(SORE_YESTERDAY, morning(30, 3)),
        {
            "worst_pain": 5,
            "usual_worst_pain": 2.0,
            "next_day_pain": 3,
            "usual": 2.0,
            "session_on": "2026-03-31",
        },
        id="five in the session, three on the day after",
    ),
    pytest.param(
        Reason.SETTLING_AFTER_STEP_BACK, _stepped_back(4),
        {"first_step_pain": 4, "usual": 2.0, "margin": 1, "stepped_back_on": "2026-03-31"},
        id="four after a step back",
    ),
    pytest.param(
        Reason.STILL_RECOVERING, with_sessions(CALM, session(29)),
        {"days_since_session": 1, "spacing_days": 2, "session_on": "2026-03-31"},
        id="a session yesterday",
    ),
]  # fmt: skip

HOLDS = [
    pytest.param(
        Reason.AFTER_A_BREAK, ready_history(sessions=sessions_until(16)),
        {"days_since_session": 14, "break_days": 14, "session_on": "2026-03-18"},
        id="fourteen days without a session",
    ),
    pytest.param(
        Reason.TOO_FEW_DAYS,
        ready_history(moves=moves((-40, Position(1, 1)), (20, Position(2, 3)))),
        {"days_at_level": 10, "days_min": 21, "level_began_on": "2026-03-22"},
        id="ten days at the level",
    ),
    # By hand: from day 16, sessions 16, 22, 28; in each gap four days free after the spacing of
    # two, so two missed, and none since day 28.
    pytest.param(
        Reason.TOO_FEW_SESSIONS,
        ready_history(
            sessions=tuple(session(number) for number in (16, 22, 28)),
            moves=moves((-40, Position(1, 1)), (16, Position(2, 3))),
        ),
        {
            "sessions_here": 3,
            "sessions_done": 3,
            "sessions_prescribed": 7,
            "percent_min": 80,
            "level_began_on": "2026-03-18",
        },
        id="three sessions of seven",
    ),
    pytest.param(
        Reason.FOLLOW_UP_MISSING, with_mornings(UNTOLD, morning(30, None)),
        {"missing": "two_day_pain", "session_on": LAST_ON}, id="two-day pain not known",
    ),
    pytest.param(
        Reason.FOLLOW_UP_MISSING, with_last(CALM, pain_after=None),
        {"missing": "pain_after", "session_on": LAST_ON}, id="pain after not known",
    ),
    pytest.param(
        Reason.CRITERION_NOT_MET, ready_history(heel_raises=(HeelRaises(day(25), Count(9)),)),
        {"heel_raises": 9, "heel_raises_min": 10}, id="nine heel raises",
    ),
    pytest.param(
        Reason.STILL_HARD, _hard(26, 28),
        {"effort": 6, "easy_effort_max": 5, "session_on": LAST_ON},
        id="the later of two hard sessions",
    ),
    pytest.param(
        Reason.MASKED_BY_PAINKILLER,
        with_sessions(CALM, *(session(number, painkiller=True) for number in (26, 28))),
        {"session_on": LAST_ON}, id="the later of two painkillers",
    ),
    pytest.param(
        Reason.RAISED_THIS_WEEK,
        ready_history(moves=(*USUAL_MOVES[:-1], Move(day(27), Position(2, 3), MovedBy.CLINICIAN))),
        {"days_since_raise": 3, "days_min": 7, "raised_on": "2026-03-29"},
        id="raised three days ago",
    ),
    pytest.param(
        Reason.SORE_BUT_SETTLED,
        with_last(CALM, pain_after=Pain(4), pain_24h=Pain(4), pain_48h=Pain(5)),
        {
            "pain_after": 4,
            "next_day_pain": 4,
            "two_day_pain": 5,
            "comfort_max": 3,
            "usual": 2.0,
            "settled_at_most": 3.0,
            "session_on": LAST_ON,
        },
        id="sore in all that followed",
    ),
    pytest.param(
        Reason.ACTIVITY_SPIKE,
        ready_history(
            activities=tuple(
                Activity(day(number), Minutes(minutes))
                for number, minutes in ((5, 80), (10, 100), (15, 60), (29, 40), (30, 150))
            )
        ),
        {"minutes": 150, "longest_before": 100, "spike_percent": 10, "activities_before": 3},
        id="half as long again as the longest walk",
    ),
    pytest.param(
        Reason.NEEDS_CLINICIAN,
        ready_history(moves=(*USUAL_MOVES, Move(day(17), Position(3, 2), MovedBy.CLINICIAN))),
        {"level": 4, "hops_allowed": "False"}, id="hops come next",
    ),
    pytest.param(
        Reason.NEEDS_CLINICIAN, ready_history(tendon=Tendon.INSERTIONAL, hops_allowed=True),
        {"level": 3, "hops_allowed": "True"}, id="a deficit comes next for an insertional tendon",
    ),
    pytest.param(
        Reason.PLACE_WAS_TOO_MUCH, ready_history(moves=(*USUAL_MOVES, *FELL)),
        {"steps_down": 1, "days_since": 10, "days_min": 14}, id="down from the next place",
    ),
    pytest.param(
        Reason.RAISED_AFTER_SORE_SESSION,
        with_mornings(SORE_YESTERDAY, morning(30, 3)),
        {
            "worst_pain": 5,
            "usual_worst_pain": 2.0,
            "next_day_pain": 3,
            "usual": 2.0,
            "session_on": "2026-03-31",
            "hold_days": 7,
        },
        id="a sore session yesterday",
    ),
    pytest.param(
        Reason.TOP_OF_THE_LADDER,
        ready_history(moves=moves((-40, Position(5, 2))), hops_allowed=True),
        {"level": 5, "dose": 2}, id="the top",
    ),
    pytest.param(
        Reason.READY,
        CALM,
        {
            "pain_during": 2,
            "pain_after": 1,
            "next_day_pain": 2,
            "two_day_pain": 2,
            "usual": 2.0,
            "session_on": LAST_ON,
        },
        id="ready",
    ),
]  # fmt: skip


@pytest.mark.parametrize(("reason", "history", "expected"), STOPS + STEP_BACKS + RESTS + HOLDS)
def test_a_reason_keeps_the_numbers_it_compared(
    reason: Reason, history: History, expected: dict[str, object]
) -> None:
    """Each number is there under its name, and no other."""
    assert dict(evidence_of(history)[reason]) == expected


def test_every_reason_has_its_numbers_checked() -> None:
    """No reason is left out of the tables above."""
    checked = {row.values[0] for row in STOPS + STEP_BACKS + RESTS + HOLDS}

    assert checked == set(Reason) - FORMER


def test_ready_keeps_what_is_not_known_as_not_known() -> None:
    """Before the first session there is nothing to keep, and an unanswered pain is None."""
    unanswered = with_last(CALM, pain_during=None, pain_48h=None)

    told = ready(with_mornings(unanswered, morning(30, None)), LADDER, TODAY)

    assert ready(ready_history(sessions=()), LADDER, TODAY) == {}
    assert (told["pain_during"], told["pain_after"], told["two_day_pain"]) == (None, 1, None)


def _backs(*days: int) -> History:
    """Step backs on some days; the last week of mornings is 4, its last day 5."""
    made = tuple(Move(day(n), Position(1, 1), MovedBy.RULES, True, day(n - 1)) for n in days)
    back = ready_history(moves=(*USUAL_MOVES[:3], *made), sessions=sessions_until(14))
    return with_mornings(back, *(morning(n, 4) for n in range(13, 30)), morning(30, 5))


def _silent(history: History) -> History:
    return with_mornings(history, *(morning(number, None, None) for number in range(24, 31)))


@pytest.mark.parametrize(
    ("history", "expected"),
    [
        pytest.param(
            with_mornings(CALM, morning(29, 10)),
            Alert(
                Tier.SAME_DAY,
                AlertKey.PAIN_VERY_HIGH,
                day(29),
                {"first_step_pain": 10, "pain_same_day": 10},
            ),
            id="ten in the morning",
        ),
        pytest.param(
            _silent(ready_history(sessions=(), activities=(), heel_raises=())),
            Alert(
                Tier.NEXT_WORKING_DAY,
                AlertKey.SILENCE,
                day(23),
                {"days_silent": 7, "silence_days": 3},
            ),
            id="a week of silence",
        ),
        # By hand: (6 x 4 + 5) / 7 = 4.142...
        pytest.param(
            _backs(18, 30),
            Alert(
                Tier.NEXT_WORKING_DAY,
                AlertKey.STEPPED_BACK_TWICE,
                day(30),
                {"step_backs": 2, "window_days": 14, "pain_mean": 4.14, "usual": 2.0},
            ),
            id="stepped back again today",
        ),
        pytest.param(
            _backs(15),
            Alert(
                Tier.NEXT_WORKING_DAY,
                AlertKey.NOT_SETTLING,
                day(15),
                {
                    "first_step_pain": 5,
                    "usual": 2.0,
                    "margin": 1,
                    "stepped_back_on": "2026-03-17",
                },
            ),
            id="not settling",
        ),
        # By hand: 86 days are 12 whole weeks.
        pytest.param(
            ready_history(
                enrolled_on=day(-56), visa_a=((day(-50), 50), (day(0), 70), (day(28), 55))
            ),
            Alert(
                Tier.NEXT_WORKING_DAY,
                AlertKey.NO_RESPONSE,
                day(28),
                {"weeks": 12, "visa_a_rise": 5, "points_min": 14},
            ),
            id="too little response",
        ),
    ],
)
def test_an_alert_keeps_the_numbers_it_compared(history: History, expected: Alert) -> None:
    """Tier, date and each number under its name."""
    found = {alert.key: alert for alert in alerts(history, LADDER, TODAY)}

    assert found[expected.key] == expected
    assert type(found[expected.key].since) is date
