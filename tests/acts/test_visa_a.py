"""The VISA-A sheet through the real bot: asked every four weeks, kept, and raised where it stands
still for twelve weeks.

Patients are enrolled on Monday 2 March 2026, and weekly questions come on Sundays: the sheet falls
on 8 March, 5 April, 3 May and 31 May, in weeks 0, 4, 8 and 12.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from world import Voice, World, world_at

from bot.rehearsal.clinic import made_up_clinic
from bot.settings import read_settings

ALL = "7 6 7 7 6 5 4 10"  # 52 by hand
FIRST_SHEET = date(2026, 3, 8)
SHEET = "VISA-A sheet"


def evening_of(day: date) -> datetime:
    """A minute after the evening prompt of a day; London's summer time begins on 29 March 2026."""
    summer = day >= date(2026, 3, 29)
    return datetime(day.year, day.month, day.day, 18 if summer else 19, 1, tzinfo=UTC)


async def reports(patient: Voice, *, heel_raises: int = 10, other: int = 20) -> list[str]:
    """What comes before the sheet of an evening: the session, and the heel raises of both legs."""
    for text in ("3 2 1 4", "no 0"):
        said = await patient.says(text)
    if "VISA-A" in said[-1]:
        return said
    await patient.says(f"{heel_raises}")
    return await patient.says(f"{other}")


async def totals(world: World, patient: Voice) -> dict[date, int]:
    """The sum of the points that stand, by date, for days with all eight."""
    kept = await world.answers(patient)
    days = {about for question, about in kept if question.startswith("visa-a-")}
    points = {on: [v for (q, a), v in kept.items() if a == on and "visa" in q] for on in days}
    return {on: sum(map(int, found)) for on, found in points.items() if len(found) == 8}


async def test_it_is_asked_in_the_first_week_and_every_fourth(world: World) -> None:
    """Of nine Sundays it is asked on the first, the fifth and the ninth."""
    patient = await world.patient()
    asked = []

    for week in range(9):
        sunday = FIRST_SHEET + timedelta(weeks=week)
        await world.goes_to(evening_of(sunday))
        if any(SHEET in text for text in await reports(patient)):
            asked.append(sunday)
            await patient.says(ALL)

    assert asked == [date(2026, 3, 8), date(2026, 4, 5), date(2026, 5, 3)]
    assert await totals(world, patient) == dict.fromkeys(asked, 52)


async def test_no_day_has_a_third_prompt_for_it(world: World) -> None:
    """The sheet rides with the evening: two prompts on its day, as on any other."""
    await world.patient()

    await world.goes_to(evening_of(FIRST_SHEET) + timedelta(hours=5))

    rows = await world.rows("SELECT kind FROM prompts WHERE on_date = '2026-03-08' ORDER BY due_at")
    kinds = [row["kind"] for row in rows if not row["kind"].endswith("-reminder")]
    assert kinds == ["morning", "evening"]


async def test_the_patient_hears_the_total_and_later_the_change(world: World) -> None:
    """52 at first, 56 four weeks on: the two numbers, and no figure to judge them by."""
    patient = await world.patient()
    await world.goes_to(evening_of(FIRST_SHEET))
    await reports(patient)
    first = await patient.says(ALL)
    await world.goes_to(evening_of(date(2026, 4, 5)))
    await reports(patient)

    second = await patient.says("7 6 7 7 6 5 4 14")

    assert first == ["Thank you. Your total is 52 of 100. 100 means no trouble at all."]
    assert second == [
        "Thank you. Your total is 56 of 100. That is 4 more than on Sunday 8 March."
        " 100 means no trouble at all."
    ]


async def test_a_correction_stands_beside_what_it_corrects(world: World) -> None:
    """Append-only: the old points stay on record, the new ones count, the total is told anew."""
    patient = await world.patient()
    await world.goes_to(evening_of(FIRST_SHEET))
    await reports(patient)
    await patient.says(ALL)

    said = await patient.says("item 3 should be 9")

    assert said[0] == "Changed: item 3 is now 9."
    assert said[1].startswith("Thank you. Your total is 54 of 100.")
    rows = await world.rows("SELECT value, corrects FROM answers WHERE question = 'visa-a-3'")
    assert [row["value"] for row in rows] == ["7", "9"]
    assert [row["corrects"] is not None for row in rows] == [False, True]
    assert await totals(world, patient) == {FIRST_SHEET: 54}


async def test_points_sent_before_a_stop_are_not_lost(tmp_path: Path) -> None:
    """Five items now, three the next morning: all belong to the sheet of Sunday."""
    # Enrolled on that Sunday: no earlier session can be what the numbers are about.
    world = world_at(tmp_path / "parts.sqlite", datetime(2026, 3, 8, 9, 0, tzinfo=UTC))
    async with world.stage:
        patient = await world.patient()
        await world.goes_to(evening_of(FIRST_SHEET))
        await reports(patient)
        await patient.says("7 6 7 7 6")
        await world.at("10:00")
        await patient.says("3 10")

        said = await patient.says("5 4 10")

        assert any("sheet of yesterday" in text for text in said)
        assert await totals(world, patient) == {FIRST_SHEET: 52}


