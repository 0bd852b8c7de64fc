"""Quantities and histories are checked at birth; what is wrong is said in one sentence."""

from __future__ import annotations

import pytest
from decides.building import (
    day,
    morning,
    ready_history,
    session,
    with_mornings,
    with_settings,
)

from rules.errors import HistoryError, QuantityRangeError
from rules.history import Activity, Tier
from rules.quantities import Count, Effort, Minutes, Pain
from rules.usual import usual_pain


@pytest.mark.parametrize(
    ("kind", "highest", "unit"),
    [
        pytest.param(Pain, 10, "points", id="pain 0 to 10"),
        pytest.param(Effort, 10, "points", id="effort 0 to 10"),
        pytest.param(Minutes, 1440, "minutes", id="minutes up to a day"),
        pytest.param(Count, 500, "count", id="count up to 500"),
    ],
)
def test_a_quantity_keeps_to_its_range(
    kind: type[Pain | Effort | Minutes | Count], highest: int, unit: str
) -> None:
    """Both ends are included; one under and one over are refused, and so is a truth value."""
    assert (int(kind(0)), int(kind(1)), int(kind(highest))) == (0, 1, highest)
    assert repr(kind(3)) == f"{kind.__name__}(3)"
    for value in (-1, highest + 1, True):
        with pytest.raises(QuantityRangeError) as refused:
            kind(value)
        assert str(refused.value) == (
            f"{kind.__name__} takes a whole number from 0 to {highest} {unit}; found {value!r}"
        )


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        pytest.param(
            {"moves": ()},
            "a history has at least one move, the enrolment; found none",
            id="no move",
        ),
        pytest.param(
            {"mornings": (morning(2), morning(1))},
            "mornings are sorted by date, oldest first, one a date;"
            " found 2026-03-03 after 2026-03-04",
            id="mornings out of order",
        ),
        pytest.param(
            {"sessions": (session(2), session(2))},
            "sessions are sorted by date, oldest first, one a date;"
            " found 2026-03-04 after 2026-03-04",
            id="two sessions on a date",
        ),
        pytest.param(
            {"rest_days": (day(2), day(1))},
            "rest_days are sorted by date, oldest first; found 2026-03-03 after 2026-03-04",
            id="rest days out of order",
        ),
    ],
)
def test_a_history_out_of_order_says_where(changes: dict[str, object], message: str) -> None:
    """The sentence names what is out of order and the two dates."""
    with pytest.raises(HistoryError) as refused:
        ready_history(**changes)

    assert str(refused.value) == message


@pytest.mark.parametrize(
    "changes",
    [
        pytest.param({"activities": (Activity(day(2), Minutes(5)),) * 2}, id="two activities"),
        pytest.param({"rest_days": (day(2), day(2))}, id="a rest day twice"),
    ],
)
def test_these_may_come_twice_on_a_date(changes: dict[str, object]) -> None:
    """Only mornings and sessions are one a date."""
    history = ready_history(**changes)

    assert all(getattr(history, name) == value for name, value in changes.items())


def test_tiers_rank_by_urgency() -> None:
    """An emergency comes first, then the same day, then the next working day."""
    ranked = sorted(Tier, key=lambda tier: tier.urgency)

    assert ranked == [Tier.EMERGENCY, Tier.SAME_DAY, Tier.NEXT_WORKING_DAY]


def test_what_is_remembered_of_a_history_is_that_historys_under_that_protocol() -> None:
    """Asked twice, of one changed by a morning, and under a longer window: each its own usual."""
    history = ready_history(mornings=tuple(morning(n, 2 if n < 8 else 6) for n in range(1, 15)))
    changed = with_mornings(history, morning(14, 2))
    short, long = with_settings(usual_window_days=7), with_settings(usual_window_days=13)

    found = [
        usual_pain(one, protocol, day(14))
        for one, protocol in [(history, short), (history, long), (history, short), (changed, long)]
    ]

    assert found == [6.0, 6.0, 6.0, 2.0]
    assert usual_pain(history, with_settings(usual_window_days=14), day(14)) == 4.0
