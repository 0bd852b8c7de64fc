"""Owners and clinicians join by a code, and leave and come back by a word, through the real bot."""

from __future__ import annotations

import re
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from acts.typing_commands import typed
from world import CLINIC_TABLE, MONDAY, Voice, World, number_in

from bot.clinicians.invite import invite_staff
from bot.commands.serve import problems_of
from bot.errors import RefusedError
from bot.phone_numbers import KEPT_DAYS
from bot.rehearsal.stage import CHAT, TEXT
from bot.settings import read_settings
from bot.store import people
from bot.store.database import Store
from bot.store.migrations import migrate
from bot.store.people import Role

WORRY = "my whole calf is swollen and tender since yesterday"

CONFIG = (
    CLINIC_TABLE
    + """\
[store]
path = "{path}"
"""
)


async def joined(world: World, name: str, role: Role, language: str = "en") -> Voice:
    """Somebody of the clinic who has sent their code, on the chat."""
    code = await world.stage.run(invite_staff, role, name, language, world.now)
    voice = Voice(world, name)
    await voice.says(f"/start {code}")
    return voice


async def audited(world: World, action: str) -> int:
    """How many lines of audit there are of an action."""
    sql = "SELECT count(*) AS n FROM audit WHERE action = :action"
    return int((await world.rows(sql, action=action))[0]["n"])


# Joining


@pytest.mark.parametrize(
    ("command", "role"),
    [
        pytest.param(("invite-owner", "Oda"), "owner", id="an owner"),
        pytest.param(("invite-clinician", "Oda"), "clinician", id="a clinician"),
        pytest.param(("invite-clinician", "Oda", "--lead"), "lead clinician", id="a lead"),
    ],
)
def test_staff_are_invited_on_the_command_line(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    command: tuple[str, ...],
    role: str,
) -> None:
    """A code is shown, and a second one of the same name is refused with a sentence."""
    config = tmp_path / "clinic.toml"
    config.write_text(CONFIG.format(path=tmp_path / "clinic.sqlite"))
    words = (*command, "--config", str(config), "--language", "es")

    first = typed(monkeypatch, capsys, *words)
    second = typed(monkeypatch, capsys, *words)

    store = people_in(tmp_path / "clinic.sqlite")
    assert re.search(r"Code for Oda: [A-Z0-9]{8}", first.out)
    assert [(one.role, one.language) for one in store] == [(role, "es")]
    assert (second.status, "is named Oda already" in second.err) == (2, True)


def people_in(path: Path) -> list[people.Person]:
    """Everybody in a store."""
    store = Store(path, read_only=True)
    found = people.by_role(store, *Role)
    store.close()
    return found


