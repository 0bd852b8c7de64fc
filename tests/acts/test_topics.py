"""What a patient asks and says beside the answers, through the real bot."""

from __future__ import annotations

import pytest
from world import Voice, World

UNREAD = "SELECT outcome FROM inbox WHERE outcome = 'unread'"
STOP = "my calf is swollen and hot"


async def spanish(world: World) -> Voice:
    """A patient who has changed to Spanish."""
    ana = await world.patient()
    await ana.says("español")
    return ana


@pytest.mark.parametrize(
    ("text", "part"),
    [
        pytest.param("can i swim?", "Swimming is mostly kind", id="a note"),
        pytest.param("am i allowed to run on saturday", "stays at", id="with the limit"),
        pytest.param("what step am i on", "step 1 of", id="the plan"),
        pytest.param("why the same again?", "There is no advice yet", id="the reasons"),
        pytest.param("who reads my messages", "can read all you write", id="the bot"),
        pytest.param("Hi. can i swim?", "Swimming is mostly kind", id="a greeting before it"),
    ],
)
async def test_a_question_is_answered_and_reaches_no_list(
    world: World, text: str, part: str
) -> None:
    """At once; the question that was open is put again behind it."""
    await world.clinician("Ilse")
    ana = await world.patient()

    said, again = await ana.says(text)

    assert part in said
    assert "First-step" in again
    assert await world.rows(UNREAD) == []


async def test_a_question_in_spanish_is_answered_in_spanish(world: World) -> None:
    """By the same topics."""
    ana = await spanish(world)

    said, _again = await ana.says("puedo nadar mañana?")

    assert "Nadar casi siempre le va bien" in said


async def test_todays_advice_comes_with_the_answers_and_the_open_question_again(
    world: World,
) -> None:
    """Asked before the morning's answers, it says so and puts the question again; after them it is
    today's advice."""
    ana = await world.patient()
    await world.at("07:30")
    ana.hears()

    before = await ana.says("what exercises do i have to do today?")
    answered = await ana.says("2 10")
    after = await ana.says("am i meant to do my exercises today?")

    assert "when you have answered" in before[0]
    assert "First-step" in before[1]
    assert after[0][:40] == answered[0][:40]


@pytest.mark.parametrize(
    "text", ["can i do my exercises now?", "can i run tomorrow", "what exercises do i do today"]
)
async def test_while_loading_is_stopped_the_answer_is_no(world: World, text: str) -> None:
    """And until whom says so; a general question is answered all the same. No form is asked for in
    the same breath."""
    await world.clinician("Ilse")
    ana = await world.patient()
    await ana.says(STOP)
    ana.hears()

    (said,) = await ana.says(text)
    (general,) = await ana.says("how long will it take")

    assert "stopped until Ilse says" in said
    assert "3 to 12 months" in general


async def test_a_warning_sign_beside_a_question_is_escalated(world: World) -> None:
    """The question waits: what is worrying is answered first."""
    await world.clinician("Ilse")
    ana = await world.patient()

    said = await ana.says(f"can i swim? {STOP}")

    assert [one.sign for one in await world.escalations(ana)] == ["leg-clot"]
    assert not any("Swimming" in text for text in said)


@pytest.mark.parametrize(
    "text", ["thanks so much!", "lol", "haha good one", "good night", "sorry i was busy"]
)
async def test_a_courtesy_gets_a_human_word_and_reaches_no_list(world: World, text: str) -> None:
    """Another one on another day."""
    ana = await world.patient()
    await ana.says("2 10")

    first = await ana.says(text)
    await world.at("12:00", days=1)
    ana.hears()
    second = await ana.says(text)

    assert len(first) == 1
    assert first[0] != second[0]
    assert await world.rows(UNREAD) == []


async def test_an_unknown_question_goes_to_the_clinician_and_says_so(world: World) -> None:
    """Nothing is made up."""
    await world.clinician("Ilse")
    ana = await world.patient()

    (said,) = await ana.says("can i eat bananas with this?")

    assert "Ilse will see" in said
    assert len(await world.rows(UNREAD)) == 1


@pytest.mark.parametrize(
    ("text", "part", "unread"),
    [
        pytest.param("3 10 can I run on Saturday?", "If you run already", 0, id="a question"),
        pytest.param("3 10 call me please", "want to talk", 0, id="a wish"),
        pytest.param("3 10 lol", "Do your first session", 0, id="a joke"),
        pytest.param("3 10, the dog ate my shoes", "Ilse will see your words", 1, id="words"),
    ],
)
async def test_numbers_are_kept_and_then_what_stands_beside_them_is_answered(
    world: World, text: str, part: str, unread: int
) -> None:
    """The advice comes all the same."""
    await world.clinician("Ilse")
    ana = await world.patient()

    said = await ana.says(text)

    assert [value for (name, _), value in (await world.answers(ana)).items() if name != "goal"] == [
        3,
        10,
    ]
    assert any(part in one for one in said)
    assert any("Do your first session" in one for one in said)
    assert len(await world.rows(UNREAD)) == unread


@pytest.mark.parametrize("text", ["4 20 can I run on Saturday?", "1) 4 2) 20"])
async def test_numbers_that_nothing_asks_for_are_asked_about_and_kept(
    world: World, text: str
) -> None:
    """One short line says how; what was asked beside them is answered at once."""
    ana = await world.patient()
    await ana.says("2 10")

    said = await ana.says(text)
    changed = await ana.says("1")

    assert "What is the 4 20 about? Reply 1" in said[-1]
    assert ("If you run" in said[0]) is ("run" in text)
    assert changed[:2] == [
        "Changed: first-step pain is now 4.",
        "Changed: stiffness is now 20 minutes.",
    ]


