"""What clinicians order, for today and for good, through the real bot: rest, go on, limit, tell."""

from __future__ import annotations

import re

import pytest
from world import Voice, World

from bot.patient_record.remake import unpacked
from rules.protocol import Tendon

WORRY = "my whole calf is swollen and tender since yesterday"
ORDERS = ("rest Ana", "go on Ana", "limit Ana 3", "tell Ana: come on Friday", "discharge Ana")


async def treated(world: World, name: str = "Ana") -> Voice:
    """A patient who has answered this morning's questions with calm numbers."""
    patient = await world.patient(name)
    await patient.says("2 10")
    patient.hears()
    return patient


async def audited(world: World, action: str) -> list[str]:
    """Who did this, by name."""
    sql = """
    SELECT name FROM audit JOIN people ON people.id = audit.person WHERE action = :action
    """
    return [row["name"] for row in await world.rows(sql, action=action)]


async def test_rest_wins_over_the_rules_today_and_not_tomorrow(world: World) -> None:
    """The patient is told at once, hears the same after the morning's answers, and no session is
    asked about; the next morning has its session again."""
    ilse = await world.clinician("Ilse")
    ana = await world.patient()
    ana.hears()

    said = await ilse.says("rest Ana")
    told = ana.hears()
    answered = await ana.says("2 10")
    evening = await _heard_until(world, ana, "22:00")
    await world.at("07:31")

    assert said[0].startswith("Done.")
    assert told == answered
    assert "Today is a rest day, so leave the exercises. Ilse has asked for this today." in told[0]
    assert evening == []
    assert await audited(world, "RestToday") == ["Ilse"]
    assert [d.advice.reason for d in await world.decisions(ana)] == ["clinician-says-rest"] * 2
    assert (await ana.says("2 10"))[0].startswith("Do your first session today")


async def _heard_until(world: World, voice: Voice, clock: str) -> list[str]:
    await world.at(clock)
    return voice.hears()


async def test_go_on_offers_the_session_that_a_sore_morning_took_away(world: World) -> None:
    """At the present dose; "why?" names the clinician, and sore numbers do not take it back."""
    ilse = await world.clinician("Ilse")
    ana = await world.patient()
    rested = await ana.says("6 10")

    await ilse.says("go on Ana")
    told = ana.hears()
    corrected = await ana.says("sorry, I meant 7")
    why = await ana.says("why")
    await world.at("19:01")

    assert "rest day" in rested[0]
    assert "3 sets of 40 seconds" in told[0]
    assert "Ilse has looked at your plan and asks for this today." in told[0]
    assert "rest day" not in " ".join(corrected)
    assert "Ilse asked for your session on Monday" in why[0]
    assert "Sets done of 3?" in " ".join(ana.hears())
    assert await world.position(ana) == (1, 1)


async def test_the_last_word_of_the_day_counts(world: World) -> None:
    """Go on, then rest: there is no session."""
    ilse = await world.clinician("Ilse")
    ana = await treated(world)

    await ilse.says("go on Ana")
    await ilse.says("rest Ana")

    assert await world.decision(ana) == ("rest day", "clinician-says-rest")


async def test_go_on_is_refused_while_a_sign_is_open(world: World) -> None:
    """Close it first; then it is carried out."""
    ilse = await world.clinician("Ilse")
    ana = await treated(world)
    await ana.says(WORRY)

    refused = await ilse.says("go on Ana")
    nothing = ana.hears()
    await ilse.says("closed 1 seen, go on")
    await ilse.says("yes")
    done = await ilse.says("go on Ana")

    assert refused == ["Not done: close what is open about Ana first: 1."]
    assert nothing == []
    assert done[0].startswith("Done.")
    assert await world.decision(ana) == ("hold", "clinician-says-go-on")


async def test_go_on_is_refused_while_a_closed_question_waits(world: World) -> None:
    """Nobody is loaded before they have answered it."""
    ilse = await world.clinician("Ilse")
    ana = await world.patient()
    await ana.says("8 30")

    refused = await ilse.says("go on Ana")

    assert "was asked about a warning sign" in refused[0]


async def test_a_worse_session_after_go_on_is_for_the_rules(world: World) -> None:
    """Far over the limit it steps back on the same day; the word is kept from a second use."""
    ilse = await world.clinician("Ilse")
    ana = await treated(world)
    await ilse.says("go on Ana")

    for text in ("done", "3 7 3 4", "no 0"):
        await ana.says(text)
    again = await ilse.says("go on Ana")

    assert (await world.decision(ana))[1] == "pain-far-over-limit"
    assert again == ["Not done: Ana has reported a session today already."]


