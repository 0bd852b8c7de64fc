"""A telephone number passes to somebody else: after an opt-out, what is written on it is held."""

from __future__ import annotations

from datetime import timedelta

import pytest
from world import Voice, World

from bot.patients.recycled_number import KEPT_DAYS, SIGN
from bot.rehearsal.stage import CHAT, TEXT


async def texted(world: World, name: str = "Ana") -> Voice:
    """A patient who is texted, on a number of their own."""
    voice = await world.patient(name)
    sql = "UPDATE contact_points SET channel = 'text' WHERE address = :address"
    await world.stage.run(lambda s: s.change(sql, {"address": voice.address}) and None)
    voice.channel = TEXT
    return voice


async def signs(world: World, voice: Voice) -> list[str]:
    """What somebody's escalations are about."""
    return [escalation.sign for escalation in await world.escalations(voice)]


async def test_words_after_leaving_are_held(world: World) -> None:
    """They are no answers, nobody is spoken to, and a clinician sees them: one escalation a day, so
    that a stranger who goes on writing does not flood anybody.
    """
    await world.clinician("Ilse")
    ana = await texted(world)
    await ana.says("STOP")
    before = await world.answers(ana)

    for text in ("3 10", "hello, who is this for", "yes", "done", "level 2"):
        assert await ana.says(text) == []

    assert await world.answers(ana) == before
    assert (await signs(world, ana)).count(SIGN) == 1
    assert (await world.escalations(ana))[-1].words == "3 10"


async def test_a_warning_sign_is_anybodys(world: World) -> None:
    """Whoever holds the number now is told what to do, and a clinician is told at once."""
    await world.clinician("Ilse")
    ana = await texted(world)
    await ana.says("STOP")

    heard = await ana.says("heard a snap and now i cant push off that foot")

    assert heard
    assert SIGN not in await signs(world, ana)
    assert len(await signs(world, ana)) >= 2  # the opt-out, and the sign


@pytest.mark.parametrize(
    ("after", "back"),
    [
        pytest.param(timedelta(days=KEPT_DAYS) - timedelta(seconds=2), True, id="under the time"),
        pytest.param(timedelta(days=KEPT_DAYS), False, id="at the time"),
    ],
)
async def test_start_is_the_patients_only_for_a_time(
    world: World, after: timedelta, back: bool
) -> None:
    """Later it is answered as any stranger is, and a clinician looks at it."""
    ana = await texted(world)
    await ana.says("STOP")
    left = world.now
    await world.goes_to(left + after)
    ana.hears()

    heard = await ana.says("START")

    assert ("private line" in heard[0]) is not back
    assert (SIGN in await signs(world, ana)) is not back
    rows = await world.rows("SELECT opted_out_at FROM people WHERE name = 'Ana'")
    assert (rows[0]["opted_out_at"] is None) is back


async def test_stop_and_help_are_always_answered(world: World) -> None:
    """Carriers want them answered; neither reveals anything."""
    ana = await texted(world)
    await ana.says("STOP")

    heard = [await ana.says(text) for text in ("HELP", "STOP")]

    assert all(heard)
    assert "Ana" not in "".join(line for lines in heard for line in lines)
    assert SIGN not in await signs(world, ana)


async def test_the_new_holder_can_be_a_patient(world: World) -> None:
    """With an invitation of their own the number is theirs; the one who left keeps their record."""
    ana = await texted(world)
    await ana.says("STOP")
    _, code = await world.invited("Bea")

    heard = await ana.says(code)

    assert "Do you agree" in heard[-1]
    rows = await world.rows(
        "SELECT name FROM contact_points JOIN people ON people.id = person"
        " WHERE address = :address",
        address=ana.address,
    )
    assert rows == [{"name": "Bea"}]
    left = await world.rows("SELECT opted_out_at FROM people WHERE name = 'Ana'")
    assert left[0]["opted_out_at"] is not None


async def test_a_chat_account_does_not_change_hands(world: World) -> None:
    """There "yes" after leaving still brings the patient back."""
    ana = await world.patient("Ana")
    await ana.says("STOP")

    heard = await ana.says("yes")

    assert heard
    assert SIGN not in await signs(world, ana)


