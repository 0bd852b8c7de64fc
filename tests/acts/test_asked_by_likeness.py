"""Words that no wording knows, but that are like told ones: a closed question settles them."""

from __future__ import annotations

from datetime import timedelta

import pytest
from world import World

from rules.history import Tier
from rules.lexicon import shipped_lexicon

FELL = "went down like a sack in the hall, woke up with the dog licking me, puffing like a train"
ASKED = {key: sign.sign.asked for key, sign in shipped_lexicon("en").signs.items()}
QUESTION = {key: sign.sign.closed_question for key, sign in shipped_lexicon("en").signs.items()}


async def test_words_like_a_sign_are_asked_about(world: World) -> None:
    """The question of the likest sign is put; yes raises it, and no raises nothing."""
    ana, bea = await world.patient("Ana"), await world.patient("Bea")

    said = await ana.says(FELL)
    await ana.says("yes")
    await bea.says(FELL)
    await bea.says("no")

    assert said[-1] == QUESTION["lung-clot"]
    assert [(one.sign, one.tier) for one in await world.escalations(ana)] == [
        ("lung-clot", Tier.EMERGENCY)
    ]
    assert await world.escalations(bea) == []


async def test_a_likeness_more_urgent_than_what_was_found_is_asked_about_too(
    world: World,
) -> None:
    """What was found is raised at once, and the question follows; yes hurries the matter."""
    await world.clinician("Ilse")
    ana = await world.patient("Ana")

    said = await ana.says("calf is swollen. went all swimmy in the kitchen")
    at_once = [(one.sign, one.tier) for one in await world.escalations(ana)]
    await ana.says("yes")

    assert at_once == [("leg-clot", Tier.SAME_DAY)]
    assert said[-1] == QUESTION["lung-clot"]
    assert Tier.EMERGENCY in [one.tier for one in await world.escalations(ana)]


async def test_words_plainly_like_a_sign_are_raised(world: World) -> None:
    """Where the likeness leaves no doubt nobody waits for an answer."""
    ana = await world.patient("Ana")

    await ana.says("neither foot comes up, they slap like flippers since noon")

    (matter,) = await world.escalations(ana)
    assert (matter.sign, matter.tier) == ("motor-loss", Tier.EMERGENCY)
    assert "May mean" in matter.remarks or "may mean" in matter.remarks


async def test_no_answer_joins_the_matter_that_was_raised_with_it(world: World) -> None:
    """One message stays one matter: whoever has it reads that the question was not answered."""
    ana = await world.patient("Ana")

    await ana.says("calf is swollen. went all swimmy in the kitchen")
    await world.goes_to(world.now + timedelta(hours=3))

    (matter,) = await world.escalations(ana)
    assert (matter.sign, matter.tier) == ("leg-clot", Tier.SAME_DAY)
    assert matter.words == "calf is swollen. went all swimmy in the kitchen"
    assert matter.remarks == f"Asked: {ASKED['lung-clot']} No answer."


async def test_yes_counts_at_the_tier_of_the_words(world: World) -> None:
    """Of one foot it is a same-day matter; told of both feet it is an emergency."""
    ana = await world.patient("Ana")

    await ana.says("neither foot comes up right, they flap")
    await ana.says("yes")

    assert [(one.sign, one.tier) for one in await world.escalations(ana)] == [
        ("motor-loss", Tier.EMERGENCY)
    ]


@pytest.mark.parametrize("text", ["3 10", "pause until friday", "plan", "why", "help"])
async def test_what_the_dialog_takes_whole_is_not_asked_about(world: World, text: str) -> None:
    """An answer or a wish is done, and no closed question comes in its place."""
    ana = await world.patient("Ana")

    said = await ana.says(text)

    assert set(said).isdisjoint(QUESTION.values())
    assert await world.rows("SELECT 1 FROM sign_questions") == []
