"""One message, one pass: a warning sign is escalated and an opt-out beside it honoured; the work
for a plain answer is counted."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace
from pathlib import Path

import pytest
from world import Voice, World, world_at

from bot.handle import handle
from bot.patient_record.record import record_of
from bot.patients.consequence_values import Consequence
from bot.patients.consequences import consequences
from bot.patients.understand import understand
from bot.ports import Incoming
from bot.rehearsal.clinic import made_up_clinic
from bot.rehearsal.stage import CHAT, TEXT
from bot.store import inbox
from bot.store.database import Store
from dialogs.rendering import gsm

SEE_SOMEBODY = {"en": "seen by a doctor today", "es": "hoy"}
NO_MORE = {"en": "You will get no more messages", "es": "No recibir"}

# language, channel, whether discharged, what is written
LEAVING_IN_ALARM = [
    pytest.param("en", CHAT, False, "STOP. my calf is swollen and hot", id="a sentence"),
    pytest.param("en", TEXT, False, "STOP my calf is swollen and hot", id="the first word"),
    pytest.param("en", TEXT, True, "stop, my calf is swollen and hot", id="discharged"),
    pytest.param("en", CHAT, True, "my calf is swollen and hot. no more texts", id="the end"),
    pytest.param("es", TEXT, False, "BAJA. tengo la pantorrilla hinchada y caliente", id="BAJA"),
    pytest.param("es", CHAT, True, "pantorrilla hinchada y caliente. no más mensajes", id="fin"),
]


async def patient_in(world: World, language: str, channel: str, *, discharged: bool) -> Voice:
    """Ana, with a clinician, on one channel."""
    ilse, ana = await world.clinician("Ilse"), await world.patient("Ana")
    await ana.says("2 10")
    if language == "es":
        await ana.says("español")
    if discharged:
        await ilse.says("discharge Ana")
        await ilse.says("yes")
    sql = "UPDATE contact_points SET channel = :channel WHERE address = 'ana'"
    await world.stage.run(lambda s: s.change(sql, {"channel": channel}) and None)
    ana.channel = channel
    ana.hears()
    return ana


async def has_left(world: World) -> bool:
    """Whether Ana gets no more messages."""
    (row,) = await world.rows("SELECT opted_out_at FROM people WHERE name = 'Ana'")
    return row["opted_out_at"] is not None


@pytest.mark.parametrize(("language", "channel", "discharged", "text"), LEAVING_IN_ALARM)
async def test_an_opt_out_beside_a_warning_sign_alarms_and_is_honoured(
    world: World, language: str, channel: str, discharged: bool, text: str
) -> None:
    """One message says what to do and that no more come; the sign is escalated before the leaving;
    and the next mornings are silent."""
    ana = await patient_in(world, language, channel, discharged=discharged)

    said = await ana.says(text)
    await world.at("12:00", days=2)

    assert len(said) == 1
    assert SEE_SOMEBODY[language] in said[0]
    assert said[0].index(NO_MORE[language]) > said[0].index(SEE_SOMEBODY[language])
    raised = await world.escalations(ana)
    assert [one.sign for one in raised] == ["leg-clot", "opted-out"]
    assert said[0] in (raised[0].told_patient, gsm(raised[0].told_patient))
    assert raised[1].words == text
    assert await has_left(world)
    assert ana.hears() == []


@pytest.mark.parametrize("channel", [CHAT, TEXT])
@pytest.mark.parametrize("discharged", [False, True], ids=["treated", "discharged"])
async def test_a_closed_question_is_still_answered_by_who_leaves(
    world: World, discharged: bool, channel: str
) -> None:
    """The question and the leaving in one message; a yes is the sign, and lets nobody back in."""
    ana = await patient_in(world, "en", channel, discharged=discharged)

    asked = await ana.says("STOP. my calf is a bit warm")
    answered = await ana.says("yes")

    assert len(asked) == 1
    assert "YES" in asked[0]
    assert NO_MORE["en"] in asked[0]
    assert SEE_SOMEBODY["en"] in answered[0]
    assert [one.sign for one in await world.escalations(ana)] == ["opted-out", "leg-clot"]
    assert await has_left(world)


async def test_answers_before_an_opt_out_are_kept(world: World) -> None:
    """They are recorded and decided on, and no advice is said to who leaves."""
    ana = await world.patient()

    said = await ana.says("3 15. Stop")

    kept = await world.answers(ana)
    assert sorted(kept.values()) == [3, 15]
    assert len(await world.decisions(ana)) == 1
    assert len(said) == 1
    assert said[0].startswith(NO_MORE["en"])
    assert await has_left(world)


async def test_a_yes_drops_the_other_closed_questions_and_asks_what_waits_behind(
    world: World,
) -> None:
    """Three are asked after a pain of 9; after a yes none of the others is put."""
    ana = await world.patient()
    await ana.says("9 30")

    said = await ana.says("yes")

    assert [text for text in said if text.endswith("NO.")] == []


# A message, and what comes of it in order.
COME_OF = {
    "answers": ("3 10", ["Record", "Record", "KeepState", "Decide", "Plan", "RaiseAlerts"]),
    "a sign behind answers": (
        "3 10 but my calf is swollen and hot",
        ["Escalate", "Record", "Record", "KeepState", "Decide", "Plan", "RaiseAlerts"],
    ),
    "a sign and an opt-out": (
        "STOP. my calf is swollen and hot",
        ["Escalate", "Record", "Escalate", "KeepState", "Decide"],
    ),
    "a very high pain": (
        "9 10",
        ["AskSigns", "Record", "Record", "KeepState", "Say", "Decide", "Plan", "RaiseAlerts"],
    ),
    "a wish": ("why", ["KeepState", "WhyAsked", "RaiseAlerts"]),
}


@pytest.mark.parametrize(("text", "kinds"), COME_OF.values(), ids=COME_OF)
async def test_consequences_stand_in_their_order_and_nothing_is_written(
    world: World, text: str, kinds: list[str]
) -> None:
    """Found, answered, left, decided, asked: worked out from what is read, twice the same."""
    ana = await world.patient()
    statements: list[str] = []

    def come_of(store: Store) -> tuple[Consequence, ...]:
        record = record_of(store, world.clinic, 1, world.now)
        store.db.conn.set_trace_callback(statements.append)
        come = consequences(record, understand(record, Incoming(CHAT, "1", ana.address, text)))
        store.db.conn.set_trace_callback(None)
        return come

    first, second = await world.stage.run(come_of), await world.stage.run(come_of)

    assert [type(one).__name__ for one in first] == kinds
    assert first == second
    assert [one for one in statements if not one.lstrip().startswith("SELECT")] == []


# What one plain message may cost, from BEGIN to COMMIT [statements]. Its record is read before the
# words are understood, and once more after they are written down.
N = 43
READINGS = 2
RECORD = ("answers", "sessions", "moves", "pauses", "day_words", "contact_points", "conversations")


async def test_a_plain_message_is_one_pass(tmp_path: Path) -> None:
    """No table of the record is read more than twice, N statements at most, one commit."""
    world = world_at(tmp_path / "clinic.db", clinic=replace(made_up_clinic(), visa_a=False))
    async with world.stage:
        await world.clinician("Ilse")
        ana = await world.patient()
        await ana.says("2 10")
        await ana.says("done")
        await ana.says("3 2 2 4")
        await ana.says("no 0")
        await world.at("07:31")
    store = Store(tmp_path / "clinic.db")
    plain = Incoming(CHAT, "plain", ana.address, "3 10 2")
    number = store.do(inbox.keep, plain, world.now)
    assert number is not None
    statements: list[str] = []
    store.db.conn.set_trace_callback(statements.append)

    store.do(handle, world.clinic, number, world.now)

    store.db.conn.set_trace_callback(None)
    reads = [one for one in statements if one.lstrip().startswith("SELECT")]
    # A clinician's address is asked for besides: who is named to the patient must be reachable.
    own = [one for one in reads if "FROM contact_points WHERE person = 1 " not in one]
    read = Counter(re.findall(r"FROM (\w+)", one)[0] for one in own)
    assert inbox.unhandled(store, number, world.now) is None
    assert max(read[table] for table in RECORD) == READINGS
    assert len(statements) <= N
    assert [one for one in statements if one in ("COMMIT", "ROLLBACK")] == ["COMMIT"]
    store.close()
