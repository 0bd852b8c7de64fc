"""Who may do what, by role: `bot.clinicians.roles` through the real bot, and its commands."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from acts.typing_commands import typed
from world import CLINIC_TABLE, MONDAY, Voice, World

from bot.clinicians.roles import MAY, Right, may
from bot.commands.serve import problems_of
from bot.escalations.history import history_table
from bot.rehearsal.clinic import ZONE
from bot.settings import clinic_of, read_settings
from bot.store import people
from bot.store.database import Store
from bot.store.migrations import migrate
from bot.store.people import Role

WORRY = "my whole calf is swollen and tender since yesterday"

COMMANDS = (
    "I have it 1", "I have them all", "closed 1 seen", "note 1 all well", "history 1",
    "who needs me?", "show Ana", "enrol Bo mid-portion", "level Ana 2", "pause Ana until I say",
    "resume Ana", "hops Ana yes", "rest Ana", "go on Ana", "limit Ana 5",
    "tell Ana: come on Friday", "discharge Ana", "take back Ana",
)  # fmt: skip


async def owner(world: World) -> Voice:
    """The clinic's owner, on the chat."""

    def add(store: Any) -> None:
        added = people.add(store, Role.OWNER, "Oda", world.now, zone=ZONE)
        people.add_contact(store, added.id, "chat", "oda", world.now)

    await world.stage.run(add)
    return Voice(world, "Oda")


async def test_an_owner_may_do_none_of_it_and_the_try_is_kept(world: World) -> None:
    """A sentence says who may; the audit says who tried; nothing else has changed. To another
    patient the same words are only words.
    """
    await world.clinician("Ilse")
    oda = await owner(world)
    patient, bea = await world.patient(), await world.patient("Bea")
    await patient.says(WORRY)
    before = await world.position(patient), await world.episode(patient)

    for words in COMMANDS:
        said = await oda.says(words)
        assert "only a clinician may" in said[0], words
        assert "you are an owner" in said[0], words
        await bea.says(words)

    refused = await world.rows("SELECT person FROM audit WHERE action = 'refused'")
    (escalation,) = await world.escalations(patient)
    assert len(refused) == len(COMMANDS)
    assert (escalation.acknowledged_at, escalation.closed_at) == (None, None)
    assert (await world.position(patient), await world.episode(patient)) == before


@pytest.mark.parametrize(
    ("role", "rights"),
    [
        pytest.param(Role.PATIENT, {Right.ANSWER}, id="a patient answers, and no more"),
        pytest.param(Role.OWNER, {Right.HEAR_RUNNING}, id="an owner hears that it runs"),
        pytest.param(
            Role.CLINICIAN,
            set(Right) - {Right.ANSWER, Right.HEAR_RUNNING, Right.STAFF},
            id="a clinician",
        ),
        pytest.param(Role.LEAD_CLINICIAN, set(Right) - {Right.ANSWER}, id="a lead"),
    ],
)
def test_the_table(role: Role, rights: set[Right]) -> None:
    """Every role is in it, with these rights and no others."""
    found = {right for right in Right if right in MAY[role]}

    assert found == rights


def test_whoever_may_do_something_may_by_role_alone(tmp_path: Path) -> None:
    """No name, number or order of joining gives a right."""
    store = Store(tmp_path / "r.sqlite")
    migrate(store)
    first, second = [
        people.add(store, Role.CLINICIAN, name, MONDAY, zone=ZONE) for name in ("Ilse", "Bram")
    ]

    same = [may(first, right) == may(second, right) for right in Right]

    assert all(same)
    store.close()


# What the clinic's own file and command line say of matters and shifts

CONFIG = (
    CLINIC_TABLE
    + """\
[[rota]]
clinician = "{name}"
days = ["monday"]
from = "18:00"
to = "08:00"
days_off = [2026-12-25]

[telegram]
token = "1:a"

[store]
path = "{path}"
"""
)


def _config(folder: Path, name: str) -> Path:
    """A configuration with one shift, and a store with one clinician, Ilse."""
    path = folder / "clinic.sqlite"
    store = Store(path)
    migrate(store)
    people.add(store, Role.CLINICIAN, "Ilse", MONDAY, zone=ZONE)
    store.close()
    path.chmod(0o600)
    config = folder / "clinic.toml"
    config.write_text(CONFIG.format(name=name, path=path))
    return config


def test_a_shift_is_read_from_the_configuration(tmp_path: Path) -> None:
    """Days, hours and days off, as written."""
    config = _config(tmp_path, "Ilse")

    (shift,) = clinic_of(read_settings(config)).rota

    assert (shift.clinician, shift.weekdays) == ("Ilse", frozenset({0}))
    assert f"{shift.opens:%H:%M}-{shift.closes:%H:%M}" == "18:00-08:00"
    assert len(shift.days_off) == 1


@pytest.mark.parametrize(
    ("name", "problems"),
    [
        pytest.param("Ilse", 0, id="a clinician of the clinic"),
        pytest.param("Else", 1, id="a slip in the name"),
    ],
)
def test_a_shift_of_nobody_is_a_problem(tmp_path: Path, name: str, problems: int) -> None:
    """Said before the bot runs, with the names there are."""
    config = _config(tmp_path, name)

    found = [one for one in problems_of(read_settings(config)) if one.startswith("rota")]

    assert len(found) == problems


def test_the_history_on_the_command_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """With nothing raised it says so, and an unknown number is a sentence and status 2."""
    config = _config(tmp_path, "Ilse")

    every = typed(monkeypatch, capsys, "escalation", "history", "--config", str(config))
    one = typed(monkeypatch, capsys, "escalation", "history", "7", "--config", str(config))

    assert every.out == "Nothing was ever raised.\n"
    assert (one.status, "escalation 7" in one.err) == (2, True)


def test_a_script_reads_codes_and_history_as_json(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """An invitation's code, and a history in which nothing stands yet, each as JSON alone."""
    config = str(_config(tmp_path, "Ilse"))

    invited = typed(monkeypatch, capsys, "invite-owner", "Oda", "--json", "--config", config)
    every = typed(monkeypatch, capsys, "escalation", "history", "--json", "--config", config)

    told = json.loads(invited.out)
    assert (told["name"], told["days"], told["link"]) == ("Oda", 14, None)
    assert len(told["code"]) == 8
    assert json.loads(every.out) == []


async def test_a_history_for_scripts_holds_the_steps(world: World) -> None:
    """Raised, told, acknowledged: with codes, names and whether it arrived."""
    ilse = await world.clinician("Ilse")
    ana = await world.patient("Ana")
    await ana.says("my calf is hot and swollen")
    await ilse.says("I have it 1")

    (matter,) = await world.stage.run(history_table, None)
    steps = await world.stage.run(history_table, 1)

    assert (matter["tier"], matter["acknowledged"], matter["closed"]) == ("same day", True, False)
    assert [(step["what"], step["who"]) for step in steps] == [
        ("raised", None),
        ("told", "Ilse"),
        ("acknowledged", "Ilse"),
    ]
