"""It goes somewhere: the goal, a level that begins, the week on Sunday, what stands at the end."""

from __future__ import annotations

from typing import Any

import pytest
from world import Voice, World

from bot.export.fhir import bundle_of
from bot.operations.erasure import erase
from bot.patient_record.record import record_of
from bot.rehearsal.stage import TEXT
from bot.store import people
from dialogs.rendering import segments

GOAL = "run 5 km with my daughter"


def shown(world: World) -> Any:
    """What was sent last."""
    return world.outgoing[-1]


async def test_the_goal_is_kept_shown_exported_and_erased(world: World) -> None:
    """One answer like any other: the clinician sees it, a copy has it, it goes with the rest."""
    ilse, _ = await world.clinician("Ilse"), await world.patient(goal=GOAL)

    seen = await ilse.says("show Ana")
    copy = await world.stage.run(lambda s: str(bundle_of(record_of(s, world.clinic, 2, world.now))))
    await world.stage.run(lambda s: erase(s, people.person(s, 2), world.now) and None)

    assert GOAL in seen[0]
    assert GOAL in copy
    assert await world.rows("SELECT * FROM answers WHERE value LIKE '%daughter%'") == []


@pytest.mark.parametrize("words", ["my calf is swollen and hot", "I want to end my life"])
async def test_a_goal_is_screened_like_any_text(world: World, words: str) -> None:
    """What is worrying is raised, whatever was asked."""
    await world.clinician("Ilse")
    ana = await world.patient(goal=words)

    assert len(await world.escalations(ana)) == 1


async def test_the_first_session_shows_its_exercise_once(world: World) -> None:
    """The picture and the two things to mind ride on the first advice, and come no second time."""
    ana = await world.patient()

    first = await ana.says("2 10")
    picture = shown(world).picture
    await world.at("07:31")
    again = await ana.says("2 10")

    assert "You start on step 1 of 9." in first[0]
    assert "Two things to mind: Keep the same weight on both feet." in first[0]
    assert picture is not None
    assert "Two things" not in again[0]
    assert shown(world).picture is None


async def begins(world: World, ana: Voice, level: int) -> str:
    """What is said on the first session day of a level, once it was set by the clinician."""
    ilse = await world.clinician("Ilse")
    await ilse.says(f"level Ana {level} 1")
    if level > 2:
        await ilse.says("yes")
    await world.at("07:31", days=1)
    return (await ana.says("2 10 2"))[0]


@pytest.mark.parametrize(
    ("level", "words"),
    [
        (2, "This is step 2 of 9. One step nearer to your goal:"),
        (6, "This is step 6 of 9: half of the steps are behind you."),
    ],
)
async def test_a_new_level_brings_its_picture_and_the_goal(
    world: World, level: int, words: str
) -> None:
    """With how far up it is, whoever led there."""
    ana = await world.patient(goal=GOAL)
    for text in ("2 10", "done", "3 2 2", "4 no", "0"):
        await ana.says(text)

    said = await begins(world, ana, level)

    assert words in said
    assert f'goal: "{GOAL}"' in said
    assert all(one.picture for one in world.outgoing if words in one.text)


async def test_by_text_a_new_level_is_said_in_words(world: World) -> None:
    """The same, and no picture."""
    ana = await world.patient()
    sql = "UPDATE contact_points SET channel = :channel WHERE address = 'ana'"
    await world.stage.run(lambda s: s.change(sql, {"channel": TEXT}) and None)
    ana.channel = TEXT

    said = await ana.says("2 10")

    assert "Two things to mind:" in said[0]
    assert shown(world).picture is None


# Sunday


async def mornings(world: World, ana: Voice, days: int, pain: str = "2 10") -> list[str]:
    """So many mornings answered; gives all that was heard until the last afternoon."""
    heard: list[str] = []
    for _ in range(days):
        await world.at("07:31")
        heard += ana.hears()
        if "Worst" in heard[-1]:
            heard += await ana.says(f"{pain} 2")
        else:
            heard += await ana.says(pain)
        await world.at("16:00")
        heard += ana.hears()
    return heard


def weeks_in(heard: list[str]) -> list[str]:
    """What was heard of the week."""
    return [text for text in heard if "first-step pain 2" in text or "at it for" in text]


async def test_each_sunday_brings_one_picture_and_one_sentence(world: World) -> None:
    """Unasked, three hours after the morning's; two Sundays, two messages."""
    ana = await world.patient()

    first = weeks_in(await mornings(world, ana, 6))
    picture = shown(world).picture
    second = weeks_in(await mornings(world, ana, 7))

    assert first == [
        "This week: first-step pain 2, stiff 10 min. Step 1 of 9. The next opens after"
        " 3 x 50.\nPicture: your last four weeks. Dots are first-step pain, bars are minutes of"
        " stiffness."
    ]
    assert len(second) == 1
    assert second[0].startswith("Much the same as in your first week: first-step pain 2 (was 2)")
    assert picture.startswith(b"\x89PNG")


async def test_by_text_the_week_is_one_part_without_a_picture(world: World) -> None:
    """The sentence alone."""
    ana = await world.patient()
    sql = "UPDATE contact_points SET channel = :channel WHERE address = 'ana'"
    await world.stage.run(lambda s: s.change(sql, {"channel": TEXT}) and None)
    ana.channel = TEXT

    (week,) = weeks_in(await mornings(world, ana, 6))

    assert "Picture" not in week
    assert segments(week).count == 1
    assert shown(world).picture is None


async def test_nothing_is_shown_of_a_week_without_answers_or_beside_a_worry(world: World) -> None:
    """Too few mornings make no picture, and a sign that is open makes none either."""
    await world.clinician("Ilse")
    ana = await world.patient()
    await world.at("16:00", days=6)
    silent = weeks_in(ana.hears())
    await mornings(world, ana, 6)

    await ana.says("my calf is swollen and hot")
    await world.at("16:00")

    assert silent == []
    assert weeks_in(ana.hears()) == []
    dropped = await world.rows("SELECT dropped_why FROM prompts WHERE kind = 'week'")
    assert [row["dropped_why"] for row in dropped] == [
        "too few answers",
        "something worrying is open",
    ]


async def test_after_twelve_weeks_the_way_is_summed_up(world: World) -> None:
    """What they came with, where they are, what they wrote."""
    ana = await world.patient(goal=GOAL, usual_pain=4, usual_stiffness=30)
    await world.at("08:00", days=81)

    (summary,) = weeks_in(await mornings(world, ana, 8))

    assert summary.startswith("You have been at it for 12 weeks.")
    assert "First-step pain was 4 and is now about 2; you were stiff for 30 min, now about 10." in (
        summary
    )
    assert GOAL in summary
