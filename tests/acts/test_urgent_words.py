"""Words that nothing was made of: the clinician sees them, and the patient can say it is urgent."""

from __future__ import annotations

import pytest
from world import World

from rules.history import Tier

ODD = "it happened again, same as the thing we talked about in spring"


async def test_words_not_understood_are_met_with_a_way_to_say_it_is_urgent(world: World) -> None:
    """The reply says who will see them, perhaps not today, and what to do if it cannot wait."""
    ana = await world.patient("Ana")

    await ana.says("2 10")

    said = await ana.says(ODD)

    assert "will see this, perhaps not today" in said[-1]
    assert "reply NOW" in said[-1]
    assert "112" in said[-1]
    assert await world.escalations(ana) == []


async def test_while_a_question_waits_the_way_is_offered_with_it(world: World) -> None:
    """The words are kept, NOW is named, and the question is put again."""
    ana = await world.patient("Ana")

    said = await ana.says(ODD)

    assert "reply NOW" in said[-1]
    assert "First-step pain" in said[-1]


@pytest.mark.parametrize(
    "word",
    ["NOW", "URGENT", "urgent!", "it can't wait", "It's urgent", "cant wait", "urgent please"],
)
async def test_urgent_puts_the_words_before_a_clinician_at_once(world: World, word: str) -> None:
    """The same day, with both messages as written; the exercises wait until they have talked."""
    ilse = await world.clinician("Ilse")
    ana = await world.patient("Ana")
    await ana.says(ODD)
    ilse.hears()

    said = await ana.says(word)

    matter = (await world.escalations(ana))[0]
    told = "\n".join(ilse.hears())
    assert matter.tier is Tier.SAME_DAY
    assert ODD in told
    assert word in told
    assert "SAME DAY" in told
    assert "Leave the exercises" in said[-1]
    assert "not watched" in said[-1]


async def test_urgent_alone_is_enough(world: World) -> None:
    """Nothing was written before: the matter is raised all the same."""
    ana = await world.patient("Ana")

    await ana.says("urgent")

    assert [matter.words for matter in await world.escalations(ana)] == ["urgent"]


async def test_not_urgent_raises_nothing(world: World) -> None:
    """Only the word by itself counts."""
    ana = await world.patient("Ana")

    await ana.says("it is not urgent, when you have time")

    assert await world.escalations(ana) == []


async def test_ahora_is_understood_in_spanish(world: World) -> None:
    """The same in the other language."""
    await world.clinician("Ilse")
    ana = await world.patient("Ana")
    await ana.says("español")

    said = await ana.says("ahora")

    assert (await world.escalations(ana))[0].tier is Tier.SAME_DAY
    assert "médico" in said[-1]


# What nobody marks as urgent


async def test_words_not_understood_are_shown_once_on_the_next_working_day(world: World) -> None:
    """A quarter of an hour after opening, as they were written; nothing has to be taken."""
    ilse = await world.clinician("Ilse")
    ana, bea = await world.patient("Ana"), await world.patient("Bea")
    await ana.says(ODD)
    await bea.says("the parrot has learned to count")
    ilse.hears()

    await world.at("08:20")

    shown = [text for text in ilse.hears() if "Not understood" in text]
    assert len(shown) == 1
    assert "Not understood, for you to read (2):" in shown[0]
    assert f'Ana, Mon 02 Mar 09:00: "{ODD}"' in shown[0]
    assert "parrot" in shown[0]
    await world.at("08:20")
    assert not [text for text in ilse.hears() if "Not understood" in text]
    assert await world.escalations(ana) == []


async def test_words_wait_for_somebody_who_can_read_them(world: World) -> None:
    """Nobody can be told: they are kept, and shown when there is somebody."""
    ana = await world.patient("Ana")
    await ana.says(ODD)
    await world.at("08:20")

    ilse = await world.clinician("Ilse")
    await world.at("08:20")

    assert any(ODD in text for text in ilse.hears())


async def test_words_that_became_a_matter_are_not_shown_again(world: World) -> None:
    """The clinician had them with the alarm."""
    ilse = await world.clinician("Ilse")
    ana = await world.patient("Ana")
    await ana.says(ODD)
    await ana.says("urgent")
    await ilse.says("I have it 1")

    await world.at("08:20")

    assert not [text for text in ilse.hears() if "Not understood" in text]


async def test_words_can_be_asked_for_at_any_time(world: World) -> None:
    """WORDS Ana shows them with the hour, as they were written; of others nothing."""
    ilse = await world.clinician("Ilse")
    ana, _bea = await world.patient("Ana"), await world.patient("Bea")
    await ana.says(ODD)

    assert await ilse.says("words Ana") == [f'Ana, Mon 02 Mar 09:00: "{ODD}"']
    assert await ilse.says("words Bea") == ["Nothing that I could not read in 28 days."]