async def test_a_patient_who_has_not_left_is_heard(world: World) -> None:
    """The rule touches nobody else."""
    ana = await texted(world)

    await ana.says("talk to someone")

    assert SIGN not in await signs(world, ana)


async def test_the_clinician_sees_that_strangers_wrote(world: World) -> None:
    """How many messages, in the answer to "who needs me?"; nothing of what they say."""
    ilse = await world.clinician("Ilse")
    await Voice(world, "Somebody").says("is this the pizza place")
    await Voice(world, "Somebody").says("hello?")

    heard = await ilse.says("who needs me?")

    assert heard == ["2 messages from unknown senders in 7 days."]


async def test_strangers_of_long_ago_are_not_listed(world: World) -> None:
    """A week later the list is empty again."""
    ilse = await world.clinician("Ilse", (CHAT,))
    await Voice(world, "Somebody").says("hello?")
    await world.goes_to(world.now + timedelta(days=7, seconds=1))

    assert await ilse.says("who needs me?") == ["Nobody is waiting."]


async def long_gone(world: World, text: str) -> tuple[Voice, Voice]:
    """A clinician, and a patient who left long ago and now writes something, which is held."""
    ilse = await world.clinician("Ilse", (CHAT,))
    ana = await texted(world)
    await ana.says("STOP")
    await world.goes_to(world.now + timedelta(days=KEPT_DAYS + 1))
    await ana.says(text)
    return ilse, ana


async def test_a_clinician_lets_a_held_start_count(world: World) -> None:
    """READMIT says that the number is still the patient's: they are back and asked again."""
    ilse, ana = await long_gone(world, "START")

    said = await ilse.says("readmit Ana")
    told = ana.hears()
    await world.at("07:30", days=1)

    assert said == ["Ana is back: they sent START, and were told. Questions go out again."]
    assert "Welcome back" in told[0]
    assert any("Good morning" in text for text in ana.hears())
    rows = await world.rows("SELECT 1 FROM audit WHERE action = 'readmitted'")
    assert len(rows) == 1


async def test_without_a_start_the_patient_is_heard_and_not_written_to(world: World) -> None:
    """Only the patient's own START brings messages back, and now it does so at any time."""
    ilse, ana = await long_gone(world, "hello its me")

    said = await ilse.says("readmit Ana")
    before = ana.hears()
    back = await ana.says("START")

    assert "Ask them to send START" in said[0]
    assert before == []
    assert "Welcome back" in back[0]


@pytest.mark.parametrize(
    ("after", "back"),
    [
        pytest.param(timedelta(days=KEPT_DAYS) - timedelta(seconds=2), True, id="under the time"),
        pytest.param(timedelta(days=KEPT_DAYS), False, id="at the time"),
    ],
)
async def test_a_clinicians_word_about_a_number_ages_too(
    world: World, after: timedelta, back: bool
) -> None:
    """It holds as long as the patient's own leaving does."""
    ilse, ana = await long_gone(world, "hello its me")
    await ilse.says("readmit Ana")
    await world.goes_to(world.now + after)
    ana.hears()

    heard = await ana.says("START")

    assert ("Welcome back" in heard[0]) is back


async def test_a_new_stop_undoes_the_clinicians_word(world: World) -> None:
    """What was said of the number was said of the time before."""
    ilse, ana = await long_gone(world, "START")
    await ilse.says("readmit Ana")
    await ana.says("STOP")

    heard = await ana.says("hello")

    assert heard == []
    (kept,) = await world.rows("SELECT text, outcome FROM inbox ORDER BY id DESC LIMIT 1")
    assert kept == {"text": "hello", "outcome": "unread"}
    assert SIGN in await signs(world, ana)


async def test_readmitting_somebody_who_never_left_changes_nothing(world: World) -> None:
    """It says so."""
    ilse = await world.clinician("Ilse", (CHAT,))
    ana = await texted(world)

    said = await ilse.says("readmit Ana")

    assert said == ["Ana has not left. Nothing to do."]
    assert not [text for text in ana.hears() if "Welcome back" in text]
