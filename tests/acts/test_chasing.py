"""Chasing that people can live with: it slows and joins, quickens at opening time, and ends only
with a person; whoever has something and does not close it is reminded, and may hand it over."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from world import Voice, World, usual_clinic, world_at

from bot.rehearsal.stage import CHAT, TEXT
from bot.store.people import Role

CALF = "my whole calf is swollen and tender since yesterday"
SNAP = "heard a loud snap and now i cant push off that foot at all"
# Fewer parts than a notice and the first word that nobody has it.
REPEATS_END = 5
CAN_WAIT = "both heels are stiff for over an hour"


@pytest.mark.parametrize("channels", [(CHAT, TEXT), (TEXT,)], ids=["both", "by SMS alone"])
async def test_two_weeks_in_which_nobody_answers(world: World, channels: tuple[str, ...]) -> None:
    """After the first day fewer than ten messages a day to a clinician; nothing is forgotten."""
    ilse, bram = [await world.clinician(name, channels) for name in ("Ilse", "Bram")]
    worried = [await world.patient(name) for name in ("Ana", "Bo", "Cy")]
    for patient, words in zip(worried, (CALF, SNAP, CAN_WAIT), strict=True):
        await patient.says(words)
    await world.at("08:55")
    first = [voice.hears() for voice in (ilse, bram)]

    days = []
    for _ in range(13):
        await world.at("08:55")
        days += [voice.hears() for voice in (ilse, bram)]

    assert all(first)
    assert all(0 < len(said) < 10 for said in days)
    alarms = [text for said in days for text in said if "For today" not in text]
    assert all("Bo:" in text and "Ana:" in text for text in alarms)
    assert any("Cy:" in text for said in days[-2:] for text in said)
    rows = await world.rows("SELECT next_at FROM escalations WHERE acknowledged_at IS NULL")
    assert len(rows) == 6  # beside the three messages, three patients are silent
    assert all(row["next_at"] is not None for row in rows)


async def test_repeats_by_sms_end_for_the_day_and_first_notices_do_not(tmp_path: Path) -> None:
    """The owner hears it once; the next day begins anew, at full pace."""
    clinic = replace(usual_clinic(), alarm_segments_a_day=REPEATS_END)
    world = world_at(tmp_path / "world.sqlite", clinic=clinic)
    async with world.stage:
        ilse, oona = await world.clinician("Ilse", (TEXT,)), await world.clinician("Oona", (CHAT,))
        await world.rows("UPDATE people SET role = 'owner' WHERE name = 'Oona' RETURNING id")
        ana, bo = await world.patient("Ana"), await world.patient("Bo")
        await ana.says(CALF)
        await world.at("15:00")
        first = ilse.hears()
        await world.at("23:30")
        repeats = ilse.hears()
        await world.at("08:20")
        again = ilse.hears()
        await bo.says(SNAP)
        fresh = ilse.hears()

    assert [text.startswith(("SAME DAY. Ana", "NOBODY HAS")) for text in first] == [True, True]
    assert repeats == []
    assert fresh[0].startswith("EMERGENCY. Bo")
    assert any(text.startswith("REMINDER") and "Ana" in text for text in again)
    told = [text for text in oona.hears() if "SMS parts" in text]
    assert [f"your limit is {REPEATS_END}" in text for text in told[:1]] == [True]


async def test_what_is_new_is_told_at_full_pace_beside_what_is_old(world: World) -> None:
    """An emergency does not wait for the pause of another."""
    ilse = await world.clinician("Ilse", ("chat",))
    ana, bo = await world.patient("Ana"), await world.patient("Bo")
    await ana.says(CALF)
    await world.at("20:00")
    ilse.hears()

    await bo.says(SNAP)

    (notice,) = ilse.hears()
    assert notice.startswith("EMERGENCY. Bo")
    assert "Ana" not in notice
    await world.at("20:05")
    assert ilse.hears()[0].startswith("NOBODY HAS SAID THEY HAVE 2.")


async def test_who_has_it_is_reminded_and_then_a_lead_hears_it(world: World) -> None:
    """Six hours for a same-day sign; the second time the lead too, who may close it."""
    ilse = await world.clinician("Ilse")
    lead = await _lead(world)
    ana = await world.patient("Ana")
    await ana.says(CALF)
    await ilse.says("I have it 1")
    lead.hears()

    await world.at("15:00")
    first = (ilse.hears(), lead.hears())
    await world.at("08:00")
    second = (ilse.hears(), lead.hears())

    assert first[0][0].startswith("You have 1 (Ana) since Mon 02 Mar 09:00, and it is not closed")
    assert first[1] == []
    assert second[0][0].startswith("You have 1 (Ana)")
    assert second[1][0].startswith("Ilse has 1 (Ana) since")
    await lead.says("closed 1 go on")
    await lead.says("yes")
    await world.at("20:00", days=2)
    assert [text for text in lead.hears() if "not closed" in text] == []


async def test_what_is_taken_in_the_evening_brings_one_reminder_in_the_morning(
    world: World,
) -> None:
    """Twice the time has run out by then, and the clinic has only just opened."""
    ilse = await world.clinician("Ilse", (CHAT,))
    ana = await world.patient("Ana")
    await ana.says(CALF)
    await world.at("18:31")
    await ilse.says("I have it 1")

    await world.at("09:00")

    assert len([text for text in ilse.hears() if text.startswith("You have 1 (Ana) since")]) == 1


async def test_it_is_handed_over_when_the_other_says_so(world: World) -> None:
    """Until then the holder has it; a name that nobody or only half a name is gets a question."""
    ilse, bram = await world.clinician("Ilse"), await world.clinician("Bram")
    ana = await world.patient("Ana")
    await ana.says(CALF)
    await ilse.says("I have it 1")
    bram.hears()
    ana.hears()

    unknown = await ilse.says("give 1 to Br")
    given = await ilse.says("give 1 to Bram")
    (asked,) = bram.hears()
    (before,) = await world.escalations(ana)
    taken = await bram.says("I have it 1")
    (after,) = await world.escalations(ana)

    assert "There are: Bram" in unknown[0]
    assert given == ["Bram is asked to take 1 (Ana). You have it until they say so."]
    assert "Reply" in asked or "reply" in asked
    assert before.acknowledged_by != after.acknowledged_by
    assert taken[0].startswith("You have 1 (Ana).")
    assert ilse.hears() == ["Bram has 1 (Ana) now."]
    assert ana.hears()[0].startswith("Bram has your message")
    assert (await ilse.says("give 1 to Bram"))[0] == "Not done: you do not have 1."


async def _lead(world: World) -> Voice:
    lead = await world.clinician("Lea", ("chat",))
    sql = "UPDATE people SET role = :role WHERE name = 'Lea' RETURNING id"
    await world.rows(sql, role=Role.LEAD_CLINICIAN)
    return lead
