"""A patient's week through the real bot: prompts, answers, advice, escalation, acknowledgement."""

from __future__ import annotations

from datetime import date

from world import World

MONDAY, TUESDAY, WEDNESDAY = date(2026, 3, 2), date(2026, 3, 3), date(2026, 3, 4)


async def session(patient, *, sets=3, during=2, after=2, effort=4, painkiller="no", minutes=0):
    """Answer the evening's questions."""
    await patient.says(f"{sets} {during} {after}")
    await patient.says(f"{effort} {painkiller}")
    return await patient.says(f"{minutes}")


async def test_enrolment_by_invitation_asks_consent_first_and_ends_with_the_first_prompt(
    world: World,
) -> None:
    """Consent, time zone, morning time, side, usual pain and stiffness; then the first morning."""
    patient, code = await world.invited("Ana")

    consent = await patient.says(f"/start {code}")
    await patient.says("yes")
    await patient.says("London")
    await patient.says("yes")
    await patient.says("7:30")
    await patient.says("left")
    await patient.says("2")
    await patient.says("10")
    welcome = await patient.says("skip")

    assert "not watched in an emergency" in consent[0]
    assert "7:30" in welcome[0]
    person = (await world.rows("SELECT * FROM people WHERE name = 'Ana'"))[0]
    assert person["consented_at"] == "2026-03-02T09:00:00Z"
    assert "STOP" in person["consent_wording"]
    assert (await world.episode(patient)).enrolled_on == MONDAY


async def test_an_invitation_works_once(world: World) -> None:
    """A second person with the same code stays a stranger."""
    patient, code = await world.invited("Ana")
    await patient.says(f"/start {code}")

    await world.stage.say("chat", "someone-else", f"/start {code}")

    assert await world.rows("SELECT * FROM contact_points WHERE address = 'someone-else'") == []


async def test_a_stranger_gets_one_fixed_reply_a_day(world: World) -> None:
    """Nothing is revealed, and the second message of the day is not answered."""
    for _ in range(3):
        await world.stage.say("chat", "stranger", "who is Ana?")

    replies = [line for line in world.lines if line.from_bot and line.address == "stranger"]
    assert len(replies) == 1
    assert "Ana" not in replies[0].text


async def test_a_week_of_good_answers_holds_then_advances_in_dose(world: World) -> None:
    """The first session is done once at its dose, then 24 and 48 hours are calm: dose 2."""
    patient = await world.patient()
    first = await patient.says("2 10")
    await world.at("19:00")
    await session(patient)
    await world.at("07:30")
    tuesday = await patient.says("2 10")
    await world.at("19:05")
    await patient.says("2")
    await world.at("07:30")

    wednesday = await patient.says("2 10 2")

    assert "Do your first session today" in first[0]
    assert "rest day" in tuesday[0]
    assert "Do a little more today" in wednesday[0]
    assert await world.position(patient) == (1, 2)
    assert await world.decision(patient) == ("advance", "ready")


async def test_each_answer_lands_on_its_day_and_session(world: World) -> None:
    """Follow-ups belong to the session they follow; mornings to their own date."""
    patient = await world.patient()
    await patient.says("2 10")
    await world.at("19:00")
    await session(patient, during=3, after=1, minutes=25)
    await patient.says("2")
    await world.at("07:30")
    await patient.says("3 20")
    await world.at("19:05")
    await patient.says("4")
    await world.at("07:30")
    await patient.says("1 5 2")

    kept = await world.answers(patient)

    assert kept["first-step-pain", TUESDAY] == 3
    assert kept["pain-during", MONDAY] == 3
    assert kept["activity-minutes", MONDAY] == 25
    assert kept["next-day-pain", MONDAY] == 4
    assert kept["two-day-pain", MONDAY] == 2
    assert kept["first-step-pain", WEDNESDAY] == 1


async def test_a_change_of_advice_says_so_and_why(world: World) -> None:
    """A session was said in the morning; a second number for that morning makes it a rest day."""
    patient = await world.patient()
    before = await patient.says("2 10")
    for text in ("6", "1"):
        after = await patient.says(text)

    assert before[0].startswith("Do your first session today")
    assert after[-1].startswith("That changes today's advice. Today is a rest day")
    assert "Your pain is 6, and your usual is 2" in after[-1]


async def test_pain_far_over_the_limit_steps_back_at_once_and_rests(world: World) -> None:
    """A session at 7 of 10 with a limit of 4: one step back, said after the report."""
    patient = await world.patient()
    await world.put_at(patient, 3, 2)
    await patient.says("2 10")
    await world.at("19:00")

    said = await session(patient, during=7, after=3)

    assert await world.decision(patient) == ("step back", "pain-far-over-limit")
    assert await world.position(patient) == (2, 4)
    assert any("Rest" in text and "7" in text for text in said)


