"""Reads what a clinician tells the bot: a command, or not understood.

Names patients by the text that was written; who is meant is found out elsewhere, and so is
whether the writer may say it. Never acts. Read next: `clinician_commands`.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from datetime import date

from dialogs.clinician_commands import (
    Acknowledge,
    AddNote,
    AllowHops,
    AskHelp,
    CloseEscalation,
    Command,
    Confirm,
    DischargePatient,
    Enrol,
    EnterSheet,
    GoOnToday,
    HandOver,
    LiftStop,
    LimitPain,
    ListMore,
    ListNeeds,
    NotUnderstood,
    OpenPage,
    Outcome,
    PausePatient,
    Readmit,
    RemoveStaff,
    RestToday,
    ResumePatient,
    SetAside,
    SetLevel,
    SetPace,
    ShowHistory,
    ShowPatient,
    ShowWords,
    TakeBack,
    TellPatient,
    Thanks,
)
from dialogs.closing import read_closing
from dialogs.near_commands import nearly
from dialogs.reading_times import read_until
from dialogs.words import Words, bare, plain, shipped_words
from rules.protocol import Tendon

_NUMBER = re.compile(r"#?(\d{1,9})\b")
_SHEET = re.compile(r"(\D+)(\d{1,3}(?:[\s,;/.-]+\d{1,3})*)")
_ADDRESS = re.compile(r"\+[\d ().-]{6,24}\d$")


def read_command(text: str, *, today: date, words: Words | None = None) -> Command:
    """The command that a clinician's message is.

    today: the clinician's local date, for "till 3 May". words: those of the clinician's
    language; None takes the English ones.
    A message that is no command, or one with something missing, is `NotUnderstood`. What a
    patient is to be told is taken as it was written.
    """
    words = words or shipped_words()
    line = bare(text)
    commands = words.clinician["commands"]
    start = next((phrase for phrase in commands if _starts(line, phrase)), None)
    written = " ".join(text.split()).strip(" .!?,;:'\"")
    if start is None:
        return (
            _confirm(line, words)
            or _courtesy(line, words)
            or _outcome_alone(written, today, words)
            or _not_understood(text, today, words)
        )
    if commands[start] == "tell":
        return _tell(text, start)
    rest = written[_cut(written, start) :].strip(" ,:;")
    found = READERS[commands[start]](rest, today, words)
    if found is None and commands[start] in ("rest", "go_on") and _names_nobody(rest, words):
        found = _outcome_alone(written, today, words)
    if found is not None:
        return found
    return NotUnderstood(text, commands[start] if commands[start] in BEGUN else "")


def _outcome_alone(written: str, today: date, words: Words) -> CloseEscalation | None:
    """ "sent on", the answer to what follows, closes the only escalation that is open."""
    closing = read_closing(written, today, words)
    if not isinstance(closing, CloseEscalation) or closing.number is not None:
        return None
    undated = closing.outcome is Outcome.REST and closing.until is None
    return None if closing.outcome is None or undated else closing


def _courtesy(line: str, words: Words) -> Command | None:
    meaning = words.commands.get(line)
    if meaning == "help":
        return AskHelp()
    return Thanks() if meaning == "thanks" else None


def _not_understood(text: str, today: date, words: Words) -> NotUnderstood:
    """With the command that it is nearly, where that would be understood."""
    for meant in nearly(text, words):
        if not isinstance(read_command(meant, today=today, words=words), NotUnderstood):
            return NotUnderstood(text, meant=meant)
    return NotUnderstood(text)


def _starts(line: str, phrase: str) -> bool:
    return line == phrase or line.startswith((phrase + " ", phrase + ",", phrase + ":"))


def _cut(written: str, start: str) -> int:
    """Where the command ends in the text as it was written, with its capitals."""
    kept = plain(written)
    place = kept.find(start)
    return max(place, 0) + len(start)


def _have(rest: str, today: date, words: Words) -> Command | None:
    """With its numbers, and a note that neither asks nor denies."""
    numbers = re.match(r"(?:#?\d{1,9}(?:[\s,&.!]+|$))+", rest)
    note = (rest[numbers.end() :] if numbers else rest).strip()
    if words.commands.get(bare(note)) == "thanks":
        note = ""
    if numbers is None:
        return _have_bare(note, today, words)
    first, *more = map(int, re.findall(r"\d+", numbers[0]))
    if re.search(r"\?|\b(?:not|no|can't|cannot|don't|but|pero)\b", plain(note)):
        return None
    return Acknowledge(first, more=tuple(more), note=note)


def _have_bare(rest: str, _today: date, _words: Words) -> Command | None:
    if not rest:
        return Acknowledge()
    number = _NUMBER.fullmatch(rest.strip(" .!"))
    return Acknowledge(int(number[1])) if number else None


def _have_all(rest: str, _today: date, _words: Words) -> Command | None:
    return None if rest else Acknowledge(every=True)


def _give(rest: str, _today: date, words: Words) -> Command | None:
    between = _either("level", words)
    match = re.fullmatch(rf"#?(\d{{1,9}}) (?:(?:{between}) )?(\D+)", rest, re.IGNORECASE)
    return HandOver(int(match[1]), match[2].strip()) if match else None


def _note(rest: str, _today: date, _words: Words) -> Command | None:
    number = _NUMBER.match(rest)
    said = rest[number.end() :].strip(" ,:;-") if number else ""
    return AddNote(int(number[1]), said) if number and said else None


def _history(rest: str, _today: date, _words: Words) -> Command | None:
    if not rest:
        return ShowHistory()
    number = _NUMBER.fullmatch(rest)
    return ShowHistory(int(number[1])) if number else None


def _enrol(rest: str, _today: date, words: Words) -> Command | None:
    place = re.search(
        rf" (?:{_either('level', words)}) {_place(words)}(?= |$)", rest, re.IGNORECASE
    )
    if place is not None:
        rest = rest[: place.start()] + rest[place.end() :]
    address = _ADDRESS.search(rest)
    parts = (rest[: address.start()] if address else rest).split()
    kinds, small = words.clinician["tendons"], words.clinician["small"]
    tendons = [n for n, part in enumerate(parts) if bare(part) in kinds]
    if len(tendons) != 1 or tendons[0] == 0:
        return None
    at = tendons[0]
    if any(small.get(bare(part)) != "enrol" for part in parts[at + 1 :]):
        return None
    number = "+" + re.sub(r"\D", "", address[0]) if address else ""
    tendon = Tendon(kinds[bare(parts[at])])
    begins = (int(place[1]), int(place[2] or 1)) if place else (None, 1)
    return Enrol(" ".join(parts[:at]), tendon, "sms" if number else "", number, *begins)


def _level(rest: str, _today: date, words: Words) -> Command | None:
    between = _either("level", words)
    match = re.fullmatch(rf"(.+?)(?: (?:{between}))* {_place(words)}", rest, re.IGNORECASE)
    if match is None or int(match[2]) < 1 or int(match[3] or 1) < 1:
        return None
    return SetLevel(match[1].strip(), int(match[2]), int(match[3] or 1))


def _place(words: Words) -> str:
    """A pattern for a level, and a dose where one is written."""
    dose = _either("dose", words)
    return rf"(\d{{1,2}})(?:[ ./]+(?:(?:{dose}) )?(\d{{1,2}}))?"


def _either(kind: str, words: Words) -> str:
    """A pattern for the small words that may stand there."""
    small = words.clinician["small"]
    return "|".join(re.escape(word) for word, meaning in small.items() if meaning == kind)


def _pause(rest: str, today: date, words: Words) -> Command | None:
    endless = _either("endless", words)
    open_ended = re.fullmatch(rf"(.+?),? (?:{endless})", rest, re.IGNORECASE)
    if open_ended:
        return PausePatient(open_ended[1].strip())
    marks = words.time["marks"]
    joints = [re.escape(p) for p, mark in marks.items() if mark in ("until", "for")]
    match = re.search(rf"\s(?:{'|'.join(joints)})\s", rest, re.IGNORECASE)
    if match is None:
        return None
    until = read_until(rest[match.end() :], today, words)
    return PausePatient(rest[: match.start()].strip(), until) if until else None


def _resume(rest: str, _today: date, _words: Words) -> Command | None:
    return ResumePatient(rest) if rest else None


def _hops(rest: str, _today: date, words: Words) -> Command | None:
    name, _, last = rest.rpartition(" ")
    meaning = words.answers.get(bare(last))
    if not name or meaning not in ("yes", "no"):
        return None
    return AllowHops(name.strip(), meaning == "yes")


def _lift(rest: str, _today: date, _words: Words) -> Command | None:
    return LiftStop(rest) if rest else None


def _limit(rest: str, _today: date, words: Words) -> Command | None:
    between = _either("level", words)
    match = re.fullmatch(rf"(.+?)(?: (?:{between}))* (\d{{1,2}})(?: ?/ ?10)?", rest, re.IGNORECASE)
    return LimitPain(match[1].strip(), int(match[2])) if match else None


def _slower(rest: str, _today: date, _words: Words) -> Command | None:
    return SetPace(rest, slower=True) if rest else None


def _usual_pace(rest: str, _today: date, _words: Words) -> Command | None:
    return SetPace(rest, slower=False) if rest else None


def _rest(rest: str, _today: date, words: Words) -> Command | None:
    name = _today_apart(rest, words)
    return RestToday(name) if name else None


def _go_on(rest: str, _today: date, words: Words) -> Command | None:
    name = _today_apart(rest, words)
    return GoOnToday(name) if name else None


def _names_nobody(rest: str, words: Words) -> bool:
    """ "go on", and "rest" with nothing but a day: they answer what follows."""
    begins = plain(rest).partition(" ")[0]
    return not rest or words.time["marks"].get(begins) in ("until", "for")


def _today_apart(rest: str, words: Words) -> str | None:
    """The name, where a word for today may follow; None with a date or a span, which is a pause."""
    marks = words.time["marks"]
    parts = rest.split()
    if parts and bare(parts[-1]) == bare(words.said["today"]):
        parts.pop()
    spans = any(marks.get(bare(part)) in ("until", "for") for part in parts)
    return None if spans or re.search(r"\d", rest) else " ".join(parts)


def _tell(text: str, start: str) -> Command:
    """ "tell Ana: ..." with its lines and signs; the colon says where the name ends."""
    head, _, said = text.partition(":")
    words = said.strip()
    kept = " ".join(head.split())
    name = kept[_cut(kept, start) :].strip(" ,;")
    return TellPatient(name, words) if name and words else NotUnderstood(text, "tell")


def _discharge(rest: str, _today: date, _words: Words) -> Command | None:
    return DischargePatient(rest) if rest else None


def _take_back(rest: str, _today: date, _words: Words) -> Command | None:
    return TakeBack(rest) if rest else None


def _readmit(rest: str, _today: date, _words: Words) -> Command | None:
    return Readmit(rest) if rest else None


def _remove(rest: str, _today: date, _words: Words) -> Command | None:
    return RemoveStaff(rest) if rest else None


def _confirm(line: str, words: Words) -> Command | None:
    """ "yes", or what its button sends: with the number of the question."""
    match = re.fullmatch(r"(.+?)(?: #?(\d{1,9}))?", line)
    # A thumbs-up is thanks here: it must not confirm what changes a plan.
    meaning = words.answers.get(match[1]) if match and match[1].isascii() else None
    if match is None or meaning not in ("yes", "no"):
        return None
    return Confirm(meaning == "yes", int(match[2]) if match[2] else None)


def _sheet(rest: str, _today: date, _words: Words) -> Command | None:
    match = _SHEET.fullmatch(rest)
    if match is None:
        return None
    return EnterSheet(match[1].strip(" ,:;"), tuple(map(int, re.findall(r"\d+", match[2]))))


def _list(rest: str, _today: date, _words: Words) -> Command | None:
    return None if rest else ListNeeds()


def _more(rest: str, _today: date, _words: Words) -> Command | None:
    return None if rest else ListMore()


def _aside(rest: str, _today: date, _words: Words) -> Command | None:
    return SetAside(rest) if rest else None


def _page(rest: str, _today: date, _words: Words) -> Command | None:
    return None if rest else OpenPage()


def _page_off(rest: str, _today: date, _words: Words) -> Command | None:
    return None if rest else OpenPage(off=True)


def _show(rest: str, _today: date, _words: Words) -> Command | None:
    return ShowPatient(rest) if rest else None


def _words_of(rest: str, _today: date, _words: Words) -> Command | None:
    return ShowWords(rest) if rest else None


# Commands that are told by their first word alone, so that it can be said what is missing. The
# others begin like a sentence: "I have a question".
BEGUN = frozenset({
    "close", "give", "note", "enrol", "level", "pause", "resume", "hops", "rest", "go_on", "lift",
    "limit", "tell", "discharge", "take_back",
})  # fmt: skip

Reader = Callable[[str, date, Words], Command | None]

READERS: Mapping[str, Reader] = {
    "have": _have,
    "have_bare": _have_bare,
    "have_all": _have_all,
    "close": read_closing,
    "give": _give,
    "note": _note,
    "history": _history,
    "enrol": _enrol,
    "level": _level,
    "pause": _pause,
    "resume": _resume,
    "hops": _hops,
    "sheet": _sheet,
    "rest": _rest,
    "go_on": _go_on,
    "lift": _lift,
    "limit": _limit,
    "slower": _slower,
    "usual_pace": _usual_pace,
    "discharge": _discharge,
    "take_back": _take_back,
    "readmit": _readmit,
    "remove": _remove,
    "list": _list,
    "more": _more,
    "aside": _aside,
    "page": _page,
    "page_off": _page_off,
    "show": _show,
    "words": _words_of,
}
