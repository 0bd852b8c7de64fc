"""What text messages cost: counted before they are sent, told at 80 %, prompts held at 100 %."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from world import MONDAY

from bot.delivery.send import settle, take_next
from bot.ports import Accepted, Later, Never, Outgoing, Unknown
from bot.rehearsal.clinic import made_up_clinic
from bot.rehearsal.stage import TEXT
from bot.store import outbox, people, spending
from bot.store.database import Store
from bot.store.migrations import migrate
from bot.store.outbox import Draft, Urgency
from bot.store.people import Role

LIMIT = 10
CLINIC = replace(made_up_clinic(), segments_a_month=LIMIT)
LAST_OF_MARCH = datetime(2026, 3, 31, 23, 59, 59, tzinfo=UTC)


@pytest.fixture
def store(tmp_path: Path) -> Store:
    """A store with one patient, number 1, who is texted."""
    opened = Store(tmp_path / "store.sqlite")
    migrate(opened)
    patient = people.add(opened, Role.PATIENT, "Ana", MONDAY)
    people.add_contact(opened, patient.id, TEXT, "+12025550143", MONDAY)
    return opened


def written(store: Store, text: str = "Pain 0-10?", urgency: Urgency = Urgency.REPLY) -> None:
    """Put a message in line."""
    outbox.write(store, Draft(1, text, urgency), MONDAY)


def taken(store: Store, now: datetime = MONDAY) -> Outgoing | None:
    """Take what is next in line."""
    return store.do(take_next, TEXT, "run", now, CLINIC)


@pytest.mark.parametrize(
    ("text", "segments"),
    [
        pytest.param("x" * 160, 1, id="one part, full"),
        pytest.param("x" * 161, 2, id="one letter over"),
        pytest.param("\u2713" * 70, 1, id="one part of wide letters, full"),
        pytest.param("\u2713" * 71, 2, id="one wide letter over"),
    ],
)
def test_a_message_is_counted_before_it_is_sent(store: Store, text: str, segments: int) -> None:
    """Its parts stand with the attempt, in the month, and with what the channel is given."""
    written(store, text)

    outgoing = taken(store)

    assert outgoing is not None
    assert outgoing.segments == segments
    assert store.rows("SELECT segments FROM attempts") == [{"segments": segments}]
    assert spending.in_month(store, TEXT, MONDAY) == segments


@pytest.mark.parametrize(
    ("delivery", "left"),
    [
        pytest.param(Accepted("1"), 1, id="accepted costs"),
        pytest.param(Unknown("?"), 1, id="of unknown fate counts"),
        pytest.param(Later("busy"), 0, id="not taken costs nothing"),
        pytest.param(Never("no such number"), 0, id="refused costs nothing"),
    ],
)
def test_what_was_not_taken_is_taken_off(
    store: Store, delivery: Accepted | Unknown | Later | Never, left: int
) -> None:
    """A retry is counted again, when it goes."""
    written(store)
    outgoing = taken(store)
    assert outgoing is not None

    store.do(settle, made_up_clinic(), outgoing, delivery, MONDAY)

    assert spending.in_month(store, TEXT, MONDAY) == left


def test_a_text_message_leaves_in_cheap_letters(store: Store) -> None:
    """An accent outside GSM-7 would make the whole message wide, at less than half the letters."""
    written(store, "Mañana por la mañana, ¿cuánto dolor? " + "x" * 120)

    outgoing = taken(store)

    assert outgoing is not None
    assert outgoing.text.startswith("Mañana por la mañana, ¿cuanto dolor? ")
    assert outgoing.segments == 1


def test_a_chat_costs_nothing(store: Store) -> None:
    """Only the channels where each part costs are counted."""
    store.change("UPDATE contact_points SET channel = 'chat'")
    written(store)

    outgoing = store.do(take_next, "chat", "run", MONDAY, CLINIC)

    assert outgoing is not None
    assert outgoing.segments == 0
    assert store.rows("SELECT * FROM spending") == []


@pytest.mark.parametrize(
    ("used", "goes"),
    [
        pytest.param(LIMIT - 1, True, id="under the limit"),
        pytest.param(LIMIT, False, id="at the limit"),
        pytest.param(LIMIT + 1, False, id="over the limit"),
    ],
)
def test_prompts_are_held_at_the_limit(store: Store, used: int, goes: bool) -> None:
    """The last part that is paid for still goes out."""
    spending.add(store, TEXT, used, MONDAY)
    written(store, urgency=Urgency.PROMPT)

    assert (taken(store) is not None) is goes


@pytest.mark.parametrize("urgency", [Urgency.ESCALATION, Urgency.SAFETY, Urgency.REPLY])
def test_what_matters_is_never_held(store: Store, urgency: Urgency) -> None:
    """However far over the limit, and with a prompt waiting before it."""
    spending.add(store, TEXT, 10 * LIMIT, MONDAY)
    written(store, "a prompt", Urgency.PROMPT)
    written(store, "what matters", urgency)

    outgoing = taken(store)

    assert outgoing is not None
    assert outgoing.text == "what matters"


def test_a_new_month_begins_at_nothing(store: Store) -> None:
    """A prompt that was held goes out a second later."""
    spending.add(store, TEXT, LIMIT, LAST_OF_MARCH)
    written(store, urgency=Urgency.PROMPT)

    assert taken(store, LAST_OF_MARCH) is None
    assert taken(store, LAST_OF_MARCH + timedelta(seconds=1)) is not None


def told(store: Store) -> list[str]:
    """What clinicians and owners were told of the cost."""
    sql = "SELECT text FROM outbox WHERE once_key LIKE 'spending %' ORDER BY id"
    return [row["text"].split(" of this")[0] for row in store.rows(sql)]


@pytest.mark.parametrize(
    ("used", "heard"),
    [
        pytest.param(6, [], id="under 80 %"),
        pytest.param(7, ["8 of 10 SMS parts"] * 2, id="at 80 %"),
        pytest.param(8, ["9 of 10 SMS parts"] * 2, id="over 80 %, under 100 %"),
        pytest.param(9, ["All 10 SMS parts"] * 2, id="at 100 %"),
    ],
)
def test_those_who_run_the_clinic_are_told_once(store: Store, used: int, heard: list[str]) -> None:
    """A clinician and the owner, by one message that costs one part, and by no other after it."""
    for role, name in ((Role.CLINICIAN, "Ilse"), (Role.OWNER, "Oona")):
        person = people.add(store, role, name, MONDAY)
        people.add_contact(store, person.id, "chat", name, MONDAY)
    spending.add(store, TEXT, used, MONDAY)
    written(store)

    outgoing = taken(store)

    assert told(store) == heard
    assert outgoing is not None
    store.do(settle, made_up_clinic(), outgoing, Later("busy"), MONDAY)
    taken(store, MONDAY + timedelta(minutes=10))
    assert told(store) == heard


def test_each_share_is_told_again_in_a_new_month(store: Store) -> None:
    """What was told in March is told in April when April is used up."""
    person = people.add(store, Role.OWNER, "Oona", MONDAY)
    people.add_contact(store, person.id, "chat", "oona", MONDAY)
    for now in (LAST_OF_MARCH, LAST_OF_MARCH + timedelta(days=1)):
        spending.add(store, TEXT, LIMIT - 1, now)
        written(store)
        outgoing = taken(store, now)
        assert outgoing is not None
        store.do(settle, made_up_clinic(), outgoing, Accepted("1"), now)

    assert told(store) == ["All 10 SMS parts"] * 2