def test_a_language_that_does_not_ship_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The sentence names those there are, and nobody is added."""
    config = tmp_path / "clinic.toml"
    config.write_text(CONFIG.format(path=tmp_path / "clinic.sqlite"))

    ended = typed(
        monkeypatch, capsys, "invite-owner", "Oda", "--config", str(config), "--language", "xx"
    )

    assert (ended.status, "en, es" in ended.err) == (2, True)
    assert people_in(tmp_path / "clinic.sqlite") == []


@pytest.mark.parametrize("name", ["", "  ", "ilse"])
async def test_staff_need_a_name_of_their_own(world: World, name: str) -> None:
    """An empty name, and one that differs by capitals only, are refused."""
    await world.clinician("Ilse")

    with pytest.raises(RefusedError):
        await world.stage.run(invite_staff, Role.OWNER, name, "en", world.now)


async def test_an_owner_joins_hears_that_it_runs_and_reads_nothing(world: World) -> None:
    """The code is used once; data of patients is refused with a sentence that the audit keeps."""
    await world.clinician("Ilse")
    await world.patient()
    code = await world.stage.run(invite_staff, Role.OWNER, "Oda", "en", world.now)
    oda = Voice(world, "Oda")

    welcome = await oda.says(code)
    refused = [await oda.says(words) for words in ("show Ana", "who needs me?")]
    unknown = await oda.says("good morning")
    await world.at("08:15")

    assert "Every working day" in welcome[0]
    assert "I HAVE IT" not in welcome[0] + unknown[0]
    assert all("only a clinician may" in said[0] for said in refused)
    assert await audited(world, "refused") == 2
    assert [text for text in oda.hears() if text.startswith("nextmorning is running: 1 patients")]
    assert await Voice(world, "Other").says(code) == [
        "This is a private line. If your clinic sent you a code, please send it here."
    ]


# Leaving


async def test_a_clinician_who_leaves_is_told_once_and_the_others_know(world: World) -> None:
    """One confirmation, then nothing more on that channel; a colleague and the owner are told."""
    ilse = await world.clinician("Ilse", (CHAT,))
    bram = await world.clinician("Bram", (CHAT,))
    oda = await joined(world, "Oda", Role.OWNER)
    patient = await world.patient()
    for voice in (bram, oda):
        voice.hears()

    confirmed = await ilse.says("STOP")
    told = [bram.hears(), oda.hears()]
    await patient.says(WORRY)
    await world.at("23:00", days=1)

    assert len(confirmed) == 1
    assert "START" in confirmed[0]
    assert all("Ilse" in one[0] and "hears no alarms" in one[0] for one in told)
    assert ilse.hears() == []
    assert any("SAME DAY. Ana" in text for text in bram.hears())
    assert await audited(world, "opted out") == 1


async def test_an_alarm_that_was_told_goes_to_the_next_person_at_once(world: World) -> None:
    """What the one who left was told counts as not heard."""
    ilse = await world.clinician("Ilse", (CHAT,))
    bram = await world.clinician("Bram", (CHAT,))
    patient = await world.patient()
    await patient.says(WORRY)
    before = bram.hears()

    await ilse.says("stop")
    await world.goes_to(world.now + timedelta(minutes=1))

    assert before == []
    assert any("SAME DAY. Ana" in text for text in bram.hears())


async def test_what_somebody_had_who_leaves_is_chased_again(world: World) -> None:
    """The holder hears nothing more, so the matter needs another one."""
    ilse = await world.clinician("Ilse", (CHAT,))
    bram = await world.clinician("Bram", (CHAT,))
    patient = await world.patient()
    await patient.says(WORRY)
    await ilse.says("I have it")
    bram.hears()

    await ilse.says("STOP")
    await world.goes_to(world.now + timedelta(minutes=1))

    (escalation,) = await world.escalations(patient)
    assert escalation.acknowledged_by is None
    assert any("SAME DAY. Ana" in text for text in bram.hears())


async def stops(voice: Voice, channel: str) -> list[str]:
    """Ask for silence there; on a telephone the code that was sent goes with it."""
    said = await voice.says("STOP", channel=channel)
    if channel == TEXT:
        said = await voice.says(f"STOP {number_in(said[0])}", channel=channel)
    return said


async def test_with_another_channel_alarms_go_on_there(world: World) -> None:
    """Silence is for the channel that it was asked on."""
    ilse = await world.clinician("Ilse", (CHAT, TEXT))
    bram = await world.clinician("Bram", (CHAT,))
    patient = await world.patient()

    confirmed = await stops(ilse, TEXT)
    told = bram.hears()
    await patient.says(WORRY)
    await world.at("23:00")

    assert "Alarms still reach you in your chat" in confirmed[0]
    assert "Alarms still reach them in their chat" in told[0]
    lines = [line for line in world.lines if line.address == "ilse" and line.from_bot]
    assert [line.channel for line in lines].count(TEXT) == 2  # the code, and that it is done
    assert any("SAME DAY. Ana" in line.text for line in lines if line.channel == CHAT)


async def test_the_last_one_who_hears_is_told_so_and_so_is_the_owner(world: World) -> None:
    """Plainly, at once, in the audit, and again every working day."""
    ilse = await world.clinician("Ilse", (CHAT,))
    oda = await joined(world, "Oda", Role.OWNER)
    oda.hears()

    confirmed = await ilse.says("STOP")
    told = oda.hears()
    await world.at("08:15")
    daily = oda.hears()

    assert "NOBODY HEARS ALARMS NOW" in confirmed[0]
    assert "NOBODY HEARS ALARMS NOW" in told[0]
    assert "NOBODY HEARS ALARMS" in daily[0]
    assert await audited(world, "nobody hears alarms") == 1


@pytest.mark.parametrize(
    ("opted_out", "said"),
    [
        pytest.param(False, False, id="somebody hears"),
        pytest.param(True, True, id="the only one has left"),
    ],
)
def test_the_check_before_serving_says_that_nobody_would_be_told(
    tmp_path: Path, opted_out: bool, said: bool
) -> None:
    """A clinician who wants no messages is nobody to tell."""
    config = tmp_path / "clinic.toml"
    config.write_text(CONFIG.format(path=tmp_path / "clinic.sqlite"))
    store = Store(tmp_path / "clinic.sqlite")
    migrate(store)
    ilse = people.add(store, Role.CLINICIAN, "Ilse", MONDAY)
    if opted_out:
        people.opt_out(store, ilse.id, MONDAY)
    store.close()

    found = problems_of(read_settings(config))

    assert any(one.startswith("nobody would be told") for one in found) is said


async def test_the_patient_is_not_told_that_somebody_who_left_is_being_told(world: World) -> None:
    """The name is that of whoever does hear."""
    ilse = await world.clinician("Ilse", (CHAT,))
    await world.clinician("Bram", (CHAT,))
    patient = await world.patient()
    await ilse.says("STOP")

    heard = await patient.says(WORRY)

    assert "I am passing this on to Bram now" in heard[0]


async def test_start_brings_a_clinician_back(world: World) -> None:
    """Alarms come again, and those who were told of the leaving are told of the return."""
    ilse = await world.clinician("Ilse", (CHAT,))
    oda = await joined(world, "Oda", Role.OWNER)
    patient = await world.patient()
    await ilse.says("STOP")
    oda.hears()

    back = await ilse.says("START")
    told = oda.hears()
    await patient.says(WORRY)

    assert "You hear alarms" in back[0]
    assert told == ["Ilse hears alarms again."]
    assert any("SAME DAY. Ana" in text for text in ilse.hears())


@pytest.mark.parametrize(
    ("channel", "said"),
    [
        pytest.param(CHAT, 1, id="a chat says once a day how to come back"),
        pytest.param(TEXT, 0, id="a telephone stays silent"),
    ],
)
async def test_nothing_is_carried_out_on_a_channel_that_was_stopped(
    world: World, channel: str, said: int
) -> None:
    """Nobody reads there what the bot would answer, so it does nothing and tells nothing."""
    ilse = await world.clinician("Ilse", (channel,))
    patient = await world.patient()
    await patient.says(WORRY)
    await stops(ilse, channel)

    heard = [await ilse.says(words, channel=channel) for words in ("I have it 1", "show Ana")]

    (escalation,) = await world.escalations(patient)
    assert escalation.acknowledged_at is None
    assert len([text for texts in heard for text in texts]) == said
    assert "Ana" not in str(heard)


@pytest.mark.parametrize(
    ("after", "back"),
    [
        pytest.param(timedelta(days=KEPT_DAYS) - timedelta(seconds=2), True, id="under the time"),
        pytest.param(timedelta(days=KEPT_DAYS), False, id="at the time"),
        pytest.param(timedelta(days=KEPT_DAYS + 1), False, id="over the time"),
    ],
)
async def test_start_on_a_telephone_counts_only_for_a_time(
    world: World, after: timedelta, back: bool
) -> None:
    """Later the number may be a stranger's, who must not hear alarms."""
    ilse = await world.clinician("Ilse", (TEXT,))
    await stops(ilse, TEXT)
    left = world.now
    await world.goes_to(left + after)

    heard = await ilse.says("START", channel=TEXT)

    assert ("private line" in heard[0]) is not back
    rows = await world.rows("SELECT opted_out_at FROM people WHERE name = 'Ilse'")
    assert (rows[0]["opted_out_at"] is None) is back


