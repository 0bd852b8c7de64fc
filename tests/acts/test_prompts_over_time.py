"""Prompts over changes of clocks, moves to another zone, and days off: the right ones, once.

Expected instants are worked out from the rules of the IANA time zone database, named in each row:
the file, the rule, and the offset in force. Checked against no other clock.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from world import Voice, World, world_at

from bot.scheduler import scheduler_for
from bot.store import people

MORNING = "Good morning"


def sent_at(world: World, voice: Voice, opening: str = MORNING) -> list[str]:
    """When the bot said something that begins so, as UTC text to the minute."""
    return [
        f"{line.at:%Y-%m-%d %H:%M}"
        for line in world.lines
        if line.from_bot and line.address == voice.address and line.text.startswith(opening)
    ]


@pytest.mark.parametrize(
    ("city", "zone", "start", "morning", "expected"),
    [
        pytest.param(
            "New York",
            "America/New_York",
            datetime(2026, 3, 6, 14, 0, tzinfo=UTC),
            "7:30",
            ["2026-03-07 12:30", "2026-03-08 11:30", "2026-03-09 11:30"],
            # IANA, northamerica, Rule US 2007 max Mar Sun>=8 2:00: EST -5 before, EDT -4 after.
            id="New York, clocks go forward on 8 March 2026",
        ),
        pytest.param(
            "New York",
            "America/New_York",
            datetime(2026, 10, 30, 14, 0, tzinfo=UTC),
            "7:30",
            ["2026-10-31 11:30", "2026-11-01 12:30", "2026-11-02 12:30"],
            # IANA, northamerica, Rule US 2007 max Nov Sun>=1 2:00: EDT -4 before, EST -5 after.
            id="New York, clocks go back on 1 November 2026",
        ),
        pytest.param(
            "Berlin",
            "Europe/Berlin",
            datetime(2026, 3, 27, 14, 0, tzinfo=UTC),
            "7:00",
            ["2026-03-28 06:00", "2026-03-29 05:00", "2026-03-30 05:00"],
            # IANA, europe, Rule EU 1981 max Mar lastSun 1:00u: CET +1 before, CEST +2 after.
            id="Berlin, clocks go forward on 29 March 2026",
        ),
        pytest.param(
            "Berlin",
            "Europe/Berlin",
            datetime(2026, 10, 23, 14, 0, tzinfo=UTC),
            "7:00",
            ["2026-10-24 05:00", "2026-10-25 06:00", "2026-10-26 06:00"],
            # IANA, europe, Rule EU 1996 max Oct lastSun 1:00u: CEST +2 before, CET +1 after.
            id="Berlin, clocks go back on 25 October 2026",
        ),
        pytest.param(
            "Sydney",
            "Australia/Sydney",
            datetime(2026, 4, 3, 3, 0, tzinfo=UTC),
            "7:30",
            ["2026-04-03 20:30", "2026-04-04 21:30", "2026-04-05 21:30"],
            # IANA, australasia, Rule AN 2008 max Apr Sun>=1 2:00s: AEDT +11, then AEST +10.
            id="Sydney, clocks go back on 5 April 2026",
        ),
        pytest.param(
            "Kathmandu",
            "Asia/Kathmandu",
            datetime(2026, 3, 27, 4, 0, tzinfo=UTC),
            "7:30",
            ["2026-03-28 01:45", "2026-03-29 01:45", "2026-03-30 01:45"],
            # IANA, asia, Zone Asia/Kathmandu 5:45 since 1986: no change of clocks.
            id="Kathmandu, a quarter-hour zone without changes",
        ),
    ],
)
async def test_mornings_keep_the_wall_clock_over_a_change_of_clocks(
    tmp_path: Path, city: str, zone: str, start: datetime, morning: str, expected: list[str]
) -> None:
    """One prompt a local day, at the same local time, whatever the offset."""
    world = world_at(tmp_path / "zones.sqlite", start)
    async with world.stage:
        patient = await world.patient(city=city, morning=morning)
        world.lines.clear()

        await world.goes_to(start + timedelta(days=3))

        assert sent_at(world, patient) == expected
        row = (await world.rows("SELECT zone FROM people WHERE name = 'Ana'"))[0]
        here, there = ZoneInfo(row["zone"]), ZoneInfo(zone)  # a zone may have an older name too
        assert start.astimezone(here).utcoffset() == start.astimezone(there).utcoffset()


async def test_a_move_west_gives_one_morning_on_each_local_date(world: World) -> None:
    """London to New York: the next morning comes at the new zone's time, and none twice."""
    patient = await world.patient(morning="7:30")
    world.lines.clear()
    await world.at("20:00")

    await world.stage.run(move_to, "ana", "America/New_York")
    await world.stage.app.plan_ahead()
    await world.at("23:00", days=2)

    # IANA, northamerica, EST -5 until 8 March 2026: 07:30 there is 12:30 UTC.
    assert sent_at(world, patient) == ["2026-03-03 12:30", "2026-03-04 12:30"]


