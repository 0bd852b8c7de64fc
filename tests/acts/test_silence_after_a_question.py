"""A closed question that nobody answers: what a clinician and the patient hear, and the late
answer."""

from __future__ import annotations

from datetime import timedelta

import pytest
from world import Voice, World

from rules.history import Tier
from rules.lexicon import shipped_lexicon

ASKED = {key: sign.sign.asked for key, sign in shipped_lexicon("en").signs.items()}
QUESTION = {key: sign.sign.closed_question for key, sign in shipped_lexicon("en").signs.items()}

# Words, the sign asked about; what silence is raised as; what begins the patient's advice.
BY_WORDS = ("could it be dvt", "leg-clot", Tier.EMERGENCY, "Please be seen by a doctor today")
BY_LIKENESS = (
    "my left is fine now, only the right hurts",
    "leg-clot",
    Tier.SAME_DAY,
    "You have not answered my question",
)
BY_LIKENESS_URGENT = (
    "went down like a sack in the hall, woke up with the dog licking me, puffing like a train",
    "lung-clot",
    Tier.SAME_DAY,
    "You have not answered my question",
)


async def _is_silent(world: World, words: str) -> tuple[Voice, Voice, list[str]]:
    ilse = await world.clinician("Ilse")
    ana = await world.patient()
    await ana.says("2 10")
    await ana.says(words)
    ilse.hears()
    await world.goes_to(world.now + timedelta(hours=4))
    return ilse, ana, ana.hears()


@pytest.mark.parametrize(
    ("words", "sign", "tier", "advice"), [BY_WORDS, BY_LIKENESS, BY_LIKENESS_URGENT]
)
async def test_silence_is_raised_by_what_is_known(
    world: World, words: str, sign: str, tier: Tier, advice: str
) -> None:
    """A wording at its tier, with the sign's own advice; a likeness same day at most, as "may
    mean". Loading stops for three mornings and on, for nobody has closed it."""
    ilse, ana, heard = await _is_silent(world, words)

    (one,) = await world.escalations(ana)
    told = "\n".join(ilse.hears())
    assert (one.sign, one.tier) == (sign, tier)
    assert [text for text in heard if text.startswith(advice)] == heard[:1]
    assert ("may mean: " in told) is (advice == BY_LIKENESS[3])
    assert words in told
    for _ in range(3):
        await world.at("08:00")
        await ana.says("2 10")
        assert (await world.decision(ana))[0] == "stop"


async def test_a_late_no_is_shown_to_whoever_was_told(world: World) -> None:
    """With the question it answers; nothing is lifted by it."""
    ilse, ana, _ = await _is_silent(world, BY_LIKENESS[0])
    await ilse.says("I have it 1")

    await ana.says("no")

    told = "\n".join(ilse.hears())
    assert f"{ASKED['leg-clot']} Answered late: no" in told
    (one,) = await world.escalations(ana)
    assert one.closed_at is None


async def test_a_late_yes_is_the_sign_itself(world: World) -> None:
    """At the tier of the words, with the words, and the sign's advice."""
    ilse, ana, _ = await _is_silent(world, BY_LIKENESS_URGENT[0])

    said = await ana.says("yes")

    assert said[0].startswith("Please call 112 now")
    late = (await world.escalations(ana))[-1]
    assert (late.sign, late.tier) == ("lung-clot", Tier.EMERGENCY)
    assert BY_LIKENESS_URGENT[0] in "\n".join(ilse.hears())


@pytest.mark.parametrize(
    ("words", "sign", "raised"),
    [
        pytest.param(BY_LIKENESS[0], "leg-clot", 1, id="same day"),
        pytest.param(BY_LIKENESS_URGENT[0], "lung-clot", 2, id="an emergency is never over"),
    ],
)
async def test_a_late_yes_after_the_clinician_has_closed_it(
    world: World, words: str, sign: str, raised: int
) -> None:
    """Whoever closed it hears of the answer; without new words it is no new alarm."""
    ilse, ana, _ = await _is_silent(world, words)
    for command in ("closed 1 go on", "yes"):
        await ilse.says(command)

    said = await ana.says("yes")

    assert len(await world.escalations(ana)) == raised
    told = "\n".join(ilse.hears())
    assert ("which is closed. More" in told and f"{ASKED[sign]} Answered late: yes" in told) == (
        raised == 1
    )
    assert said[0].startswith("Thank you. Ilse has looked" if raised == 1 else "Please call 112")


async def test_what_was_denied_is_not_asked_again_about_the_same_words(world: World) -> None:
    """On the same day; the words are kept for the clinician each time."""
    ilse = await world.clinician("Ilse")
    ana = await world.patient()
    await ana.says("2 10")
    await ana.says(BY_WORDS[0])
    await ana.says("no")

    again = await ana.says(BY_WORDS[0].upper())
    await world.goes_to(world.now + timedelta(hours=30))
    another_day = await ana.says(BY_WORDS[0])

    assert QUESTION["leg-clot"] not in again
    assert BY_WORDS[0].upper() in "\n".join(await ilse.says("words Ana"))
    assert another_day[-1] == QUESTION["leg-clot"]


async def test_what_a_clinician_closed_is_not_asked_again(world: World) -> None:
    """Neither behind the next prompt nor about the same words."""
    ilse, ana, _ = await _is_silent(world, BY_WORDS[0])
    await ilse.says("closed 1 go on")
    await ilse.says("yes")
    assert [one.closed_at is None for one in await world.escalations(ana)] == [False]
    ana.hears()

    again = await ana.says(BY_WORDS[0])
    await world.at("20:00")

    assert QUESTION["leg-clot"] not in [*again, *ana.hears()]


async def test_a_closing_ends_its_question_though_something_else_is_open(world: World) -> None:
    """Hard pain asks about two signs. The one not shown is told as still to be asked; once both are
    over for the clinician, no morning begins with them."""
    ilse = await world.clinician("Ilse")
    ana = await world.patient("Ana")
    await world.at("07:31", days=1)
    await ana.says("2 10")
    await ana.says("call me please")
    await world.at("19:05")
    ilse.hears()
    await ana.says("3 9 8 9")
    await world.goes_to(world.now + timedelta(minutes=20))
    notice = ilse.hears()[0]

    await ilse.says("closed 2 go on")
    await ilse.says("yes")
    ana.hears()
    await world.at("07:31", days=1)

    assert "loss of push-off" in notice
    assert notice.count("No answer.") == 1
    assert "Still to be asked: " in notice
    assert "First-step pain" in ana.hears()[-1]


async def test_despair_overtakes_the_question_about_low_mood(world: World) -> None:
    """Nothing weaker is said or asked after it: not then, not when the question would have run out,
    not the next morning, and not after more words of the weaker kind."""
    await world.clinician("Ilse")
    patient = await world.patient()
    asked = await patient.says("im so fed up with this i could cry")

    crisis = await patient.says("i dont want to live like this any more")
    after = await patient.says("ok")
    more = await patient.says("im so fed up with this i could cry")
    await world.at("07:30")
    after += [*patient.hears(), *await patient.says("2 10")]

    said = "\n".join(after)
    assert "felt low" in asked[0]
    assert "crisis line" in crisis[0]
    assert more == crisis
    assert "felt low" not in said
    assert "sounds hard" not in said
    assert [one.sign for one in await world.escalations(patient)] == ["crisis"]