async def test_a_new_holder_of_the_number_can_be_a_patient(world: World) -> None:
    """With an invitation of their own the number is theirs, and no clinician's any more."""
    ilse = await world.clinician("Ilse", (TEXT,))
    await stops(ilse, TEXT)
    _, code = await world.invited("Bea")

    heard = await ilse.says(code, channel=TEXT)

    assert "Do you agree" in heard[-1]


async def test_an_owner_who_leaves_hears_no_more_that_it_runs(world: World) -> None:
    """Nobody else is told, for an owner hears no alarms."""
    ilse = await world.clinician("Ilse", (CHAT,))
    oda = await joined(world, "Oda", Role.OWNER)
    ilse.hears()

    confirmed = await oda.says("STOP")
    await world.at("08:15")

    assert "not even that it is running" in confirmed[0]
    assert oda.hears() == []
    assert ilse.hears() == []


async def test_a_clinician_leaves_in_spanish(world: World) -> None:
    """The words of their language, and an answer in it."""
    ines = await joined(world, "Ines", Role.CLINICIAN, "es")

    heard: Any = [await ines.says("BAJA"), await ines.says("ALTA")]

    assert heard[0][0].startswith("No recibirás más mensajes en este chat.")
    assert heard[1][0].startswith("Vuelves a recibir mensajes aquí.")


