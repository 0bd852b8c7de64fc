"""A patient's life through the real bot: mending, travelling, pausing, two channels, leaving."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from world import Voice, World

from bot.rehearsal.clinic import PATIENTS
from bot.rehearsal.people import Patient
from bot.store import people

MONDAY, TUESDAY = date(2026, 3, 2), date(2026, 3, 3)


async def session(patient: Voice, *, during: int = 2, after: int = 2) -> list[str]:
    """Answer the evening's questions."""
    await patient.says(f"3 {during} {after} 4")
    return await patient.says("no 0")


async def with_text(world: World, patient: Voice) -> None:
    """The patient has a verified number for text messages as well."""
    rows = await world.rows("SELECT id FROM people WHERE name = :name", name=patient.name)
    await world.stage.run(people.add_contact, rows[0]["id"], "text", patient.address, world.now)


# Mending


async def test_a_correction_changes_todays_advice_and_says_so(world: World) -> None:
    """A 6 after a calm session would do less; it was meant as a 2; both stay on record."""
    patient = await world.patient()
    await patient.says("2 10")
    await world.at("19:00")
    await session(patient)
    await world.at("07:30")
    await patient.says("6 10")
    before = await world.decision(patient)

    said = await patient.says("oops, change morning to 2")

    assert before == ("do less", "pain-over-ceiling")
    assert any("That changes today's advice" in text for text in said)
    assert (await world.answers(patient))["first-step-pain", TUESDAY] == 2
    assert await world.decision(patient) == ("rest day", "still-recovering")
    kept = await world.rows(
        "SELECT value, corrects FROM answers WHERE question = 'first-step-pain'"
    )
    assert [row["value"] for row in kept] == ["2", "6", "2"]
    assert kept[2]["corrects"] is not None


async def test_a_corrected_answer_takes_back_the_move_it_made(world: World) -> None:
    """Who was moved down for a slip of the finger stands where they stood."""
    patient = await world.patient()
    await world.put_at(patient, 3, 2)
    await patient.says("2 10")
    await world.at("19:00")
    await session(patient, during=7)
    moved = await world.position(patient)

    await patient.says("change during to 2")

    assert moved == (2, 4)
    assert await world.position(patient) == (3, 2)
    rows = await world.rows("SELECT undone_at FROM moves WHERE moved_by = 'rules'")
    assert [row["undone_at"] is not None for row in rows] == [True]


async def test_a_correction_that_changes_nothing_says_that_too(world: World) -> None:
    """The patient learns that the advice stands."""
    patient = await world.patient()
    await patient.says("2 10")

    said = await patient.says("change stiffness to 12")

    assert any("stays the same" in text for text in said)


async def test_an_edited_message_is_a_correction(world: World) -> None:
    """What the chat marks as edited replaces the answer it gave."""
    patient = await world.patient()
    await patient.says("5 10")
    sent = await world.rows("SELECT message_id FROM inbox ORDER BY id DESC LIMIT 1")
    local = world.stage.chat

    await _edit(world, local, patient, sent[0]["message_id"], "2 10")

    assert (await world.answers(patient))["first-step-pain", MONDAY] == 2


async def _edit(world: World, local, patient: Voice, corrects: str, text: str) -> None:
    from bot.ports import Incoming

    incoming = Incoming("chat", f"edit-{corrects}", patient.address, text, corrects=corrects)
    await world.stage.app.commit("chat", [incoming], None)
    await world.stage.settle()


# Life


async def test_another_morning_time_counts_from_the_next_morning(world: World) -> None:
    """Asked to come at 6:45, it comes at 6:45."""
    patient = await world.patient()
    await patient.says("2 10")

    said = await patient.says("ask me at 6:45")
    await world.at("06:44")
    early = patient.hears()
    await world.at("06:46")

    assert "06:45" in said[0]
    assert not any("First-step" in text for text in early)
    assert any("First-step" in text for text in patient.hears())


