"""What a clinician may tell the bot, and what is understood."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st
from talks.talking import TODAY

from dialogs.clinician import read_command
from dialogs.clinician_commands import (
    Acknowledge,
    AllowHops,
    AskHelp,
    CloseEscalation,
    Command,
    Confirm,
    DischargePatient,
    Done,
    Enrol,
    GoOnToday,
    LiftStop,
    LimitPain,
    ListNeeds,
    NotUnderstood,
    Outcome,
    PausePatient,
    RestToday,
    ResumePatient,
    SetLevel,
    SetPace,
    ShowPatient,
    TakeBack,
    TellPatient,
    Thanks,
)
from dialogs.words import shipped_words
from rules.protocol import Tendon

COMMANDS: dict[str, tuple[str, Command]] = {
    "I have it": ("I have it", Acknowledge()),
    "with its number": ("I HAVE IT 12", Acknowledge(12)),
    "with a sign before the number": ("have it #12", Acknowledge(12)),
    "with a note": ("I have it 1 calling her now", Acknowledge(1, note="calling her now")),
    "several": ("i have it 3, 4", Acknowledge(3, more=(4,))),
    "with thanks": ("i've got it thanks", Acknowledge()),
    "got it": ("got it 12.", Acknowledge(12)),
    "closed, seen": ("closed 12 seen", CloseEscalation(12, done=Done.SEEN)),
    "closed, spoke": ("Closed 12 spoke to them", CloseEscalation(12, done=Done.SPOKE)),
    "closed, called": ("close 7 called", CloseEscalation(7, done=Done.SPOKE)),
    "closed, with a note": (
        "closed 12 not worrying, calf is Fine",
        CloseEscalation(12, Outcome.NOT_WORRYING, "calf is Fine"),
    ),
    "closed, the only one": ("closed go on", CloseEscalation(None, Outcome.GO_ON)),
    "closed, nothing said": ("closed 12", CloseEscalation(12)),
    "closed, free words": ("closed 12 calf is soft", CloseEscalation(12, note="calf is soft")),
    "closed, done and what follows": (
        "closed 12 spoke to them and sent on",
        CloseEscalation(12, Outcome.SENT_ON, "spoke to them", Done.SPOKE),
    ),
    "closed, rest": (
        "closed 12 rest until 12 March, calf is soft",
        CloseEscalation(12, Outcome.REST, "calf is soft", until=date(2026, 3, 12)),
    ),
    "closed, rest without a day": ("closed 12 rest", CloseEscalation(12, Outcome.REST)),
    "closed, hospital": (
        "closed 2 hospital, ruptured",
        CloseEscalation(2, Outcome.SENT_ON, "ruptured"),
    ),
    "closed, no more questions": (
        "closed 2 sent on, no questions",
        CloseEscalation(2, Outcome.SENT_ON, "no questions", questions=False),
    ),
    "closed, on and yet not": (
        "closed 1 go on to hospital",
        CloseEscalation(1, note="go on to hospital"),
    ),
    "closed, two outcomes": (
        "closed 1 not worrying, sent to hospital",
        CloseEscalation(1, note="not worrying, sent to hospital"),
    ),
    "a stop lifted": ("lift Ana", LiftStop("Ana")),
    "enrol by SMS": (
        "enrol Ana insertional +1 202 555-0123",
        Enrol("Ana", Tendon.INSERTIONAL, "sms", "+12025550123"),
    ),
    "enrol, two names": ("Enroll Ana Maria mid-portion", Enrol("Ana Maria", Tendon.MID_PORTION)),
    "enrol, a level": (
        "enrol Ana mid-portion level 3 dose 2",
        Enrol("Ana", Tendon.MID_PORTION, level=3, dose=2),
    ),
    "enrol, a level and a number": (
        "enrol Ana insertional level 3 +1 202 555 0123",
        Enrol("Ana", Tendon.INSERTIONAL, "sms", "+12025550123", 3),
    ),
    "enrol, mid portion": ("invite Bo mid portion", Enrol("Bo", Tendon.MID_PORTION)),
    "level and dose": ("level Ana 2 1", SetLevel("Ana", 2, 1)),
    "level alone": ("Level Ana Maria 5", SetLevel("Ana Maria", 5, 1)),
    "level in words": ("level Ana to level 2 dose 3", SetLevel("Ana", 2, 3)),
    "pause until I say": ("pause Ana until I say", PausePatient("Ana")),
    "pause until further notice": ("Hold Ana Lund, until further notice", PausePatient("Ana Lund")),
    "help": ("Help!", AskHelp()),
    "ok": ("ok", Thanks()),
    "a thumbs-up": ("\U0001f44d", Thanks()),
    "pause until a date": ("pause Ana till 3 May", PausePatient("Ana", date(2026, 5, 3))),
    "pause for a span": ("Pause Ana for a week", PausePatient("Ana", date(2026, 3, 10))),
    "resume": ("resume Ana", ResumePatient("Ana")),
    "hops yes": ("hops Ana yes", AllowHops("Ana", True)),
    "hops no": ("hops Ana Maria no", AllowHops("Ana Maria", False)),
    "rest": ("rest Ana", RestToday("Ana")),
    "rest today": ("Rest Ana Maria today", RestToday("Ana Maria")),
    "go on": ("GO ON Ana", GoOnToday("Ana")),
    "slower": ("slower Ana Maria", SetPace("Ana Maria", slower=True)),
    "usual pace": ("Usual pace Ana", SetPace("Ana", slower=False)),
    "a limit": ("limit Ana 3", LimitPain("Ana", 3)),
    "a limit out of ten": ("Limit Ana Maria to 3/10", LimitPain("Ana Maria", 3)),
    "a limit that is too high": ("limit Ana 6", LimitPain("Ana", 6)),
    "own words": ("Tell Ana: See you at 3?", TellPatient("Ana", "See you at 3?")),
    "own words with a colon": ("tell Ana: bring: shoes", TellPatient("Ana", "bring: shoes")),
    "own words on two lines": (
        "tell Ana Maria:\nHi.\nCome.",
        TellPatient("Ana Maria", "Hi.\nCome."),
    ),
    "discharge": ("discharge Ana", DischargePatient("Ana")),
    "take back": ("take back Ana", TakeBack("Ana")),
    "yes": ("YES", Confirm(True)),
    "yes, by its button": ("Yes 17", Confirm(True, 17)),
    "no": ("no.", Confirm(False)),
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
    "a question beside its number": "I have it 12?? what is it?",
    "something else that one has": "I have 2 questions",
    "it, and yet not": "I have it 1 but not today",
    "a number that is none": "I have it twelve and a half",
    "another sentence about closing": "close call today",
    "enrol without a tendon": "enrol Ana +12025550123",
    "enrol without a name": "enrol insertional +12025550123",
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

    assert isinstance(found, NotUnderstood)
    assert found.text == text


MISSPELT = {
    "shwo Ana": "SHOW Ana",
    "paus Ana till 3 May": "PAUSE Ana till 3 May",
    "closd 3 go on": "CLOSED 3 go on",
    "I hav it 3": "I HAVE IT 3",
    "hello Ana": "",
    "paus Ana": "",
    "please water the plants": "",
}


@pytest.mark.parametrize(("text", "meant"), MISSPELT.items(), ids=MISSPELT)
def test_a_misspelt_command_is_asked_about(text: str, meant: str) -> None:
    """Only where it would be a whole command; nothing is done on a guess."""
    assert read_command(text, today=TODAY) == NotUnderstood(text, meant=meant)


BEGUN = {
    "a pause without an end": ("pause Ana", "pause"),
    "rest nobody": ("rest", "rest"),
    "rest for days": ("rest Ana for a week", "rest"),
    "rest till a day": ("rest Ana till 3 May", "rest"),
    "close several at once": ("closed 1 and 2 go on", "close"),
    "a limit without a number": ("limit Ana", "limit"),
    "a limit under nought": ("limit Ana -1", "limit"),
    "a limit with a fraction": ("limit Ana 3.5", "limit"),
    "no words": ("tell Ana:", "tell"),
    "only spaces": ("tell Ana:   ", "tell"),
    "no colon": ("tell Ana come on Friday", "tell"),
    "nobody to tell": ("tell: come on Friday", "tell"),
    "discharge nobody": ("discharge", "discharge"),
    "take back nobody": ("take back", "take_back"),
    "a level without a number": ("level Ana", "level"),
    "a sentence that begins like one": ("I have a question", ""),
}


@pytest.mark.parametrize(("text", "about"), BEGUN.values(), ids=BEGUN)
def test_what_was_begun_is_known(text: str, about: str) -> None:
    """So that the answer can say what is missing, and not all there is."""
    found = read_command(text, today=TODAY)

    assert found == NotUnderstood(text, about)


IN_SPANISH: dict[str, tuple[str, Command]] = {
    "rest": ("descanso Ana hoy", RestToday("Ana")),
    "go on": ("ADELANTE con Ana", GoOnToday("Ana")),
    "slower": ("M\u00e1s despacio Ana", SetPace("Ana", slower=True)),
    "usual pace": ("ritmo normal Ana", SetPace("Ana", slower=False)),
    "a limit": ("L\u00edmite Ana 3", LimitPain("Ana", 3)),
    "without its accent": ("limite Ana a 3", LimitPain("Ana", 3)),
    "own words": ("Di a Ana: \u00bfVienes?", TellPatient("Ana", "\u00bfVienes?")),
    "discharge": ("fin Ana", DischargePatient("Ana")),
    "take back": ("retomar a Ana", TakeBack("Ana")),
    "yes": ("S\u00cd", Confirm(True)),
    "yes, by its button": ("S\u00ed 17", Confirm(True, 17)),
    "in English": ("rest Ana", RestToday("Ana")),
}


@pytest.mark.parametrize(("text", "command"), IN_SPANISH.values(), ids=IN_SPANISH)
def test_a_command_is_understood_in_spanish(text: str, command: Command) -> None:
    """The same commands in a Spanish clinician's words."""
    found = read_command(text, today=TODAY, words=shipped_words("es"))

    assert found == command


@given(st.text(max_size=60))
def test_reading_a_command_never_raises(text: str) -> None:
    """Any text at all is a command or not understood."""
    found = read_command(text, today=TODAY)

    assert found is not None


@pytest.mark.parametrize(
    ("text", "outcome"),
    [
        ("sent on", "sent on"),
        ("Stays stopped.", "stays stopped"),
        ("not worrying", "not worrying"),
        ("go on", "go on"),
        ("rest until 6 March", "rest"),
    ],
)
def test_what_follows_is_answered_without_the_command(text: str, outcome: str) -> None:
    """The bot has asked what follows: the bare answer closes the only one that is open."""
    command = read_command(text, today=date(2026, 3, 2))

    assert isinstance(command, CloseEscalation)
    assert (command.number, command.outcome) == (None, outcome)


@pytest.mark.parametrize("text", ["rest", "go on Ana", "rest Ana", "go on to the hospital", "seen"])
def test_what_names_no_outcome_closes_nothing(text: str) -> None:
    """A word for today, or words that say more than that loading goes on, are no closing."""
    assert not isinstance(read_command(text, today=date(2026, 3, 2)), CloseEscalation)
