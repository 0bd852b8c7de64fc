"""Sending: what each delivery leads to, who overtakes whom, and the person's next channel."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest
from world import MONDAY

from bot.delivery.send import LONGEST_PAUSE, TRIES_MAX, pause_after, settle, take_next
from bot.ports import Accepted, Delivery, Later, Never, Unknown
from bot.rehearsal.clinic import made_up_clinic
from bot.store import outbox, people
from bot.store.database import Store
from bot.store.migrations import migrate
from bot.store.outbox import Draft, Urgency
from bot.store.people import Person, Role

CHAT, TEXT = "chat", "text"


@pytest.fixture
def store(tmp_path: Path) -> Store:
    """An empty store."""
    made = Store(tmp_path / "send.sqlite")
    migrate(made)
    return made


def somebody(store: Store, *channels: str, role: Role = Role.PATIENT, name: str = "Ana") -> Person:
    """A person with these channels, in this order."""

    def add(store: Store) -> Person:
        person = people.add(store, role, name, MONDAY)
        for channel in channels:
            people.add_contact(store, person.id, channel, name.lower(), MONDAY)
        return person

    return store.do(add)


def write(store: Store, person: Person, text: str, urgency: Urgency = Urgency.REPLY) -> int:
    """Put one message in line."""
    number = store.do(outbox.write, Draft(person.id, text, urgency), MONDAY)
    assert number is not None
    return number


def deliver(store: Store, delivery: Delivery, at=MONDAY, channel=CHAT, run="run") -> str | None:
    """Take the next message and settle it so; gives its text."""
    outgoing = store.do(take_next, channel, run, at)
    if outgoing is None:
        return None
    store.do(settle, made_up_clinic(), outgoing, delivery, at)
    return outgoing.text


def test_the_most_urgent_goes_first_then_the_oldest(store: Store) -> None:
    """An escalation passes everything that waits."""
    ana, bram = somebody(store, CHAT), somebody(store, CHAT, role=Role.CLINICIAN, name="Bram")
    write(store, ana, "prompt", Urgency.PROMPT)
    write(store, ana, "first reply")
    write(store, ana, "second reply")
    write(store, bram, "escalation", Urgency.ESCALATION)
    write(store, ana, "safety", Urgency.SAFETY)

    order = [deliver(store, Accepted()) for _ in range(6)]

    assert order == ["escalation", "safety", "first reply", "second reply", "prompt", None]


def test_what_is_accepted_never_goes_again(store: Store) -> None:
    """One message, one row, one attempt."""
    write(store, somebody(store, CHAT), "hello")

    deliver(store, Accepted("ref 7"))

    assert deliver(store, Accepted(), MONDAY + timedelta(days=3)) is None
    assert store.row("SELECT reference, tries FROM outbox") == {"reference": "ref 7", "tries": 1}


@pytest.mark.parametrize(
    ("seconds", "text"),
    [(-1, None), (0, "hello"), (1, "hello")],
    ids=["a second early", "at the time", "a second late"],
)
def test_later_waits_as_long_as_the_channel_said(store: Store, seconds: int, text) -> None:
    """A channel that says when is believed."""
    write(store, somebody(store, CHAT), "hello")
    deliver(store, Later("flood", timedelta(seconds=42)))

    assert deliver(store, Accepted(), MONDAY + timedelta(seconds=42 + seconds)) == text


@pytest.mark.parametrize(
    ("tries", "seconds"),
    [(1, 5), (2, 10), (3, 20), (7, 320), (8, 600), (60, 600)],
)
def test_pauses_double_up_to_ten_minutes(tries: int, seconds: int) -> None:
    """5 s, 10 s, 20 s ... 600 s: convention."""
    assert pause_after(tries) == timedelta(seconds=seconds)


def test_unknown_is_sent_again_and_marked_as_a_possible_double(store: Store) -> None:
    """The connection broke after it was handed over: it may have arrived."""
    write(store, somebody(store, CHAT), "hello")
    deliver(store, Unknown("reset"))

    again = deliver(store, Accepted(), MONDAY + LONGEST_PAUSE)

    assert again == "hello"
    assert store.row("SELECT possible_double FROM outbox") == {"possible_double": 1}


def test_what_an_earlier_run_was_sending_goes_again_and_is_marked(store: Store) -> None:
    """Killed between the channel's acceptance and our record: at most one double, and marked."""
    write(store, somebody(store, CHAT), "hello")
    store.do(take_next, CHAT, "run that died", MONDAY)

    assert store.do(take_next, CHAT, "run that died", MONDAY) is None
    assert deliver(store, Accepted(), run="run after it") == "hello"
    assert store.row("SELECT possible_double, tries FROM outbox") == {
        "possible_double": 1,
        "tries": 2,
    }


