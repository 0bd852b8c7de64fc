"""Where the 24-hour answer can decide something, and what stands for it where it is not asked.

Worked by hand. The session is that of day 28, at level 2, dose 3, as those before it; sessions
before the patient came to that place hurt 2 at worst.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from decides.building import (
    LADDER,
    day,
    morning,
    ready_history,
    session,
    with_last,
    with_mornings,
    with_sessions,
)

from rules.advice import advise
from rules.follow_up import next_day_decides
from rules.history import History
from rules.protocol import Position
from rules.quantities import Pain

PLAIN = ready_history()


@pytest.mark.parametrize(
    ("history", "today", "decides"),
    [
        pytest.param(PLAIN, 29, False, id="as the one before, and no sorer"),
        pytest.param(with_last(PLAIN, pain_during=Pain(3)), 29, True, id="a point over usual"),
        pytest.param(with_last(PLAIN, pain_after=Pain(3)), 29, True, id="a point over, after it"),
        pytest.param(
            with_last(PLAIN, pain_during=None, pain_after=None), 29, True, id="its pain not known"
        ),
        pytest.param(
            with_sessions(PLAIN, session(28, Position(2, 2))), 29, True, id="at another dose"
        ),
        pytest.param(
            with_sessions(PLAIN, session(26, Position(2, 2)), session(28, Position(2, 2))),
            29,
            False,
            id="the second at another dose",
        ),
        pytest.param(replace(PLAIN, sessions=PLAIN.sessions[:1]), 1, True, id="the first ever"),
        pytest.param(PLAIN, 30, False, id="two days after"),
        pytest.param(replace(PLAIN, sessions=()), 29, False, id="no session"),
    ],
)
def test_it_decides_after_what_is_new_or_was_sore(
    history: History, today: int, decides: bool
) -> None:
    """On the day after the session alone."""
    assert next_day_decides(history, LADDER, day(today)) is decides


@pytest.mark.parametrize("pain", [2, 3, 4, 6, 9])
def test_the_next_morning_stands_for_it(pain: int) -> None:
    """Not asked, and answered as the morning was: the same advice, for the same reason."""
    woken = with_mornings(PLAIN, morning(29, pain), morning(30, pain))
    asked = with_last(woken, pain_24h=Pain(pain), pain_48h=Pain(pain))

    found = advise(with_last(asked, pain_24h=None), LADDER, day(30))

    known = advise(asked, LADDER, day(30))
    assert (found.action, found.reason, found.position) == (
        known.action, known.reason, known.position
    )  # fmt: skip
