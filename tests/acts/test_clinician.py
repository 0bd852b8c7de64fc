"""What clinicians say, through the real bot: acknowledging, closing, changing a plan, enrolling."""

from __future__ import annotations

import re

from world import Voice, World

WORRY = "my whole calf is swollen and tender since yesterday"


async def test_two_clinicians_at_once_the_second_is_told_who_has_it(world: World) -> None:
    """One acknowledgement counts; the other clinician hears whose it is, and since when."""
    ilse, bram = await world.clinician("Ilse"), await world.clinician("Bram")
    patient = await world.patient()
    await patient.says(WORRY)
    await ilse.says("I have it 1")

    said = await bram.says("I have it 1")

    assert "Ilse has 1 (Ana)" in said[0]


async def test_only_a_clinicians_address_can_acknowledge(world: World) -> None:
    """The patient's own "I have it", and a stranger's, change nothing."""
    await world.clinician("Ilse")
    patient = await world.patient()
    await patient.says(WORRY)

    await patient.says("I have it 1")
    await world.stage.say("chat", "stranger", "I have it 1")

    (escalation,) = await world.escalations(patient)
    assert escalation.acknowledged_at is None


async def test_i_have_it_with_several_open_asks_which_one(world: World) -> None:
    """Never a guess: the numbers are listed."""
    ilse = await world.clinician("Ilse")
    for name in ("Ana", "Bea"):
        patient = await world.patient(name)
        await patient.says(WORRY)

    said = await ilse.says("I have it")

    assert "1 (Ana)" in said[0]
    assert "2 (Bea)" in said[0]


LEVELS = (
    ("level Ana 40", "levels 1 to", (1, 1)),
    ("level Ana 2 9", "doses 1 to", (1, 1)),
    ("level Ana 8", "hops need", (1, 1)),
    ("level Zoe 2", "no patient is named", (1, 1)),
    ("level Ana 1 2", "level 1, dose 2", (1, 2)),
    ("level ana 2", "level 2, dose 1", (2, 1)),
)


async def test_the_clinician_sets_a_level_or_is_told_why_not(world: World) -> None:
    """The clinician's word wins at once; what cannot be is refused with what was expected, kept in
    the audit, and changes nothing.
    """
    ilse = await world.clinician("Ilse")
    patient = await world.patient()
    patient.hears()

    for words, reply, position in LEVELS:
        assert reply in (await ilse.says(words))[0], words
        assert await world.position(patient) == position, words
        assert bool(patient.hears()) == (position != (1, 1)), words
    assert len(await world.rows("SELECT * FROM audit WHERE action = 'refused'")) == 4


async def test_a_clinicians_pause_wins_over_the_rules_and_the_patient_is_told(
    world: World,
) -> None:
    """No loading and no prompts until the day is over, whatever the numbers say."""
    ilse = await world.clinician("Ilse")
    patient = await world.patient()
    patient.hears()

    await ilse.says("pause Ana till 5 March")
    told = patient.hears()
    await world.at("22:00", days=3)
    during = patient.hears()
    await world.at("08:00")

    assert told
    assert during == []
    assert len(patient.hears()) == 1


async def test_hops_stay_closed_until_the_clinician_opens_the_gate(world: World) -> None:
    """After HOPS yes the level can be set."""
    ilse = await world.clinician("Ilse")
    patient = await world.patient()

    await ilse.says("hops Ana yes")
    await ilse.says("yes")
    await ilse.says("level Ana 8")
    await ilse.says("yes")

    assert (await world.position(patient))[0] == 8


async def test_enrolling_from_the_chat_gives_a_code_that_works(world: World) -> None:
    """One line, one code, and the new patient is asked for consent."""
    ilse = await world.clinician("Ilse")
    said = await ilse.says("enrol Cleo insertional")
    found = re.search(r"/start ([A-Z0-9]{8})", said[0])
    assert found is not None

    cleo = Voice(world, "Cleo")
    asked = await cleo.says(f"/start {found[1]}")

    assert "Do you agree" in asked[0]
    assert (await world.episode(cleo)).tendon == "insertional"


async def test_who_needs_me_lists_by_urgency(world: World) -> None:
    """The emergency stands above the same-day matter."""
    ilse = await world.clinician("Ilse")
    ana, bea = await world.patient("Ana"), await world.patient("Bea")
    await ana.says(WORRY)
    await bea.says("heard a loud snap and now i cant push off that foot at all")

    said = await ilse.says("who needs me?")

    assert said[0].index("Bea") < said[0].index("Ana")


async def test_a_message_that_is_no_command_says_where_the_commands_are(world: World) -> None:
    """No guessing at a clinician's words either."""
    ilse = await world.clinician("Ilse")

    said = await ilse.says("good morning bot")

    assert "HELP" in said[0]
    assert "I HAVE IT" in (await ilse.says("help"))[0]


async def test_a_clinician_whose_channel_is_down_is_passed_over_at_once(world: World) -> None:
    """A blocked chat does not cost the tier's interval: the next channel is tried immediately."""
    ilse = await world.clinician("Ilse")
    patient = await world.patient()
    world.stage.chat.closed_addresses.add("ilse")

    await patient.says(WORRY)

    assert {line.channel for line in world.lines if line.address == "ilse"} == {"text"}
    assert ["SAME DAY" in text for text in ilse.hears()].count(True) == 1


async def test_with_nobody_answering_everyone_is_told_and_it_goes_on(world: World) -> None:
    """After a round of the rota all are told that nobody has it, and again after pauses."""
    ilse, bram = await world.clinician("Ilse"), await world.clinician("Bram")
    patient = await world.patient()
    await patient.says(WORRY)

    await world.at("13:00")

    heard = ilse.hears()
    assert any("NOBODY HAS" in text for text in heard)
    assert any("NOBODY HAS" in text for text in bram.hears())
    assert len([text for text in heard if "NOBODY HAS" in text]) >= 3
    await ilse.says("I have it")
    await world.at("23:00")
    assert bram.hears() == ["Ilse has 1 (Ana). Nothing more to do for you."]


async def test_show_gives_four_lines_and_a_picture(world: World) -> None:
    """One patient at a glance: words for everyone, and a picture where the channel shows one."""
    ilse = await world.clinician("Ilse")
    await world.patient()

    said = await ilse.says("show Ana")

    shown = [o for o in world.outgoing if o.address == ilse.address][-1]
    assert len(said[0].splitlines()) == 4
    assert shown.picture is not None
    assert shown.picture.startswith(b"\x89PNG")
