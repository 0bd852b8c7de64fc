"""Who needs somebody and why, and how one patient is doing: lines, picture, command."""

from __future__ import annotations

import json
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from acts.typing_commands import typed
from world import CLINIC_TABLE, Voice, World

from bot.clinicians.need import Need, NeedKind, Response
from bot.clinicians.patient_summary import patient_lines, patient_picture, patient_svg
from bot.clinicians.worklist import Entry, entry_lines, needs_of
from bot.patient_record.record import PatientRecord
from bot.store import answers, decisions, people, pictures
from rules.protocol import Position
from rules.reasons import Action, Advice, Finding, Reason

WORRY = "my whole calf is swollen and tender since yesterday"


async def listed(world: World) -> list[Need]:
    """All needs at the present instant, in the order of the people."""
    entries = await world.stage.run(needs_of, world.clinic, world.now)
    return [need for entry in entries for need in entry.needs]


async def case_of(world: World, voice: Voice, work: Any) -> Any:
    """What a function says of a patient's case at the present instant."""
    return await world.stage.run(
        lambda store: work(
            PatientRecord(
                store, world.clinic, people.patients_named(store, voice.name)[0], world.now
            )
        )
    )


async def decide(world: World, voice: Voice, action: Action, reason: Reason, on: date) -> None:
    """Keep a decision as the rules would, with one reason."""
    place = Position(1, 1)
    advice = Advice(on, Finding(action, reason, {}), (), place, place)
    await case_of(
        world,
        voice,
        lambda case: decisions.keep(
            case.store, case.episode.id, advice, case.protocol, b"", case.now, None
        ),
    )


async def test_nobody_is_waiting_where_all_is_well(world: World) -> None:
    """A patient who was enrolled today and answers needs nobody."""
    ilse, patient = await world.clinician("Ilse"), await world.patient()
    await patient.says("2 10")

    assert await ilse.says("who needs me?") == ["Nobody is waiting."]


async def test_a_message_that_nobody_could_read_is_listed_last_with_its_count(
    world: World,
) -> None:
    """A worry of another patient, and what nobody has, stand above it."""
    ilse = await world.clinician("Ilse")
    ana, bea = await world.patient("Ana"), await world.patient("Bea")
    await ana.says("the green moon sings to the ladder")
    await bea.says(WORRY)

    lines = (await ilse.says("who needs me?"))[0].splitlines()

    assert lines[0].startswith("Bea: 1 same day, leg clot")
    assert lines[1:] == ["Ana: 1 message that I could not read"]


async def test_what_nobody_has_stands_above_what_somebody_has_of_the_same_tier(
    world: World,
) -> None:
    """The first is taken, so the second comes first, with who has the other."""
    ilse = await world.clinician("Ilse")
    for name in ("Ana", "Bea"):
        patient = await world.patient(name)
        await patient.says(WORRY)
    await ilse.says("I have it 1")

    found = await listed(world)

    assert [(need.patient, need.held_by) for need in found] == [("Bea", None), ("Ana", "Ilse")]


async def test_a_step_back_is_a_reason_for_seven_days(world: World) -> None:
    """On the sixth day after it the patient is listed, on the seventh no longer for that."""
    patient = await world.patient()
    await patient.says("2 10")
    await world.at("19:00")
    for text in ("3 7 3 4", "no 0"):
        await patient.says(text)

    at_once = await listed(world)
    await world.at("06:00", days=5)
    sixth = await listed(world)
    await world.at("06:00")
    seventh = await listed(world)

    kinds = [{need.kind for need in found} for found in (at_once, sixth, seventh)]
    assert [NeedKind.STEPPED_BACK in one for one in kinds] == [True, True, False]
    assert at_once[0].why == "stepped back Mon 02 Mar"