async def test_a_warning_sign_stops_loading_and_goes_on_until_a_person_has_it(
    world: World,
) -> None:
    """Told at once on the first channel, again on the second, then the second clinician."""
    ilse, bram = await world.clinician("Ilse"), await world.clinician("Bram")
    patient = await world.patient()

    reply = await patient.says("my whole calf is swollen and tender since yesterday")
    first = ilse.hears()
    await world.at("09:31")
    second = ilse.hears()
    await world.at("10:02")
    third = bram.hears()
    await bram.says("I have it")
    await world.at("23:00")

    assert "seen by a doctor today" in reply[0]
    assert "I HAVE IT" in first[0]
    assert "REMINDER" in second[0]
    assert "calf is swollen" in third[0]
    (escalation,) = await world.escalations(patient)
    assert escalation.sign == "leg-clot"
    assert escalation.acknowledged_at is not None
    assert ["Bram has" in text for text in ilse.hears()] == [True]
    assert ["it is not closed" in text for text in bram.hears()] == [True]


async def test_done_at_noon_opens_the_report_and_the_evening_does_not_ask_again(
    world: World,
) -> None:
    """DONE starts the session report; a question is never asked twice."""
    patient = await world.patient()
    await patient.says("2 10")
    await world.at("12:00")

    opened = await patient.says("done")
    await session(patient)
    await world.at("22:00")

    assert "Sets done of 3" in opened[0]
    assert patient.hears() == []


async def test_skip_leaves_the_question_and_is_not_reminded(world: World) -> None:
    """SKIP is taken kindly; the reminder two hours later has nothing left to ask."""
    patient = await world.patient()

    said = await patient.says("skip")
    await world.at("12:00")

    assert said
    assert patient.hears() == []


async def test_an_unanswered_prompt_is_reminded_once(world: World) -> None:
    """One reminder, two hours later, and no more."""
    patient = await world.patient()
    patient.hears()

    await world.at("16:00")

    assert len([text for text in patient.hears() if "reminder" in text]) == 1


async def test_a_pause_for_a_week_is_quiet_and_ends_by_itself(world: World) -> None:
    """No prompts on the paused days; the morning after the last one asks again."""
    patient = await world.patient()
    said = await patient.says("pause for a week")

    await world.at("22:00", days=6)
    during = patient.hears()
    await world.at("08:00")

    assert "Sunday 8 March" in said[0]
    assert during == []
    assert len(patient.hears()) == 1


async def test_three_days_of_silence_go_to_a_clinician_once(world: World) -> None:
    """No answer for three days: one next-working-day matter, in working hours."""
    ilse = await world.clinician("Ilse")
    patient = await world.patient()

    await world.at("09:00", days=4)

    assert [e.sign for e in await world.escalations(patient)] == ["silence"]
    assert "No answer for 3 days" in ilse.hears()[0]


async def test_a_pain_of_ten_is_raised_and_the_closed_questions_are_asked(world: World) -> None:
    """Ten of ten is same day at least; the patient is asked what only they can tell. Where ten is
    no surprise, it is not asked back."""
    ilse = await world.clinician("Ilse")
    patient = await world.patient(usual_pain=6)

    said = await patient.says("10 30")

    assert any("YES or NO" in text for text in said)
    assert [e.sign for e in await world.escalations(patient)] == ["severe-pain"]
    assert "SAME DAY" in ilse.hears()[0]


async def test_a_closed_question_without_an_answer_escalates(world: World) -> None:
    """Silence is not a no: after the tier's time the matter goes to a clinician."""
    ilse = await world.clinician("Ilse")
    patient = await world.patient()

    asked = await patient.says("8 30")
    await world.at("11:00")

    assert any("YES or NO" in text for text in asked)
    assert ilse.hears()
    assert await world.escalations(patient)


async def test_stop_ends_prompts_tells_the_clinician_and_start_brings_them_back(
    world: World,
) -> None:
    """STOP is confirmed once and honoured; START asks again from the next morning."""
    ilse = await world.clinician("Ilse")
    patient = await world.patient()
    stopped = await patient.says("STOP")

    await world.at("22:00", days=1)
    silence = patient.hears()
    await patient.says("START")
    patient.hears()
    await world.at("08:00")

    assert len(stopped) == 1
    assert silence == []
    assert any("opted out" in text for text in ilse.hears())
    assert len(patient.hears()) == 1


async def test_after_the_last_no_the_advice_that_waited_is_said(world: World) -> None:
    """A pain of 8 opens closed questions; once each is answered with no, the patient is not left
    without today's advice."""
    await world.clinician("Ilse")
    patient = await world.patient()
    asked = await patient.says("8 30")
    first, second = await patient.says("no"), await patient.says("no")

    last = await patient.says("no")

    assert len(asked) == 1
    assert not any("exercises" in text for text in (*first, *second))
    assert any("leave the exercises" in text and "8" in text for text in last)


async def test_numbers_before_an_unclear_worry_are_decided_on_and_said_after_the_no(
    world: World,
) -> None:
    """ "3 10 but could it be a clot" keeps both answers, and the advice comes after the no."""
    await world.clinician("Ilse")
    patient = await world.patient()
    asked = await patient.says("3 10 but could it be a clot")

    said = await patient.says("no")

    assert "YES or NO" in asked[-1]
    assert (await world.answers(patient))["first-step-pain", MONDAY] == 3
    assert any("session today" in text for text in said)


async def test_a_ten_before_an_unclear_worry_is_raised_at_once(world: World) -> None:
    """The pain counts even where the words only lead to a question."""
    await world.clinician("Ilse")
    patient = await world.patient()

    await patient.says("10 30 but could it be a clot")

    assert [e.sign for e in await world.escalations(patient)] == ["severe-pain"]