LIMITS = {
    "limit Ana 6": ("published ceiling (Silbernagel 2007", None),
    "limit Ana 3.5": ("a whole number from 0 to 5", None),
    "limit Ana": ("Expected: LIMIT Ana 3", None),
    "limit Zoe 3": ('no patient is named "Zoe"', None),
    "limit Ana 5": ("from 4 to 5 of 10. Reply YES", None),
    "limit Ana 3": ("limit of Ana is 3 of 10 now", 3),
    "limit Ana 0": ("limit of Ana is 0 of 10 now", 0),
}


async def test_a_pain_limit_is_set_or_the_reason_said(world: World) -> None:
    """Zero to the published ceiling; a higher one than now waits for a YES."""
    ilse = await world.clinician("Ilse")
    ana = await treated(world)

    for words, (reply, limit) in LIMITS.items():
        assert reply in (await ilse.says(words))[0]
        assert (await world.episode(ana)).pain_limit == limit, words
        assert bool(ana.hears()) == (limit is not None), words


async def test_decisions_use_the_new_limit(world: World) -> None:
    """A session with a pain of 3 is comfortable, and over a limit of 2."""
    ilse = await world.clinician("Ilse")
    ana = await treated(world)

    await ilse.says("limit Ana 2")
    told = ana.hears()
    for text in ("done", "3 3 3 4", "no 0"):
        await ana.says(text)

    assert "Ilse has set your pain limit to 2 of 10. Up to 2 is all right" in told[0]
    (kept,) = await world.rows("SELECT also FROM decisions ORDER BY id DESC LIMIT 1")
    assert '"pain_during": 3' in kept["also"]
    assert '"comfort_max": 2' in kept["also"]


async def test_a_slower_pace_is_told_shown_kept_and_taken_back(world: World) -> None:
    """Twice the days between raises, heeded by the next decision; the way back is as open."""
    ilse = await world.clinician("Ilse")
    ana = await treated(world)

    shown = await ilse.says("slower Ana")
    told = ana.hears()
    for text in ("done", "3 1 3 4", "no 0"):
        await ana.says(text)
    (kept,) = await world.rows("SELECT history FROM decisions ORDER BY id DESC LIMIT 1")
    back = await ilse.says("usual pace Ana")

    assert "slower: 14 days between raises" in shown[0]
    assert told == [
        "Ilse wants your plan to go up more slowly: 14 days or more from one step up to the next,"
        " to give the tendon time. Nothing else changes."
    ]
    assert unpacked(kept["history"]).slower
    assert "slower" not in back[0].partition("Ana: level")[2]
    assert "back to its usual pace: 7 days or more" in ana.hears()[-1]


@pytest.mark.parametrize(
    ("words", "reply", "place"),
    [
        pytest.param("", "begin at level 1, dose 1", (1, 1), id="not said"),
        pytest.param(" level 3 2", "begin at level 3, dose 2", (3, 2), id="a dose"),
        pytest.param(" level 99", "levels 1 to", None, id="no such level"),
        pytest.param(" level 3 9", "level 3 has doses 1 to", None, id="no such dose"),
        pytest.param(" level 8", "level 8 is closed for Bea", None, id="barred"),
    ],
)
async def test_the_ladder_begins_where_the_invitation_says(
    world: World, words: str, reply: str, place: tuple[int, int] | None
) -> None:
    """The stay there counts from the day on which the patient has answered all; a refusal leaves
    nobody behind."""
    ilse = await world.clinician("Ilse")

    said = await ilse.says(f"enrol Bea mid-portion{words}")
    code = re.search(r"/start (\w+-?\w+)", said[0])
    await world.at("09:00", days=2)

    assert reply in said[0]
    assert (code is not None) is (place is not None)
    if code is None:
        assert await world.rows("SELECT * FROM people WHERE name = 'Bea'") == []
        return
    bea = Voice(world, "Bea")
    skipped = () if words else ("skip",)
    replies = ("yes", "London", "yes", "07:30", "left", "2", "10", "skip", *skipped)
    for text in (f"/start {code[1]}", *replies):
        await bea.says(text)
    assert ("you hear if a higher level fits" in said[0]) is bool(skipped)
    assert await world.position(bea) == place
    moves = await world.rows("SELECT on_date, moved_by FROM moves")
    assert moves == [{"on_date": world.now.date().isoformat(), "moved_by": "enrolment"}]