async def test_without_a_sheet_the_next_is_in_four_weeks(world: World) -> None:
    """No reminder, no question on the days between; the clinic sees the words."""
    patient = await world.patient()
    await world.goes_to(evening_of(FIRST_SHEET))
    await reports(patient)

    said = await patient.says("I have no sheet")
    await world.goes_to(evening_of(date(2026, 4, 4)) + timedelta(hours=3))

    assert any("you need the sheet" in text for text in said)
    assert [text for text in patient.hears() if "sheet" in text] == []
    unread = await world.rows("SELECT text FROM inbox WHERE outcome = 'unread'")
    assert [row["text"] for row in unread] == ["I have no sheet"]
    await world.goes_to(evening_of(date(2026, 4, 5)))
    assert any(SHEET in text for text in await reports(patient))


async def test_a_clinic_can_do_without(tmp_path: Path) -> None:
    """With the setting off nobody is asked."""
    world = world_at(tmp_path / "off.sqlite", clinic=replace(made_up_clinic(), visa_a=False))
    async with world.stage:
        patient = await world.patient()
        await world.goes_to(evening_of(FIRST_SHEET))

        said = await reports(patient)

        assert not any("sheet" in text for text in said)


@pytest.mark.parametrize(("line", "asked"), [("", True), ("visa_a = false", False)])
def test_the_setting_is_on_unless_it_is_turned_off(tmp_path: Path, line: str, asked: bool) -> None:
    """`visa_a` stands under [prompts]."""
    example = Path(__file__).parents[2] / "deploy" / "clinic.example.toml"
    text = example.read_text(encoding="utf-8")
    file = tmp_path / "clinic.toml"
    lines = [line if one.startswith("visa_a") else one for one in text.splitlines()]
    file.write_text("\n".join(lines), encoding="utf-8")

    assert read_settings(file).prompts.visa_a is asked


async def test_a_clinician_enters_one_and_the_patient_is_not_asked_again(world: World) -> None:
    """Entered on Monday, before the patient has even answered the first questions: no question on
    Sunday, and nothing kept of a wrong one."""
    clinician = await world.clinician("Ilse")
    patient, code = await world.invited("Ana")

    wrong = await clinician.says("visa Ana 7 6 7 7 6 5 5 10")
    right = await clinician.says(f"visa Ana {ALL}")
    for text in (f"/start {code}", "yes", "London", "yes", "07:30", "left", "2", "10", "skip"):
        await patient.says(text)
    await world.goes_to(evening_of(FIRST_SHEET))

    assert wrong[0].startswith("On the sheet item 7 is one of 0, 4, 7, 10. Nothing was kept.")
    assert right == ["Ana: VISA-A 52 of 100, kept."]
    assert await totals(world, patient) == {date(2026, 3, 2): 52}
    assert not any(SHEET in text for text in await reports(patient))
    rows = await world.rows("SELECT action FROM audit WHERE action = 'EnterSheet'")
    assert len(rows) == 1


async def test_a_patient_cannot_enter_one_by_command(world: World) -> None:
    """The clinician's command from a patient's phone is a patient's words."""
    patient = await world.patient()

    await patient.says(f"visa Ana {ALL}")

    assert await totals(world, patient) == {}


@pytest.mark.parametrize(
    ("last", "raised"),
    [
        pytest.param("7 6 7 7 6 9 4 20", False, id="14 points in 12 weeks"),
        pytest.param("7 6 7 7 6 8 4 20", True, id="13 points in 12 weeks"),
    ],
)
async def test_twelve_weeks_with_little_change_reach_the_clinician(
    world: World, last: str, raised: bool
) -> None:
    """52 at first, 52 in weeks 4 and 8. 65 in week 12 is under the published change and is raised
    once; 66 is not."""
    clinician = await world.clinician("Ilse")
    patient = await world.patient()
    sheets = ((FIRST_SHEET, ALL), (date(2026, 4, 5), ALL), (date(2026, 5, 3), ALL))
    for day, points in (*sheets, (date(2026, 5, 31), last)):
        await world.goes_to(evening_of(day))
        await reports(patient)
        before = [one.sign for one in await world.escalations(patient)]
        await patient.says(points)

    await world.at("10:00", days=1)

    signs = [one.sign for one in await world.escalations(patient)]
    assert "no-response" not in before
    assert signs.count("no-response") == int(raised)
    told = [text for text in clinician.hears() if "VISA-A up by 13 points (under 14)" in text]
    assert bool(told) is raised
