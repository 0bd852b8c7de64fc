"""What a clinician may tell the bot, and what is understood."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st
from talks.talking import TODAY

from dialogs.clinician import read_command
from dialogs.turn import (
    Acknowledge,
    AllowHops,
    CloseConcern,
    Command,
    Enrol,
    ListNeeds,
    NotUnderstood,
    PausePatient,
    ResumePatient,
    SetLevel,
    ShowPatient,
)
from rules.protocol import Tendon

COMMANDS: dict[str, tuple[str, Command]] = {
    "I have it": ("I have it", Acknowledge()),
    "with its number": ("I HAVE IT 12", Acknowledge(12)),
    "with a sign before the number": ("have it #12", Acknowledge(12)),
    "got it": ("got it 12.", Acknowledge(12)),
    "closed, seen": ("closed 12 seen", CloseConcern(12, "seen")),
    "closed, spoke": ("Closed 12 spoke to them", CloseConcern(12, "spoke to them")),
    "closed, called": ("close 7 called", CloseConcern(7, "spoke to them")),
    "closed, with a note": (
        "closed 12 not worrying, calf is Fine",
        CloseConcern(12, "not worrying", "calf is Fine"),
    ),
    "closed, the only one": ("closed seen", CloseConcern(None, "seen")),
    "enrol by SMS": (
        "enrol Ana insertional +1 555 010-0123",
        Enrol("Ana", Tendon.INSERTIONAL, "sms", "+15550100123"),
    ),
    "enrol, two names": ("Enroll Ana Maria mid-portion", Enrol("Ana Maria", Tendon.MID_PORTION)),
    "enrol, mid portion": ("invite Bo mid portion", Enrol("Bo", Tendon.MID_PORTION)),
    "level and dose": ("level Ana 2 1", SetLevel("Ana", 2, 1)),
    "level alone": ("Level Ana Maria 5", SetLevel("Ana Maria", 5, 1)),
    "level in words": ("level Ana to level 2 dose 3", SetLevel("Ana", 2, 3)),
    "pause": ("pause Ana", PausePatient("Ana")),
    "pause until a date": ("pause Ana till 3 May", PausePatient("Ana", date(2026, 5, 3))),
    "pause for a span": ("Pause Ana for a week", PausePatient("Ana", date(2026, 3, 10))),
    "resume": ("resume Ana", ResumePatient("Ana")),
    "hops yes": ("hops Ana yes", AllowHops("Ana", True)),
    "hops no": ("hops Ana Maria no", AllowHops("Ana Maria", False)),
    "the list": ("who needs me?", ListNeeds()),
    "show": ("show Ana", ShowPatient("Ana")),
    "how is": ("How is Ana?", ShowPatient("Ana")),
}


@pytest.mark.parametrize(("text", "command"), COMMANDS.values(), ids=COMMANDS)
def test_a_command_is_understood(text: str, command: Command) -> None:
    """Each command is read with its patient, number and words as they were written."""
    found = read_command(text, today=TODAY)

    assert found == command


REFUSED = {
    "a question about it": "do I have it?",
    "a number that is none": "I have it twelve and a half",
    "closed without an outcome": "closed 12",
    "enrol without a tendon": "enrol Ana +15550100123",
    "enrol without a name": "enrol insertional +15550100123",
    "enrol with words over": "enrol Ana insertional whenever",
    "level without a number": "level Ana",
    "level nought": "level Ana 0",
    "pause to a past day": "pause Ana till 1 March",
    "pause with a date but no joint": "pause Ana 3 May",
    "hops without yes or no": "hops Ana",
    "resume nobody": "resume",
    "show nobody": "show",
    "another sentence": "please water the plants",
    "nothing": "",
}


@pytest.mark.parametrize("text", REFUSED.values(), ids=REFUSED)
def test_what_lacks_something_is_not_understood(text: str) -> None:
    """A command with something missing, or no command, is refused as a whole."""
    found = read_command(text, today=TODAY)

    assert found == NotUnderstood(text)


@given(st.text(max_size=60))
def test_reading_a_command_never_raises(text: str) -> None:
    """Any text at all is a command or not understood."""
    found = read_command(text, today=TODAY)

    assert found is not None