# Wishes. The world begins on Monday 2 March 2026.


@pytest.mark.parametrize(
    ("language", "text", "confirmed"),
    [
        pytest.param("en", "on holiday from wednesday to thursday", "Wednesday 4 March", id="en"),
        pytest.param("en", "holiday from wednesday for 2 days", "Wednesday 4 March", id="how long"),
        pytest.param("es", "de vacaciones del 4 al 5 de marzo", "miércoles 4 de marzo", id="es"),
    ],
)
async def test_a_holiday_with_dates_is_confirmed_and_kept(
    world: World, language: str, text: str, confirmed: str
) -> None:
    """Asked until it begins, not on its days, and again after it."""
    ana = await world.patient() if language == "en" else await spanish(world)

    said = await ana.says(text)
    asked = []
    for _ in range(4):
        await world.at("07:31")
        asked.append(any(one.startswith(("Good morning", "Buenos días")) for one in ana.hears()))

    assert confirmed in said[0]
    assert asked == [True, False, False, True]


async def test_another_morning_time_may_be_asked_for_politely(world: World) -> None:
    """ "pls" belongs to the wish and not to the time; without a time it is asked for."""
    ana = await world.patient()
    await ana.says("2 10")

    (kept,) = await ana.says("ask me at 8 pls")
    (how,) = await ana.says("can you text me later in the morning")

    assert "08:00" in kept
    assert "At what time" in how


@pytest.mark.parametrize(
    ("text", "sign", "part"),
    [
        pytest.param("i'm pregnant", "pregnant", "next working day", id="pregnant"),
        pytest.param("im having surgery next week", "surgery", "next working day", id="surgery"),
        pytest.param("can u call me", "asks-for-a-person", "want to talk", id="a call"),
    ],
)
async def test_what_a_clinician_must_weigh_is_escalated_and_said_so(
    world: World, text: str, sign: str, part: str
) -> None:
    """For the next working day, with the patient's own words."""
    await world.clinician("Ilse")
    ana = await world.patient()
    await ana.says("2 10")

    said = await ana.says(text)

    (raised,) = await world.escalations(ana)
    assert (raised.sign, str(raised.tier), raised.words) == (sign, "next working day", text)
    assert part in said[0]


async def test_a_new_medicine_is_asked_about_or_escalated(world: World) -> None:
    """Some medicines weaken a tendon, so which one it is matters the same day."""
    await world.clinician("Ilse")
    ana = await world.patient()
    await ana.says("2 10")

    said = await ana.says("they put me on blood pressure tablets")

    assert said != []
    assert "Which one" in said[0] or "YES" in said[0]


@pytest.mark.parametrize("text", ["I have the flu until friday", "sick until friday"])
async def test_who_is_ill_rests_and_is_asked_on(world: World, text: str) -> None:
    """The exercises pause; the mornings are asked, the session is not."""
    ana = await world.patient()
    await ana.says("2 10")

    said = await ana.says(text)
    await world.at("23:00")
    evening = ana.hears()
    await world.at("07:31")
    morning, advice = ana.hears(), await ana.says("2 10")

    assert "No exercises up to and including Friday 6 March" in said[0]
    assert evening == []
    assert "First-step pain" in morning[0]
    assert "Today is a rest day" in advice[0]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        pytest.param("my goal is now to walk the dog", 'your goal: "to walk the dog"', id="goal"),
        pytest.param("new goal", "MY GOAL IS", id="no goal"),
        pytest.param("can you write in Spanish pls", "te escribo en español", id="Spanish"),
        pytest.param("hola puede hablar español", "te escribo en español", id="in Spanish"),
    ],
)
async def test_a_wish_in_freer_words_is_carried_out(world: World, text: str, said: str) -> None:
    """And the question that waits is put again."""
    ana = await world.patient()

    heard = await ana.says(text)

    assert said in heard[0]
    assert len(heard) == 2


async def test_no_note_stands_against_an_open_warning_sign(world: World) -> None:
    """A calf that may hold a clot is not to be rubbed, warmed or flown with: what comes first is
    said again, also to words that nothing is made of, and to thanks. Source: as the sign's own."""
    await world.clinician("Ilse")
    ana = await world.patient()
    await ana.says("2 10")
    await ana.says("my calf is swollen and hot")

    for text in (
        "can i fly on friday", "should i massage it", "can i put heat on it",
        "can i take ibuprofen", "is it normal that it hurts", "do i really need a doctor", "thx",
    ):  # fmt: skip
        said = " ".join(await ana.says(text))
        assert "Please be seen by a doctor today first" in said, text
        assert "perhaps not today" not in said
        assert "all right" not in said


async def test_in_a_crisis_a_person_to_talk_to_comes_first(world: World) -> None:
    """Not the leg, and no form, whatever small thing is said."""
    await world.clinician("Ilse")
    ana, bea = await world.patient("Ana"), await world.patient("Bea")
    await ana.says("i dont want to live like this any more")
    await bea.says("im pregnant")

    for text in ("ok", "thx", "can i fly on friday"):
        (said,) = await ana.says(text)
        assert said.startswith("Please talk to a person now."), text
    massage = await bea.says("can i have a massage")

    assert massage[0] == "Please ask Ilse about that first."