async def test_a_move_east_asks_late_rather_than_not_at_all(world: World) -> None:
    """London to Kathmandu at ten in the evening: it is tomorrow there, and morning soon."""
    patient = await world.patient(morning="7:30")
    world.lines.clear()
    await world.at("20:00")

    await world.stage.run(move_to, "ana", "Asia/Kathmandu")
    await world.stage.app.plan_ahead()
    await world.at("23:00", days=2)

    # IANA, asia, Asia/Kathmandu +5:45: 07:30 there is 01:45 UTC.
    assert sent_at(world, patient) == ["2026-03-03 01:45", "2026-03-04 01:45"]


def move_to(store, address: str, zone: str) -> None:
    """The patient lives by another zone from now on."""
    person = people.by_address(store, "chat", address)
    people.set_zone(store, person.id, zone)


async def test_after_a_day_off_what_still_matters_is_sent_and_the_rest_is_dropped(
    world: World,
) -> None:
    """Down from Monday noon to Wednesday nine: Tuesday's prompts are dropped, Wednesday's goes."""
    patient = await world.patient(morning="7:30")
    await patient.says("2 10")
    world.lines.clear()

    world.stage.clock.move_to(datetime(2026, 3, 4, 9, 0, tzinfo=UTC))
    await world.stage.app.plan_ahead()
    await world.stage.settle()

    assert sent_at(world, patient) == ["2026-03-04 09:00"]
    dropped = await world.rows(
        "SELECT kind, on_date, dropped_why FROM prompts WHERE dropped_at IS NOT NULL"
    )
    assert {(row["kind"], row["on_date"]) for row in dropped} == {
        ("morning-reminder", "2026-03-02"),
        ("evening", "2026-03-02"),
        ("morning", "2026-03-03"),
    }
    assert {row["dropped_why"] for row in dropped} == {"too late"}


async def test_a_morning_prompt_is_never_sent_at_night(world: World) -> None:
    """Down until eleven in the evening: no good morning then."""
    patient = await world.patient(morning="7:30")
    world.lines.clear()

    world.stage.clock.move_to(datetime(2026, 3, 3, 23, 0, tzinfo=UTC))
    await world.stage.settle()

    assert [line.text for line in world.lines if line.address == patient.address] == []


async def test_two_ticks_at_the_same_instant_send_once(world: World) -> None:
    """A second pass, a second process, a restart: the unique key makes it once."""
    patient = await world.patient(morning="7:30")
    world.lines.clear()
    world.stage.clock.move_to(datetime(2026, 3, 3, 7, 30, tzinfo=UTC))

    for _ in range(3):
        await world.stage.app.plan_ahead()
        await world.stage.app.tick()
    await world.stage.settle()

    assert len(sent_at(world, patient)) == 1


async def test_no_patient_gets_more_than_two_prompts_and_their_reminders_a_day(
    world: World,
) -> None:
    """Three weeks in silence: per local day at most two prompts, one reminder each."""
    await world.clinician("Ilse")
    await world.patient(morning="7:30")
    await world.at("23:00", days=20)

    rows = await world.rows(
        "SELECT on_date, sum(kind LIKE '%reminder') AS reminders, count(*) AS n FROM prompts"
        " WHERE written_at IS NOT NULL GROUP BY on_date"
    )

    assert len(rows) >= 20
    assert max(row["n"] - row["reminders"] for row in rows) <= 2
    assert max(row["reminders"] for row in rows) <= 2


async def test_quiet_hours_hold_for_the_patients_own_clock(world: World) -> None:
    """No prompt between 21:30 and 07:00 where the patient is."""
    patient = await world.patient(city="Tokyo", morning="7:30")
    world.lines.clear()
    await world.at("23:00", days=3)

    # IANA, asia, Asia/Tokyo +9: 07:30 is 22:30 UTC the day before, 19:00 is 10:00 UTC.
    hours = {
        (line.at + timedelta(hours=9)).time()
        for line in world.lines
        if line.address == patient.address
    }
    assert min(hours).hour >= 7
    assert max(hours).hour < 22


async def test_the_scheduler_has_one_interval_job_and_no_job_for_a_patient(world: World) -> None:
    """However many patients: a tick, an hourly look ahead, a daily watch."""
    for name in ("Ana", "Bea", "Cleo"):
        await world.patient(name)

    jobs = {job.id: str(job.trigger) for job in scheduler_for(world.stage.app).get_jobs()}

    assert set(jobs) == {"tick", "plan ahead", "watch", "digest"}
    assert "0:00:02" in jobs["tick"]