@pytest.mark.parametrize(
    ("tendon", "said", "proposed"),
    [
        pytest.param("mid-portion", ("yes", "yes", "12"), 5, id="mid-portion, one leg"),
        pytest.param("mid-portion", ("yes", "no"), 3, id="mid-portion, two legs"),
        pytest.param("mid-portion", ("no",), None, id="mid-portion, holds"),
        pytest.param("mid-portion", ("skip",), None, id="mid-portion, skipped"),
        pytest.param("insertional", ("yes", "yes", "7"), 4, id="insertional, lowering on one"),
        pytest.param("heavy-slow", (), None, id="heavy: nothing is asked"),
    ],
)
async def test_what_a_patient_can_do_proposes_where_the_ladder_begins(
    world: World, tendon: str, said: tuple[str, ...], proposed: int | None
) -> None:
    """They begin at the first level until a clinician confirms the one that fits, by one command;
    that answers the proposal, and the patient hears of it."""
    ilse = await world.clinician("Ilse")
    kind = Tendon.INSERTIONAL if tendon == "insertional" else Tendon.MID_PORTION
    ana, code = await world.invited("Ana", kind, begins=None)
    if tendon == "heavy-slow":
        to_heavy = "UPDATE episodes SET protocol = 'heavy-slow'"
        await world.stage.run(lambda store: store.change(to_heavy))
    for text in (
        f"/start {code}",
        "yes",
        "London",
        "yes",
        "07:30",
        "left",
        "2",
        "10",
        "skip",
        *said,
    ):
        await ana.says(text)
    assert await world.position(ana) == (1, 1)
    await world.at("09:00")
    heard = " ".join(ilse.hears())

    assert ("if you agree: LEVEL Ana" in heard) is (proposed is not None)
    if proposed is None:
        return
    assert f"LEVEL Ana {proposed}." in heard
    await ilse.says(f"LEVEL Ana {proposed}")
    await ilse.says("yes")
    assert await world.position(ana) == (proposed, 1)
    assert "Ilse has changed your plan" in ana.hears()[-1]
    assert [one.closed_at is not None for one in await world.escalations(ana)] == [True]


async def test_a_level_before_enrolment_is_kept_until_then(world: World) -> None:
    """The last word holds, the patient is not asked what they can do, and a level that is closed to
    them is refused."""
    ilse = await world.clinician("Ilse")
    bea, code = await world.invited("Bea", begins=None)

    said = [(await ilse.says(f"level Bea {place}"))[0] for place in ("3", "4 2", "8")]
    for text in (f"/start {code}", "yes", "London", "yes", "07:30", "left", "2", "10"):
        await bea.says(text)
    await bea.says("skip")

    assert "to begin at level 3, dose 1" in said[0]
    assert "to begin at level 4, dose 2" in said[1]
    assert "level 8 is closed for Bea" in said[2]
    assert await world.position(bea) == (4, 2)
    assert not any("both feet ten times" in one for one in bea.hears())


async def test_words_arrive_whole_and_marked_as_the_clinicians(world: World) -> None:
    """Lines and signs as they were written; the audit has that it was said, never what."""
    ilse = await world.clinician("Ilse")
    ana = await treated(world)

    said = await ilse.says("tell Ana: See you on Friday?\nBring shoes: the old ones!")

    assert said == ["Sent to Ana."]
    assert ana.hears() == ["Ilse writes to you: See you on Friday?\nBring shoes: the old ones!"]
    assert await audited(world, "told a patient") == ["Ilse"]
    assert "Friday" not in str(await world.rows("SELECT details FROM audit"))


async def test_words_have_a_length(world: World) -> None:
    """What would not go into one message is refused, not cut; no words are no message."""
    ilse = await world.clinician("Ilse")
    ana = await treated(world)
    expected = "Not done. Expected: TELL Ana: and your words after the colon."

    assert await ilse.says("tell Ana: " + "a" * 1000) == ["Sent to Ana."]
    assert ana.hears()
    said = await ilse.says("tell Ana: " + "a" * 1001)
    assert said[0].startswith("Not done: your words are longer than 1000 characters")
    for words in ("tell Ana:", "tell Ana", "tell Ana come on Friday"):
        assert await ilse.says(words) == [expected]
    assert ana.hears() == []


async def test_a_patient_who_sent_stop_is_left_alone(world: World) -> None:
    """What needs their ears is refused with why; a change of plan counts, and the clinician hears
    that the patient was not told. Nothing reaches them.
    """
    ilse = await world.clinician("Ilse")
    ana = await treated(world)
    await ana.says("stop")

    for words in ("rest Ana", "go on Ana", "tell Ana: come on Friday"):
        assert (await ilse.says(words))[0].startswith("Not done: Ana sent STOP")
    for words in ("limit Ana 3", "level Ana 2", "pause Ana until I say"):
        assert "Ana sent STOP or cannot be reached here" in (await ilse.says(words))[0]
    assert ana.hears() == []


