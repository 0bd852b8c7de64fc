"""Where a ladder may begin, by what a patient says they can do. The rule is ours; ten single-leg
raises mark the end of the first phase of a published programme (Silbernagel 2020, J Athl Train)."""

from __future__ import annotations

from dataclasses import replace

import pytest
from decides.building import TODAY, day

from rules.alerts import AlertKey, alerts
from rules.first_level import asks_ability, first_level, first_place
from rules.history import Ability, History, Move, MovedBy
from rules.protocol import Position, Tendon
from rules.protocol_reader import SHIPPED, shipped_protocol
from rules.quantities import Count, Minutes, Pain

MID, INSERTIONAL, HEAVY = (shipped_protocol(name) for name in SHIPPED)


def enrolled(tendon: Tendon = Tendon.MID_PORTION, usual: int = 2, level: int = 1) -> History:
    """A patient who enrolled on day 30."""
    begins = Move(TODAY, Position(level, 1), MovedBy.ENROLMENT)
    return History(tendon, TODAY, Pain(usual), Minutes(10), (begins,))


def can(on_both: bool, on_one: bool | None = None, in_a_row: int | None = None) -> Ability:
    """What they say on that day."""
    return Ability(TODAY, on_both, on_one, None if in_a_row is None else Count(in_a_row))


@pytest.mark.parametrize(
    ("says", "usual", "level"),
    [
        pytest.param(can(False), 2, 1, id="cannot rise on both: holds"),
        pytest.param(can(True, False), 2, 3, id="ten on both, none on one"),
        pytest.param(can(True), 2, 3, id="ten on both, the rest skipped"),
        pytest.param(can(True, True), 2, 3, id="on one, how often skipped"),
        pytest.param(can(True, True, 4), 2, 3, id="four in a row"),
        pytest.param(can(True, True, 5), 2, 4, id="five in a row"),
        pytest.param(can(True, True, 9), 2, 4, id="nine in a row"),
        pytest.param(can(True, True, 10), 2, 5, id="ten in a row"),
        pytest.param(can(True, True, 40), 2, 5, id="forty: never on a step, nor hops"),
        pytest.param(can(True, True, 40), 3, 5, id="usual at comfortable"),
        pytest.param(can(True, True, 40), 4, 3, id="usual over comfortable: both feet"),
        pytest.param(can(True, True, 40), 5, 1, id="usual over the limit: holds"),
    ],
)
def test_the_level_that_fits_what_they_can_do(says: Ability, usual: int, level: int) -> None:
    """The same on both ladders of heel raises."""
    places = [
        first_place(enrolled(tendon, usual), ladder, says)
        for ladder, tendon in ((MID, Tendon.MID_PORTION), (INSERTIONAL, Tendon.INSERTIONAL))
    ]

    assert places == [Position(level, 1)] * 2


def test_heavy_loading_begins_at_its_first_stage() -> None:
    """Its weight fits everybody (Beyer 2015 begins all at 15RM), so nothing is asked."""
    assert [asks_ability(one) for one in (MID, INSERTIONAL, HEAVY)] == [True, True, False]
    assert first_place(enrolled(), HEAVY, can(True, True, 40)) == Position(1, 1)


@pytest.mark.parametrize(
    ("history", "today", "level"),
    [
        pytest.param(replace(enrolled(), ability=can(True, True, 12)), 30, 5, id="told at once"),
        pytest.param(replace(enrolled(), ability=can(True, False)), 30, 3, id="nothing left"),
        pytest.param(replace(enrolled(), ability=can(True, True)), 30, None, id="still answering"),
        pytest.param(replace(enrolled(), ability=can(True, True)), 31, 3, id="no more came"),
        pytest.param(replace(enrolled(), ability=can(False)), 30, None, id="begins there anyway"),
        pytest.param(enrolled(), 31, None, id="nothing said"),
        pytest.param(replace(enrolled(level=5), ability=can(True, True, 12)), 31, None, id="there"),
        pytest.param(
            replace(
                enrolled(),
                ability=can(True, True, 12),
                moves=(
                    *enrolled().moves,
                    Move(TODAY, Position(2, 1), MovedBy.CLINICIAN),
                ),
            ),
            31,
            None,
            id="a clinician has set a level",
        ),
    ],
)
def test_a_clinician_hears_of_a_level_that_fits(
    history: History, today: int, level: int | None
) -> None:
    """Only of a higher one than the patient stands at, once the answers are whole."""
    found = first_level(history, MID, day(today))
    told = [one for one in alerts(history, MID, day(today)) if one.key is AlertKey.FIRST_LEVEL]

    assert (None if found is None else found[1]["begins_at"]) == level
    assert len(told) == (level is not None)
