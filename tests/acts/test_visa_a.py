"""The VISA-A sheet through the real bot: two items a morning every four weeks, kept, and raised
where it stands still for twelve weeks.

Patients are enrolled on Monday 2 March 2026: the sheets begin on 3 March, 31 March, 28 April and
26 May, and are whole on the fourth morning.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from world import Voice, World, world_at

from bot.patient_record.readings import by_date, visa_a_totals
from bot.rehearsal.clinic import made_up_clinic
from bot.settings import read_settings
from bot.store import answers

ALL = "7 6 7 7 6 5 4 10"  # 52 by hand
FIRST_SHEET = date(2026, 3, 3)
DAY = timedelta(days=1)
ITEMS = "VISA-A sheet items"


def morning_of(day: date) -> datetime:
    """A minute after the morning prompt of a day; London's summer time begins on 29 March 2026."""
    summer = day >= date(2026, 3, 29)
    return datetime(day.year, day.month, day.day, 6 if summer else 7, 31, tzinfo=UTC)


async def sheet(world: World, patient: Voice, began: date, points: str = ALL) -> list[str]:
    """Answer a sheet, two items a morning; what was said to the last of them."""
    each = points.split()
    for ago in range(4):
        await world.goes_to(morning_of(began + ago * DAY))
        said = await patient.says(f"2 10 {each[2 * ago]} {each[2 * ago + 1]}")
    return said


async def totals(world: World, patient: Voice) -> dict[date, int]:
    """The totals of the whole sheets, by the date of their last item."""
    episode = await world.episode(patient)
    return await world.stage.run(
        lambda store: dict(visa_a_totals(by_date(answers.standing(store, episode.id))))
    )


async def test_two_items_a_morning_and_the_total_and_later_the_change(world: World) -> None:
    """52 at first, 56 four weeks on: the two numbers, and no figure to judge them by."""
    patient = await world.patient()
    await patient.says("2 10")
    first = await sheet(world, patient, FIRST_SHEET)
    await world.goes_to(morning_of(date(2026, 3, 9)))
    after = patient.hears()
    second = await sheet(world, patient, date(2026, 3, 31), "7 6 7 7 6 5 4 14")

    assert "Thank you. Your total is 52 of 100. 100 means no trouble at all." in first
    assert not any("VISA" in text for text in after)
    assert (
        "Thank you. Your total is 56 of 100. That is 4 more than on Friday 6 March."
        " 100 means no trouble at all."
    ) in second
    assert await totals(world, patient) == {date(2026, 3, 6): 52, date(2026, 4, 3): 56}


async def test_no_day_has_a_prompt_for_it(world: World) -> None:
    """It rides with the morning, behind the questions that decide."""
    patient = await world.patient()
    patient.hears()

    await world.goes_to(morning_of(FIRST_SHEET))

    (said,) = [text for text in patient.hears() if ITEMS in text]
    assert said.startswith("Good morning Ana. 1) First-step pain, 0-10? 2) Stiff for how many")
    assert "3) Points of VISA-A sheet items 1, 2? Reply like: 3 10 7 6" in said


async def test_an_item_that_was_left_out_comes_with_the_next(world: World) -> None:
    """A missed morning loses no point, and the total waits for all eight."""
    patient = await world.patient()
    await world.goes_to(morning_of(FIRST_SHEET))
    await patient.says("2 10 7 6")
    await world.goes_to(morning_of(FIRST_SHEET + 2 * DAY))

    said = patient.hears()
    await patient.says("2 10 7 7")

    assert "3) Points of VISA-A sheet items 3, 4? Reply like: 3 10 7 7" in said[-1]
    kept = await world.answers(patient)
    assert [kept[f"visa-a-{item}", FIRST_SHEET + 2 * DAY] for item in (3, 4)] == [7, 7]


async def test_a_correction_stands_beside_what_it_corrects(world: World) -> None:
    """Append-only: the old points stay on record, the new ones count, the total is told anew."""
    patient = await world.patient()
    await sheet(world, patient, FIRST_SHEET)

    said = await patient.says("item 8 should be 14")

    assert said[0] == "Changed: item 8 is now 14."
    assert said[1].startswith("Thank you. Your total is 56 of 100.")
    rows = await world.rows("SELECT value, corrects FROM answers WHERE question = 'visa-a-8'")
    assert [row["value"] for row in rows] == ["10", "14"]
    assert [row["corrects"] is not None for row in rows] == [False, True]


@pytest.mark.parametrize("words", ["I have no sheet", "skip"])
async def test_without_a_sheet_the_next_is_in_four_weeks(world: World, words: str) -> None:
    """It is asked once, and on none of the days between; words reach the clinic."""
    patient = await world.patient()
    await world.goes_to(morning_of(FIRST_SHEET))
    await patient.says("2 10")

    said = await patient.says(words)
    await world.goes_to(morning_of(date(2026, 3, 30)))

    assert any("sheet" in text or "skip" in text for text in said)
    assert [text for text in patient.hears() if "VISA" in text] == []
    await world.goes_to(morning_of(date(2026, 3, 31)))
    assert any(ITEMS in text for text in patient.hears())
    unread = await world.rows("SELECT text FROM inbox WHERE outcome = 'unread'")
    assert [row["text"] for row in unread] == ["I have no sheet"] * (words != "skip")


async def test_a_clinic_can_do_without(tmp_path: Path) -> None:
    """With the setting off nobody is asked."""
    world = world_at(tmp_path / "off.sqlite", clinic=replace(made_up_clinic(), visa_a=False))
    async with world.stage:
        patient = await world.patient()
        await world.goes_to(morning_of(FIRST_SHEET))

        assert not any("sheet" in text for text in patient.hears())


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
    Tuesday, and nothing kept of a wrong one."""
    clinician = await world.clinician("Ilse")
    patient, code = await world.invited("Ana")

    wrong = await clinician.says("visa Ana 7 6 7 7 6 5 5 10")
    right = await clinician.says(f"visa Ana {ALL}")
    for text in (f"/start {code}", "yes", "London", "yes", "07:30", "left", "2", "10", "skip"):
        await patient.says(text)
    await world.goes_to(morning_of(FIRST_SHEET))

    assert wrong[0].startswith("On the sheet item 7 is one of 0, 4, 7, 10. Nothing was kept.")
    assert right == ["Ana: VISA-A 52 of 100, kept."]
    assert await totals(world, patient) == {date(2026, 3, 2): 52}
    assert not any(ITEMS in text for text in patient.hears())
    rows = await world.rows("SELECT action FROM audit WHERE action = 'EnterSheet'")
    assert len(rows) == 1


async def test_a_patient_cannot_enter_one_by_command(world: World) -> None:
    """The clinician's command from a patient's phone is a patient's words."""
    patient = await world.patient()

    await patient.says(f"visa Ana {ALL}")

    assert await totals(world, patient) == {}


async def test_twelve_weeks_with_little_change_reach_the_clinician(world: World) -> None:
    """52 at first, 52 in weeks 4 and 8. 65 in week 12 is under the published change and is raised
    once."""
    clinician = await world.clinician("Ilse")
    patient = await world.patient()
    for fourth, points in enumerate((ALL, ALL, ALL, "7 6 7 7 6 8 4 20")):
        before = [one.sign for one in await world.escalations(patient)]
        await sheet(world, patient, FIRST_SHEET + fourth * 28 * DAY, points)

    await world.at("10:00", days=1)

    signs = [one.sign for one in await world.escalations(patient)]
    assert "no-response" not in before
    assert signs.count("no-response") == 1
    assert any("VISA-A up by 13 points (under 14)" in text for text in clinician.hears())