# Removed


async def test_a_lead_removes_somebody_who_hears_nothing_more(world: World) -> None:
    """With a YES; what they had goes to the rota, START brings nobody back, the audit keeps it."""
    lea = await joined(world, "Lea", Role.LEAD_CLINICIAN)
    bram = await joined(world, "Bram", Role.CLINICIAN)
    oda = await joined(world, "Oda", Role.OWNER)
    patient = await world.patient()
    await patient.says(WORRY)
    await bram.says("I have it 1")
    for voice in (lea, oda):
        voice.hears()

    refused = await bram.says("remove Lea")
    asked = await lea.says("remove Bram")
    (before,) = await world.escalations(patient)
    done = await lea.says("yes")
    await world.goes_to(world.now + timedelta(minutes=1))
    told, chased = oda.hears(), lea.hears()
    bram.hears()
    answers = [await bram.says(words) for words in ("START", "I have it 1", "show Ana")]
    await world.at("09:00", days=1)

    (after,) = await world.escalations(patient)
    assert "only a lead clinician may" in refused[0]
    assert asked[0].startswith("Not done yet. Bram would hear nothing more")
    assert (before.acknowledged_by is None, after.acknowledged_by) == (False, None)
    assert any("Free again, for whoever replies I HAVE IT: 1." in text for text in done)
    assert any(text.startswith("Bram is no longer with the clinic") for text in told)
    assert chased == []  # Lea was told a minute ago; half an hour later she is told again
    assert "NOBODY HAS SAID THEY HAVE 1. SAME DAY. Ana" in lea.hears()[0]
    assert answers == [
        ["This is a private line. If your clinic sent you a code, please send it here."], [], []
    ]  # fmt: skip
    assert bram.hears() == []
    assert await audited(world, "removed") == 1


async def test_each_joining_is_told_to_lead_and_owner(world: World) -> None:
    """With the words that undo it; a code that was not used yet is void after a removal."""
    lea = await joined(world, "Lea", Role.LEAD_CLINICIAN)
    oda = await joined(world, "Oda", Role.OWNER)
    lea.hears()
    await joined(world, "Bram", Role.CLINICIAN)
    code = await world.stage.run(invite_staff, Role.CLINICIAN, "Kit", "en", world.now)

    told = [lea.hears(), oda.hears()]
    await lea.says("remove Kit")
    await lea.says("yes")
    stranger = await Voice(world, "Mal").says(code)

    assert "If this is not right: REMOVE Bram" in told[0][0]
    assert 'nextmorning remove-clinician "Bram"' in told[1][-1]
    assert stranger[0].startswith("This is a private line.")


def test_somebody_is_removed_on_the_command_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A name that nobody has is answered with those there are; the name is free again after."""
    config = tmp_path / "clinic.toml"
    config.write_text(CONFIG.format(path=tmp_path / "clinic.sqlite"))
    at = ("--config", str(config))
    typed(monkeypatch, capsys, "invite-clinician", "Oda", *at)

    wrong = typed(monkeypatch, capsys, "remove-clinician", "Od", *at)
    right = typed(monkeypatch, capsys, "remove-clinician", "oda", *at)

    assert (wrong.status, "there are Oda" in wrong.err) == (2, True)
    assert "Removed: Oda." in right.out
    assert people_in(tmp_path / "clinic.sqlite") == []