def test_never_goes_to_the_next_channel_of_the_person(store: Store) -> None:
    """Blocked on the chat: the text message carries it, and the chat is not tried again."""
    ana = somebody(store, CHAT, TEXT)
    write(store, ana, "hello")

    deliver(store, Never("blocked"))

    assert deliver(store, Accepted(), channel=TEXT) == "hello"
    assert [contact.channel for contact in people.contacts(store, ana.id)] == [TEXT]
    assert store.rows("SELECT * FROM escalations") == []


def test_with_no_channel_left_the_clinician_is_told(store: Store) -> None:
    """A patient nobody can reach is a matter for the next working day."""
    write(store, somebody(store, CHAT), "hello")

    deliver(store, Never("blocked"))

    assert store.row("SELECT sign, tier, stops_loading FROM escalations") == {
        "sign": "unreachable",
        "tier": "next working day",
        "stops_loading": 0,
    }


def test_an_ordinary_message_is_given_up_after_many_tries(store: Store) -> None:
    """Twenty tries, then the next channel or the clinician; it does not block the line."""
    write(store, somebody(store, CHAT), "hello")
    at = MONDAY

    for _ in range(TRIES_MAX):
        assert deliver(store, Later("down"), at) == "hello"
        at += LONGEST_PAUSE

    assert deliver(store, Accepted(), at) is None
    assert store.row("SELECT failed_why FROM outbox")["failed_why"].startswith("given up")


def test_two_senders_keep_the_order_of_one_persons_messages(store: Store) -> None:
    """While one message to a chat is under way, the next one to it is not taken."""
    ana, bea = somebody(store, CHAT), somebody(store, CHAT, name="Bea")
    write(store, ana, "one")
    write(store, ana, "two")
    write(store, bea, "other")

    first = store.do(take_next, CHAT, "run", MONDAY)
    second = store.do(take_next, CHAT, "run", MONDAY)
    third = store.do(take_next, CHAT, "run", MONDAY)

    assert [taken and taken.text for taken in (first, second, third)] == ["one", "other", None]


def test_a_message_that_is_too_late_is_not_sent(store: Store) -> None:
    """A morning prompt that waited for a channel until noon is dropped, and the row says so."""
    ana = somebody(store, CHAT)
    draft = Draft(ana.id, "good morning", Urgency.PROMPT, expires_at=MONDAY + timedelta(hours=6))
    store.do(outbox.write, draft, MONDAY)

    assert deliver(store, Accepted(), MONDAY + timedelta(hours=6)) is None
    assert store.row("SELECT failed_why FROM outbox") == {"failed_why": "too late"}


def test_a_channel_that_asks_to_wait_uses_up_no_tries(store: Store) -> None:
    """A carrier that is busy for an hour must not make a patient unreachable."""
    write(store, somebody(store, CHAT), "hello")
    at = MONDAY

    for _ in range(3 * TRIES_MAX):
        assert deliver(store, Later("throttled", timedelta(minutes=1)), at) == "hello"
        at += timedelta(minutes=1)

    assert deliver(store, Accepted(), at) == "hello"
    assert store.rows("SELECT * FROM escalations") == []


def test_a_wait_of_part_of_a_second_is_never_cut_short(store: Store) -> None:
    """Due times are kept to the second, rounded up."""
    write(store, somebody(store, CHAT), "hello")
    deliver(store, Later("throttled", timedelta(milliseconds=20)))

    assert deliver(store, Accepted()) is None
    assert deliver(store, Accepted(), MONDAY + timedelta(seconds=1)) == "hello"