async def test_a_stay_elsewhere_ends_by_itself(world: World) -> None:
    """In New York until Tuesday, the morning comes at 7:30 there; on Wednesday at 7:30 at home."""
    patient = await world.patient()
    await patient.says("2 10")

    said = await patient.says("I am in New York till Tuesday")
    await world.at("07:31", days=0)
    in_london = patient.hears()
    await world.at("07:31", zone="America/New_York")
    in_new_york = patient.hears()
    await world.at("07:31")
    back = patient.hears()

    assert "New York" in said[0]
    assert not any("First-step" in text for text in in_london)
    assert any("First-step" in text for text in in_new_york)
    assert any("First-step" in text for text in back)
    rows = await world.rows("SELECT zone, home_zone FROM people WHERE name = 'Ana'")
    assert rows == [{"zone": "Europe/London", "home_zone": None}]


async def test_another_channel_is_used_first_and_answers_count_from_both(world: World) -> None:
    """The prompt comes by text; the answer comes by chat and lands on its question."""
    patient = await world.patient()
    await with_text(world, patient)
    await patient.says("2 10")

    await patient.says("text me instead")
    await world.at("07:31")
    sent = [line for line in world.lines if line.from_bot][-1]
    await patient.says("3 20", channel="chat")

    assert sent.channel == "text"
    kept = await world.answers(patient)
    assert (kept["first-step-pain", TUESDAY], kept["stiffness", TUESDAY]) == (3, 20)


async def test_plan_names_the_days_of_the_week_and_shows_the_exercise(world: World) -> None:
    """Every other day from today, marked as depending on the mornings, with a drawing."""
    patient = await world.patient()
    await patient.says("2 10")

    said = await patient.says("plan")

    text = next(text for text in said if "if the mornings are good" in text)
    assert "today, Wednesday, Friday, Sunday" in text
    shown = [outgoing for outgoing in world.outgoing if outgoing.picture]
    assert shown[-1].picture.startswith(b"\x89PNG")
    assert "Picture:" in shown[-1].text


async def test_pictures_are_not_sent_by_text(world: World) -> None:
    """A text channel gets the words alone."""
    patient = await world.patient()
    await with_text(world, patient)
    await patient.says("text me instead")

    said = await patient.says("plan")

    assert said
    assert not any(outgoing.picture for outgoing in world.outgoing)


async def test_how_am_i_doing_says_two_sentences_and_shows_the_weeks(world: World) -> None:
    """After four mornings there is a mean to say, and a picture of the answers."""
    patient = await world.patient()
    for pain in (2, 3, 2, 3):
        await patient.says(f"{pain} 10")
        await world.at("07:30")
    await patient.says("skip")

    said = await patient.says("how am I doing?")

    assert "about 2.5" in said[0]
    assert [o.picture is not None for o in world.outgoing][-1]


async def test_a_report_without_being_asked_counts(world: World) -> None:
    """ "did 3x12, pain 2, later 3" at noon: the evening asks none of it again."""
    patient = await world.patient()
    await patient.says("2 10")
    await world.at("12:00")

    await patient.says("did 3x40, pain 2, later 3")
    await patient.says("4 no 0")
    await world.at("19:05")
    evening = patient.hears()

    kept = await world.answers(patient)
    assert (kept["sets-done", MONDAY], kept["pain-during", MONDAY]) == (3, 2)
    assert kept["pain-after", MONDAY] == 3
    assert not any("How many sets" in text for text in evening)


# Late, double, crossed


async def test_a_button_pressed_twice_counts_once(world: World) -> None:
    """The second press of the same pad changes nothing."""
    patient = await world.patient()
    await world.at("07:31")
    payload = next(
        b.payload
        for o in reversed(world.outgoing)
        for row in o.choices
        for b in row
        if b.payload == "first-step-pain|2026-03-03||3"
    )

    for _ in range(2):
        await world.stage.say("chat", patient.address, "3", pressed=payload)

    rows = await world.rows(
        "SELECT count(*) AS n FROM answers WHERE question = 'first-step-pain'"
        " AND about_date = '2026-03-03'"
    )
    assert rows[0]["n"] == 1


async def test_a_button_a_week_old_changes_nothing(world: World) -> None:
    """A pad of last week is dead."""
    patient = await world.patient()
    await world.at("07:31")
    await world.at("07:31", days=6)

    await world.stage.say("chat", patient.address, "9", pressed="first-step-pain|2026-03-03||9")

    assert ("first-step-pain", TUESDAY) not in await world.answers(patient)


# Teaching