async def test_two_patients_of_one_name_are_never_guessed_between(world: World) -> None:
    """Nothing is done to either; the names are said where they differ."""
    ilse = await world.clinician("Ilse")
    one, other = await treated(world, "Ana Lund"), await treated(world, "Ana Maria")
    which = "Not done: more than one patient: Ana Lund, Ana Maria. Write the whole name."

    for words in (*ORDERS, "level Ana 2", "pause Ana until I say", "hops Ana yes"):
        assert await ilse.says(words) == [which], words
    assert one.hears() + other.hears() == []


async def test_nothing_is_ordered_for_who_was_discharged(world: World) -> None:
    """The way back is said."""
    ilse = await world.clinician("Ilse")
    ana = await treated(world)
    await ilse.says("discharge Ana")
    await ilse.says("yes")
    ana.hears()

    for words in ("rest Ana", "go on Ana", "limit Ana 3", "level Ana 2"):
        said = await ilse.says(words)
        assert said == ["Not done: Ana has been discharged. TAKE BACK Ana comes first."], words
    assert ana.hears() == []


async def test_before_the_first_questions_nothing_is_ordered(world: World) -> None:
    """A patient who has not joined yet has no plan, and no way to be told."""
    ilse = await world.clinician("Ilse")
    await world.invited("Ana")

    said = [(await ilse.says(words))[0] for words in ORDERS]

    assert [text for text in said if "has not answered the first questions" not in text] == [
        "Not done: there is no way left to reach Ana by this line. Call them."
    ]


async def test_it_works_by_sms(world: World) -> None:
    """Clinician and patient without a chat: typed words do it all."""
    ilse = await world.clinician("Ilse", channels=("text",))
    ilse.channel = "text"
    ana = await treated(world)

    said = []
    for words in ("LIMIT ANA 5", "REST ANA", "TELL ANA: HI"):
        said += await ilse.says(words)
        for code in re.findall(r"YES (\d{4})", said[-1]):
            said += await ilse.says(f"yes {code}")

    assert [text.split(".")[0] for text in said] == [
        "Not done yet", "Done: the pain limit of Ana is 5 of 10 now", "Done", "Not done yet",
        "Sent to Ana",
    ]  # fmt: skip
    assert len(ana.hears()) == 3


async def test_in_spanish_everyone_hears_spanish(world: World) -> None:
    """Commands, refusals and what the patient is told."""
    ilse = await world.clinician("Ilse")
    ana = await treated(world)
    await world.rows("UPDATE people SET language = 'es' RETURNING id")

    refused = await ilse.says("l\u00edmite Ana 6")
    asked = await ilse.says("l\u00edmite Ana 5")
    await ilse.says("s\u00ed")
    told = ana.hears()
    rest = await ilse.says("descanso Ana")

    assert "es el m\u00e1ximo publicado (Silbernagel 2007" in refused[0]
    assert asked[0].startswith("Todav\u00eda no se hizo.")
    assert "Ilse ha puesto tu l\u00edmite de dolor en 5 de 10." in told[0]
    assert rest[0].startswith("Hecho.")
    assert "Hoy es d\u00eda de descanso" in ana.hears()[0]


async def test_a_pause_says_until_when(world: World) -> None:
    """With the weekday and the date, or in words that it has no end; without either it is asked."""
    ilse = await world.clinician("Ilse")
    await world.patient("Ana")

    asked = "\n".join(await ilse.says("pause Ana"))
    dated = "\n".join(await ilse.says("pause Ana till 9 March"))
    endless = "\n".join(await ilse.says("pause Ana until I say"))
    again = "\n".join(await ilse.says("pause Ana till 4 March"))

    assert "Until when?" in asked
    assert "it is on pause up to and including Monday 9 March." in dated
    assert 'it is on pause."' in endless
    assert "31 Dec" not in endless
    assert "paused up to and including Wed 04 Mar" in again


async def test_thanks_take_nothing_and_a_guess_does_nothing(world: World) -> None:
    """What nobody has is named in the answer to "ok"; a misspelt command is only asked about."""
    ilse, ana = await world.clinician("Ilse"), await world.patient("Ana")

    idle = await ilse.says("thanks")
    guessed = await ilse.says("paus Ana till 9 March")
    await ana.says("my calf is swollen")
    ilse.hears()
    waiting = await ilse.says("\U0001f44d")

    assert idle == ["Thank you."]
    assert "Did you mean: PAUSE Ana till 9 March?" in guessed[0]
    assert "I HAVE IT 1" in waiting[0]
    assert [one.acknowledged_at for one in await world.escalations(ana)] == [None]