async def test_an_alarm_about_silence_is_not_said_twice(world: World) -> None:
    """Three silent days raise a matter; the same reason is not listed beside it until it closes."""
    ilse = await world.clinician("Ilse")
    patient = await world.patient()
    await patient.says("2 10")
    await world.at("08:10", days=2)

    open_one = [need.kind for need in await listed(world)]
    await ilse.says("closed 1 spoke")
    closed = [need.why for need in await listed(world)]

    assert open_one == [NeedKind.ESCALATION]
    assert closed == ["no answer for 3 days"]


@pytest.mark.parametrize(
    ("answered", "asked", "low"),
    [
        pytest.param(2, 5, True, id="under sixty percent"),
        pytest.param(3, 5, False, id="at sixty percent"),
        pytest.param(4, 5, False, id="over sixty percent"),
        pytest.param(0, 4, False, id="too few asked to say"),
        pytest.param(0, 5, True, id="just enough asked"),
        pytest.param(0, 0, False, id="nothing asked"),
    ],
)
def test_a_rate_is_low_under_sixty_percent_of_five_mornings(
    answered: int, asked: int, low: bool
) -> None:
    """The limit itself is not low, and fewer than five mornings say nothing."""
    assert Response(answered, asked).is_low == low


@pytest.mark.parametrize(
    ("action", "reason", "kind", "why"),
    [
        pytest.param(
            Action.HOLD,
            Reason.NEEDS_CLINICIAN,
            NeedKind.AT_A_GATE,
            "next step needs a clinician's yes",
            id="waiting at a gate",
        ),
        pytest.param(
            Action.REST_DAY,
            Reason.NEXT_DAY_ABOVE_USUAL,
            NeedKind.NOT_SETTLING,
            "not settling (next day above usual)",
            id="not settling",
        ),
    ],
)
async def test_the_latest_decision_is_a_reason(
    world: World, action: Action, reason: Reason, kind: NeedKind, why: str
) -> None:
    """What the rules hold a patient back for is what a clinician is told."""
    patient = await world.patient()
    await decide(world, patient, action, reason, date(2026, 3, 2))

    assert [(need.kind, need.why) for need in await listed(world)] == [(kind, why)]


async def test_an_old_decision_is_no_reason(world: World) -> None:
    """Four days later it says nothing about today."""
    patient = await world.patient()
    await decide(world, patient, Action.HOLD, Reason.NEEDS_CLINICIAN, date(2026, 2, 26))

    assert await listed(world) == []


def test_a_patient_with_several_reasons_has_one_line() -> None:
    """All of them stand in it."""
    reasons = tuple(Need("Bea", 2, NeedKind.UNREAD, why) for why in ("stepped back", "1 message"))

    assert entry_lines([Entry(2, "Bea", reasons)]) == ["Bea: stepped back; 1 message"]


MORNINGS = {
    # Usual 2, limit 4. Over the limit goes before above usual, more of it before less.
    "Ana": (2, 2, 2, 6, 6, 6, 6),
    "Bea": (2, 2, 2, 2, 2, 5, 5),
    "Cleo": (2, 2, 2, 4, 4, 4, 4),
    "Dora": (2, 2, 2, 2, 2, 2, 2),
    "Edda": (2, 2, 2, 2, 2, 2, 8),
}


async def test_people_are_ranked_by_what_can_hurt_and_then_by_the_numbers(world: World) -> None:
    """Tier, sign, distance from limit and usual, silence, words: each once, all others alike."""
    ilse = await world.clinician("Ilse")
    for name, pains in {**MORNINGS, "Fay": (), "Gro": (2,), "Hal": (2,), "Ida": ()}.items():
        patient = await world.patient(name)
        await keep_mornings(world, patient, pains)
        if name in ("Fay", "Gro", "Hal"):
            await patient.says({"Fay": "stop all messages", "Gro": "i feel hopeless lately"}.get(
                name, "the green moon sings to the ladder"
            ))  # fmt: skip
        if name == "Ida":
            await patient.says(WORRY)

    lines = (await ilse.says("who needs me?"))[0].splitlines()

    assert [line.split(":")[0] for line in lines] == [
        "Ida", "Gro", "Ana", "Bea", "Cleo", "Fay", "Hal",
    ]  # fmt: skip
    assert "over the limit of 4 on 4 of 7 mornings, up to 6 (usual 2)" in lines[2]


