"""Values of the shipped protocols against what their sources print.

The right-hand side is typed from the source, never from the protocol file.
"""

from __future__ import annotations

import pytest

from rules.protocol import PAIN_CEILING, DoseUnit
from rules.protocol_keys import HEAVY_SPACING_HOURS_MIN
from rules.protocol_reader import SHIPPED, shipped_protocol
from rules.sources import SOURCES, HowKnown

# beyer-2015, table of the programme: sets, repetition maximum, weeks at the stage.
# Weeks 1, 2-3, 4-5, 6-8, 9-12.
BEYER_STAGES = [(3, 15, 1), (3, 12, 2), (4, 10, 2), (4, 8, 3), (4, 6, 4)]


def test_heavy_slow_resistance_follows_its_table() -> None:
    """Sets, repetitions and weeks of all five stages, weeks 6 to 8 among them (beyer-2015)."""
    levels = shipped_protocol("heavy-slow").levels

    stages = [(one.doses[0].sets, one.doses[0].amount, one.days_min / 7) for one in levels]

    assert stages == BEYER_STAGES
    assert sum(one.days_min for one in levels) == 12 * 7


def test_heavy_sessions_are_every_other_day_at_three_seconds_each_way() -> None:
    """Three sessions a week on every other day, three seconds up and three down (beyer-2015)."""
    levels = shipped_protocol("heavy-slow").levels

    assert {(one.spacing_days, one.tempo) for one in levels} == {
        (2, "3 seconds up, 3 seconds down")
    }
    assert HEAVY_SPACING_HOURS_MIN == 48


@pytest.mark.parametrize("name", SHIPPED)
@pytest.mark.parametrize(
    ("setting", "value"),
    [
        pytest.param("spike_percent", 10, id="frandsen-2025: more than 10 percent longer"),
        pytest.param("spike_window_days", 30, id="frandsen-2025: the longest of 30 days"),
        pytest.param("response_weeks", 12, id="lagas-2021: at 12 weeks"),
        pytest.param("response_points_min", 14, id="lagas-2021: 14 points"),
        pytest.param("raise_days_min", 7, id="beyer-2015: weight raised once a week at most"),
        pytest.param("above_usual_margin", 2, id="smith-2019: two points over baseline"),
        pytest.param("comfort_max", 3, id="breda-2021: at most 3, from memory"),
        pytest.param("pain_limit", 4, id="common practice, under the ceiling of silbernagel-2007"),
    ],
)
def test_a_setting_is_what_its_source_prints(name: str, setting: str, value: int) -> None:
    """A shipped setting that names a source has the printed value."""
    assert getattr(shipped_protocol(name).settings, setting) == value


def test_the_ceiling_of_pain_is_five() -> None:
    """Pain may reach 5 of 10 during and after a session and no more (silbernagel-2007)."""
    assert PAIN_CEILING == 5


def test_ten_single_leg_raises_lead_out_of_raises_on_two_legs() -> None:
    """Ten single-leg heel raises mark the end of the first phase (silbernagel-2020)."""
    for name in ("mid-portion-ladder", "insertional-ladder"):
        levels = shipped_protocol(name).levels
        before = next(one for one in levels if one.heel_raises_min is not None)

        assert (before.name, before.heel_raises_min) == ("two up, one down", 10)


@pytest.mark.parametrize(
    ("name", "index", "doses"),
    [
        pytest.param("mid-portion-ladder", 1, ["3x40", "3x50", "3x60", "4x60"], id="hold"),
        pytest.param("mid-portion-ladder", 2, ["3x10", "3x12", "3x15"], id="raises"),
        pytest.param("insertional-ladder", 2, ["3x10", "3x12", "3x15"], id="insertional raises"),
    ],
)
def test_doses_climb_as_is_common_practice(name: str, index: int, doses: list[str]) -> None:
    """Holds of 40 to 60 seconds in 3 to 4 rounds, raises of 3 sets of 10 to 15."""
    held = shipped_protocol(name).levels[index].doses

    assert [f"{one.sets}x{one.amount}" for one in held] == doses


def test_hops_last_twenty_seconds_and_come_twice_a_week() -> None:
    """Hops are 20 seconds a set, and three days lie between sessions: common practice."""
    for name in ("mid-portion-ladder", "insertional-ladder"):
        hops = [one for one in shipped_protocol(name).levels if one.hops]

        assert [one.spacing_days for one in hops] == [3, 3]
        assert {(d.amount, d.unit) for one in hops for d in one.doses} == {(20, DoseUnit.SECONDS)}


def test_what_was_not_seen_says_so() -> None:
    """Sources that were recalled and not seen are marked."""
    recalled = {key for key, one in SOURCES.items() if one.how_known is HowKnown.FROM_MEMORY}

    assert recalled >= {"breda-2021", "cook-purdam-2014", "silbernagel-crossley-2015"}
    assert not any(one.how_known is HowKnown.READ for one in SOURCES.values())
