"""Reads how a clinician closes an escalation: what was done, what follows, and the note.

Loading is never read out of words that say more than that it goes on: "go on to the hospital" names
no outcome, and is asked about. Read next: `clinician`.
"""

from __future__ import annotations

import re
from datetime import date

from dialogs.clinician_commands import LOADS, CloseEscalation, Command, Done, Outcome
from dialogs.reading_times import read_until
from dialogs.words import Words, bare, plain

_NUMBER = re.compile(r"#?(\d{1,9})\b")
_MARKS = " ,:;.-"


def read_closing(rest: str, today: date, words: Words) -> Command | None:
    """What stands behind "closed". None: neither a number nor an outcome, so it is no closing."""
    match = _NUMBER.match(rest)
    number = int(match[1]) if match else None
    said = (rest[match.end() :] if match else rest).strip(_MARKS)
    if number is not None and _more_numbers(said, words):
        return None
    done, behind = _done(said, words)
    closing = _follows(number, behind, today, words)
    if closing is None:
        if number is None and done is None and said:
            return None
        return CloseEscalation(number, None, behind, done)
    note = f"{done}, {closing.note}".rstrip(" ,") if done else closing.note
    return CloseEscalation(number, closing.outcome, note, done, closing.until, closing.questions)


def _more_numbers(said: str, words: Words) -> bool:
    """Whether several are to be closed at once: each one's patient is told a sentence of its own,
    so each is closed by itself."""
    joints = "|".join(map(re.escape, _small("and", words)))
    listed = re.match(rf"(?:(?:(?:{joints}|&)\s+)?#?\d{{1,9}}(?:[\s,;:-]+|$))+", plain(said))
    behind = said[listed.end() :] if listed else ""
    named = {str(outcome) for outcome in Outcome} | {str(done) for done in Done}
    return listed is not None and (not behind or _first(behind, words, named) is not None)


def _done(said: str, words: Words) -> tuple[Done | None, str]:
    found = _first(said, words, {str(done) for done in Done})
    if found is None:
        return None, said
    phrase, meaning = found
    behind = said[len(phrase) :].strip(_MARKS)
    joint = re.match(rf"(?:{'|'.join(_small('and', words))}) ", plain(behind))
    return Done(meaning), behind[joint.end() :] if joint else behind


def _follows(number: int | None, said: str, today: date, words: Words) -> CloseEscalation | None:
    """The outcome that the words begin with; None where they name none, or more than one."""
    found = _first(said, words, {str(outcome) for outcome in Outcome})
    if found is None:
        return None
    outcome, behind = Outcome(found[1]), said[len(found[0]) :]
    note = behind.strip(_MARKS)
    if outcome in LOADS:
        ends = not note or behind.lstrip()[:1] in ",:;.-"
        return CloseEscalation(number, outcome, note) if ends and not _named(note, words) else None
    if outcome is Outcome.REST:
        until, note = _until(note, today, words)
        return CloseEscalation(number, outcome, note, until=until)
    quiet = any(phrase in plain(note) for phrase in _small("quiet", words))
    return CloseEscalation(number, outcome, note, questions=not quiet)


def _first(said: str, words: Words, meanings: set[str]) -> tuple[str, str] | None:
    line = plain(said)
    for phrase, meaning in words.clinician["outcomes"].items():
        if meaning in meanings and re.match(rf"{re.escape(phrase)}(?![a-z0-9])", line):
            return phrase, meaning
    return None


def _named(note: str, words: Words) -> bool:
    """Whether a note names an outcome after which nothing is loaded."""
    careful = {str(outcome) for outcome in Outcome if outcome not in LOADS}
    phrases = [p for p, meaning in words.clinician["outcomes"].items() if meaning in careful]
    return any(re.search(rf"\b{re.escape(phrase)}\b", plain(note)) for phrase in phrases)


def _until(note: str, today: date, words: Words) -> tuple[date | None, str]:
    """The last day of rest, and the words behind it."""
    joints = [p for p, mark in words.time["marks"].items() if mark in ("until", "for")]
    lead = re.match(rf"(?:{'|'.join(map(re.escape, joints))})\s", plain(note))
    dated = note[lead.end() :] if lead else note
    day, mark, behind = re.split(r"([,;:]|$)", dated, maxsplit=1)
    until = read_until(bare(day), today, words)
    return until, (behind.strip(_MARKS) if until and mark else "" if until else note)


def _small(kind: str, words: Words) -> list[str]:
    return [phrase for phrase, meaning in words.clinician["small"].items() if meaning == kind]