async def test_the_list_goes_on_ten_people_at_a_time(world: World) -> None:
    """The second page has the eleventh and twelfth; after it nothing is left."""
    ilse = await world.clinician("Ilse")
    for letter in "abcdefghijkl":
        patient = await world.patient(f"Ana{letter}")
        await decide(world, patient, Action.HOLD, Reason.NEEDS_CLINICIAN, date(2026, 3, 2))

    first = (await ilse.says("who needs me?"))[0].splitlines()
    second = (await ilse.presses("More"))[0].splitlines()
    third = await ilse.says("more")

    names = [line.split(":")[0] for line in first[:-1] + second]
    assert names == [f"Ana{letter}" for letter in "abcdefghijkl"]
    assert first[-1] == "And 2 more: MORE."
    assert "nothing is left of the list" in third[0]


async def test_what_is_new_since_somebody_looked_is_marked_for_them_alone(world: World) -> None:
    """A second reason makes a known person new once more; a look makes nothing new."""
    ilse, bram = await world.clinician("Ilse"), await world.clinician("Bram")
    ana, bea = await world.patient("Ana"), await world.patient("Bea")
    await ana.says("the green moon sings to the ladder")
    first = await ilse.says("who needs me?")
    await bea.says("the green moon sings to the ladder")
    second = await ilse.says("who needs me?")
    third = await ilse.says("who needs me?")
    await ana.says("the purple sky whistles to the bridge")
    fourth = await ilse.says("who needs me?")

    assert [said[0].count("NEW") for said in (first, second, third, fourth)] == [0, 1, 0, 1]
    assert "NEW Ana" in fourth[0]
    assert "NEW" not in (await bram.says("who needs me?"))[0]


async def test_done_for_now_holds_until_there_is_more_or_a_week_has_passed(world: World) -> None:
    """For the one who said so. What is open cannot be set aside."""
    ilse, bram = await world.clinician("Ilse"), await world.clinician("Bram")
    ana, bea = await world.patient("Ana"), await world.patient("Bea")
    await keep_mornings(world, ana, (6, 6))
    await bea.says(WORRY)

    refused = await ilse.says("done for now Bea")
    done = await ilse.says("done for now Ana")
    hidden = await ilse.says("who needs me?")
    await keep_mornings(world, ana, (7,))
    worse = await ilse.says("who needs me?")
    await ilse.says("done for now Ana")
    await world.goes_to(world.now + timedelta(days=7))
    later = await ilse.says("who needs me?")

    assert "1" in refused[0]
    assert "Bea" in refused[0]
    assert done == [
        "Ana is off your list for now, and comes back when there is more to see, or after a week."
    ]
    assert "Ana" not in hidden[0]
    assert "You have set 1 aside" in hidden[0]
    assert "Ana" in (await bram.says("who needs me?"))[0]
    assert "NEW Ana" in worse[0]
    assert "Ana" in later[0]


async def test_a_patient_is_five_lines_and_a_picture_that_belongs_to_them(world: World) -> None:
    """The picture goes when the patient's data goes, as it is kept under the patient."""
    patient = await world.patient()
    await patient.says("2 10")

    lines = await case_of(world, patient, patient_lines)
    number = await case_of(world, patient, patient_picture)

    assert len(lines) == 5
    assert lines[1].startswith("Too few answers to compare with the 14 days before. ")
    assert "No session yet" in lines[1]
    assert lines[3] == "First-step pain, last 1 answers: 2 (usual 2)"
    kept = await world.stage.run(pictures.png, number)
    assert kept is not None
    assert kept.startswith(b"<svg")
    rows = await world.rows("SELECT people.name FROM people JOIN pictures ON person = people.id")
    assert rows == [{"name": "Ana"}]