async def test_tips_come_one_a_day_two_a_week_and_never_twice_in_a_month(world: World) -> None:
    """Over four weeks of a steady patient."""
    await Patient(world.stage, PATIENTS[0]).enrol()

    await world.goes_to(world.now + timedelta(days=28))

    told = await world.rows("SELECT tip, on_date FROM tips_told WHERE tip NOT LIKE 'level %'")
    days = [date.fromisoformat(row["on_date"]) for row in told]
    assert len(told) >= 4
    assert len({row["tip"] for row in told}) == len(told)
    assert len(set(days)) == len(days)
    assert all(sum(0 <= (on - start).days < 7 for on in days) <= 2 for start in days)


async def test_what_set_it_off_is_asked_and_shown_back(world: World) -> None:
    """After a sore morning the patient is asked; the words come back with "how am I doing?"."""
    patient = await world.patient()
    await patient.says("2 10")
    await world.at("19:00")
    await session(patient)
    await world.at("07:31")
    said = await patient.says("5 20 7 7")

    await patient.says("a long walk on the beach")
    shown = await patient.says("how am I doing?")

    assert any("set it off" in text for text in said)
    assert any("a long walk on the beach" in text for text in shown)


# Leaving and coming back


@pytest.mark.parametrize("text", ["should I stop?", "quit after 2 sets"])
async def test_a_keyword_in_a_sentence_keeps_the_patient(world: World, text: str) -> None:
    """Only the whole message is an opt-out; the rest goes to a person."""
    patient = await world.patient()
    await world.clinician("Ilse")
    await patient.says("2 10")

    await patient.says(text)

    rows = await world.rows("SELECT opted_out_at FROM people WHERE name = 'Ana'")
    assert rows == [{"opted_out_at": None}]
    outcome = await world.rows("SELECT outcome FROM inbox ORDER BY id DESC LIMIT 1")
    seen = outcome[0]["outcome"] == "unread" or await world.escalations(patient)
    assert seen or "?" in (patient.world.lines[-1].text)


async def test_yes_is_an_answer_where_one_waits_and_a_return_where_one_left(world: World) -> None:
    """YES to the painkiller is an answer; YES from somebody who left brings them back."""
    patient = await world.patient()
    await patient.says("2 10")
    await world.at("19:00")
    await patient.says("3 2 2")
    await patient.says("4")

    await patient.says("YES")
    answered = (await world.answers(patient))["painkiller", MONDAY]
    await patient.says("STOP")
    back = await patient.says("YES")

    assert answered == 1
    assert "Welcome back" in back[0]


async def test_help_alone_is_told_and_help_with_a_sign_is_escalated(world: World) -> None:
    """HELP is the keyword; with a warning sign in it, the sign comes first."""
    patient = await world.patient()
    await world.clinician("Ilse")
    await patient.says("2 10")

    plain = await patient.says("HELP")
    none = await world.escalations(patient)
    await patient.says("help I heard a loud pop in my heel and cannot push off")

    assert "STOP" in plain[0]
    assert "emergency" in plain[0]
    assert none == []
    assert await world.escalations(patient)


async def test_a_sign_with_an_opt_out_is_escalated_first_and_the_opt_out_counts(
    world: World,
) -> None:
    """A sign, then STOP on its own line of thought: both count, and the clinician hears of both."""
    patient = await world.patient()
    clinician = await world.clinician("Ilse")
    await patient.says("2 10")

    await patient.says("my calf is swollen and hot and red")
    await patient.says("stop")

    raised = [escalation.sign for escalation in await world.escalations(patient)]
    assert raised[-1] == "opted-out"
    assert len(raised) >= 2
    assert clinician.hears()
    rows = await world.rows("SELECT opted_out_at FROM people WHERE name = 'Ana'")
    assert rows[0]["opted_out_at"] is not None


async def test_who_left_is_still_screened(world: World) -> None:
    """A warning sign from somebody who opted out is escalated all the same."""
    patient = await world.patient()
    await world.clinician("Ilse")
    await patient.says("STOP")

    await patient.says("I heard a loud pop in my heel and cannot push off")

    assert any(e.sign != "opted-out" for e in await world.escalations(patient))


async def test_another_language_from_the_next_word_on(world: World) -> None:
    """ "español" is answered in Spanish, and so is the next morning."""
    patient = await world.patient()

    said = await patient.says("español")
    await world.at("07:31")

    assert "español" in said[0]
    assert any("Buenos días" in text for text in patient.hears())