async def test_before_enrolment_there_is_no_picture(world: World) -> None:
    """Somebody who was only invited has four lines and nothing to draw."""
    voice, _code = await world.invited("Ana")

    lines = await case_of(world, voice, patient_lines)

    assert await case_of(world, voice, patient_svg) is None
    assert await case_of(world, voice, patient_picture) is None
    assert lines[0] == "Ana: not enrolled yet, to begin at level 1, dose 1"
    assert len(lines) == 4


async def test_the_picture_shows_the_evenings_step_back(world: World) -> None:
    """In the reader's language: the session, over its limit, at the place it was done at."""
    patient = await world.patient()
    await patient.says("2 10")
    await world.at("19:00")
    for text in ("3 7 3 4", "no 0"):
        await patient.says(text)

    svg = await case_of(world, patient, patient_svg)
    spanish = await case_of(world, patient, lambda case: patient_svg(case, "es"))

    assert "Step back: 2 Mar" in svg
    assert "Sessions 1, worst pain 7 to 7" in svg
    assert ">step back</text>" in svg
    assert ">Carga hecha: nivel de 9, dosis entre medio</text>" in spanish
    assert "step back" not in spanish


@pytest.mark.parametrize("as_json", [False, True])
async def test_the_command_lists_and_shows(
    world: World,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    as_json: bool,
) -> None:
    """The list of all, and four lines for one, as text and as JSON."""
    await world.clinician("Ilse")
    patient = await world.patient()
    await patient.says(WORRY)
    config = tmp_path / "clinic.toml"
    config.write_text(f'{CLINIC_TABLE}[store]\npath = "{tmp_path / "world.sqlite"}"\n')
    flags = ["--config", str(config), *(["--json"] if as_json else [])]

    every = typed(monkeypatch, capsys, "caseload", *flags)
    one = typed(monkeypatch, capsys, "caseload", "Ana", *flags)

    assert (every.status, one.status) == (0, 0)
    if as_json:
        need = json.loads(every.out)["needs"][0]
        assert (need["patient"], need["tier"], need["escalation"]) == ("Ana", "same day", 1)
        assert len(json.loads(one.out)["lines"]) == 4
    else:
        assert every.out.startswith("Ana: 1 same day, leg clot, since")
        assert one.out.startswith("Ana: level 1, dose 1")


async def keep_mornings(world: World, voice: Voice, pains: tuple[int, ...]) -> None:
    """First-step pains of following mornings, the last one today."""
    first = world.now.date() - timedelta(days=len(pains) - 1)
    for number, pain in enumerate(pains):
        about = first + timedelta(days=number)
        await case_of(
            world,
            voice,
            lambda case, about=about, pain=pain: answers.keep(
                case.store, case.episode.id, "first-step-pain", about, pain, case.now, None
            ),
        )


FALLING = (5, 5, 4, 5, 4, 4, 3, 4, 3, 3, 2, 3, 2, 2)


@pytest.mark.parametrize(
    ("pains", "told"),
    [
        # Slope by the day -0.25, interval -0.333 to -0.167, worked out for these numbers.
        pytest.param(FALLING, "; falling 1.8 a week (95 % 1.2 to 2.3), 14 answers", id="falling"),
        pytest.param(
            FALLING[::-1], "; rising 1.8 a week (95 % 1.2 to 2.3), 14 answers", id="rising"
        ),
        pytest.param(
            (3, 2, 3, 4, 3, 2, 3, 3, 2, 4, 3, 3, 2, 3), "; no clear trend (95 %", id="neither"
        ),
        pytest.param(FALLING[-7:], "", id="too few answers"),
    ],
)
async def test_a_clinician_reads_where_the_pain_is_heading(
    world: World, pains: tuple[int, ...], told: str
) -> None:
    """The slope by the week with its interval and how many answers it stands on; the patient is
    told none of it."""
    patient = await world.patient()
    await keep_mornings(world, patient, pains)

    lines = await case_of(world, patient, patient_lines)
    heard = await patient.says("how am i doing")

    assert told in lines[3]
    assert ("95 %" in lines[3]) is bool(told)
    assert not any("95 %" in text or "trend" in text for text in heard)
