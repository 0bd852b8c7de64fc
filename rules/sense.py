"""Decides how a wording is meant: as it stands, uncertain, or not at all.

A wording can be denied ("no chest pain"), be about somebody else ("my mum had a clot"), be long ago
("cortisone years ago"), or be feared or asked about ("what if it snaps?").
Where two readings are possible it is UNSURE, and a closed question follows: nothing is dropped on a
guess. It knows no words of its own; all come with the lexicon.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum
from functools import cached_property

from rules.lexicon import Lexicon
from rules.plain_text import Pause, Word
from rules.wordings import Found, Kind, Past

# How far a word reaches, in words. Convention: long enough for plain speech, short enough that a
# denial at the start of a long message does not silence its end.
_NEGATION_REACH = 7
_PERSON_REACH = 14
_SUPPOSED_REACH = 5
_LIST_REACH = 5
_REPORTING_REACH = 2
_SHORT_CLAUSE_WORDS = 4


class Meant(Enum):
    """How a wording is to be taken."""

    STATED = "stated"
    UNSURE = "unsure"
    DENIED = "denied"


@dataclass(frozen=True)
class Reading:
    """A text as it was read: its words, what they hold, and the pause after the last."""

    lexicon: Lexicon
    words: tuple[Word, ...]
    found: tuple[Found, ...]
    last_pause: Pause

    @cached_property
    def _by_kind(self) -> dict[Kind, list[Found]]:
        by_kind: dict[Kind, list[Found]] = {}
        for here in self.found:
            by_kind.setdefault(here.entry.kind, []).append(here)
        return by_kind

    @cached_property
    def negators(self) -> tuple[Found, ...]:
        """Every "no" that denies something: not "no idea why", "not only", "never like this"."""
        undoing = self.spans(Kind.NOT_NEGATION)
        return tuple(
            here
            for here in self.spans(Kind.NEGATOR)
            if not any(undo.start <= here.start and here.end <= undo.end for undo in undoing)
        )

    def spans(self, kind: Kind) -> Sequence[Found]:
        """What the text holds of one kind, in order."""
        return self._by_kind.get(kind, ())

    def pause_after(self, place: int) -> Pause:
        """The pause that follows the word at this place."""
        after = place + 1
        return self.words[after].pause if after < len(self.words) else self.last_pause

    def ends_clause(self, place: int) -> bool:
        """Whether a new clause begins with this word: after a full stop, at "but", at "and my"."""
        word = self.words[place]
        if word.pause >= Pause.QUESTION or word.text in self.lexicon.clause_words:
            return True
        joined = word.text in self.lexicon.list_words and place + 1 < len(self.words)
        return joined and self.words[place + 1].text in self.lexicon.subjects | self.lexicon.verbs


def how_meant(here: Found, reading: Reading) -> Meant:
    """How a found wording is meant. Looked at first: whose it is; then denial and so on."""
    judged = (judge(here, reading) for judge in _JUDGES)
    return next((meant for meant in judged if meant is not Meant.STATED), Meant.STATED)


def _by_negation(here: Found, reading: Reading) -> Meant:
    """Denied by a "no" before it, in the same clause; unsure where commas stand between."""
    lexicon, words = reading.lexicon, reading.words
    if any(_inside(span, here, words) for span in reading.negators):
        return Meant.DENIED
    ends = {span.end for span in reading.negators}
    commas, subject = 0, words[here.start].text in lexicon.subjects
    for place in range(here.start, max(0, here.start - _NEGATION_REACH), -1):
        stopped = words[place].pause >= Pause.QUESTION
        if stopped or (place not in ends and reading.ends_clause(place)):
            return Meant.STATED
        commas += words[place].pause is Pause.COMMA
        if place in ends:
            thought = words[place].text in lexicon.thinking
            return Meant.STATED if subject and not thought else _over_commas(here, reading, commas)
        subject = subject or words[place - 1].text in lexicon.subjects
    return Meant.STATED


def _over_commas(here: Found, reading: Reading, commas: int) -> Meant:
    """A denial reaches over commas along a list, "no fever, chills or chest pain"; it does not
    reach a clause with a verb, "no pop, calf is huge". Between the two it is unsure.
    """
    lexicon, words = reading.lexicon, reading.words
    if not commas:
        return Meant.DENIED
    start, end = _clause(here, reading)
    if any(word.text in lexicon.verbs for word in words[start:end]):
        return Meant.STATED
    before = range(here.start - 1, max(0, here.start - _LIST_REACH), -1)
    after = range(here.end, min(len(words), here.end + _LIST_REACH))
    for places in (before, after):
        for place in places:
            if words[place].text in lexicon.either_words:
                return Meant.DENIED
            if words[place].pause >= Pause.QUESTION or words[place].text in lexicon.verbs:
                break
    return Meant.UNSURE


def _inside(span: Found, here: Found, words: tuple[Word, ...]) -> bool:
    """Whether a "no" stands within a wording that does not itself name it: "calf is not hot"."""
    held = {word.text for word in words[span.start : span.end]}
    within = here.start < span.start and span.end < here.end
    return within and not held <= here.entry.phrase.words


def _by_denial_after(here: Found, reading: Reading) -> Meant:
    """Denied by a lone "no" behind it: "Chest pain? No." A full stop between leaves it unsure."""
    words, place = reading.words, here.end
    if place >= len(words) or words[place].text not in reading.lexicon.denials:
        return Meant.STATED
    if words[place].pause is Pause.QUESTION:
        return Meant.DENIED  # asked by the patient and answered: "cipro? never had it"
    alone = place + 1 == len(words) or reading.pause_after(place) is not Pause.NONE
    if not alone or words[place].pause is Pause.NONE:
        return Meant.STATED
    return Meant.UNSURE if words[place].pause is Pause.FULL_STOP else Meant.DENIED


def _by_person(here: Found, reading: Reading) -> Meant:
    """Somebody else's, unless the patient comes in between or the other only reports it. A "his" or
    "her" at a wording points to another even where nobody was named.
    """
    lexicon, words = reading.lexicon, reading.words
    rules = lexicon.signs.get(here.entry.key)
    before = [
        span
        for span in reading.spans(Kind.OTHER_PERSON)
        if span.end <= here.start + 1 and here.start - span.end < _PERSON_REACH
    ]
    if rules is not None and rules.family:
        return Meant.STATED
    owner = max(0, here.start - 1)
    theirs = any(word.text in lexicon.third_person for word in words[owner : here.end])
    if theirs and before:
        mine = any(word.text in lexicon.first_person for word in words[here.start : here.end])
        return Meant.UNSURE if mine or _for_another(reading) else Meant.DENIED
    if theirs and not any(word.text in lexicon.first_person for word in words[: here.end]):
        return Meant.UNSURE
    if not before:
        return Meant.STATED
    person = max(before, key=lambda span: span.end)
    between = range(person.end, here.start + 1)
    # "Mum had a clot so my plan slipped": the patient in the next clause does not own the clot.
    end = next((at for at in range(here.start + 1, here.end) if _parted(at, reading)), here.end)
    near = words[max(0, person.start - 1) : person.end + _REPORTING_REACH]
    if (
        any(word.text in lexicon.first_person for word in words[person.end : end])
        or any(_turns_away(place, reading) for place in between)
        or any(word.text in lexicon.reporting for word in near)
        or _only_touched(person, here, reading)
    ):
        return Meant.STATED
    if any(words[place].pause is Pause.COMMA for place in between):
        return Meant.UNSURE
    return Meant.UNSURE if _for_another(reading) else Meant.DENIED


def _turns_away(place: int, reading: Reading) -> bool:
    """Whether the text leaves the other person here. "Mum is in bed after a fall" does not."""
    words = reading.words
    in_time = words[place].text in reading.lexicon.time_words
    told_of = place + 1 < len(words) and words[place + 1].text not in reading.lexicon.subjects
    still = in_time and told_of and words[place].pause < Pause.QUESTION
    return reading.ends_clause(place) and not still


def _only_touched(person: Found, here: Found, reading: Reading) -> bool:
    """Whether something was done with, to or by the other one, and then, over an "and" or a comma,
    the patient goes on: "walked the dog and calf swelled up", "hit by a player, cant stand".
    """
    words, lexicon = reading.words, reading.lexicon
    before = words[max(0, person.start - 1) : person.start + 1]
    if not any(word.text in lexicon.towards for word in before):
        return False
    return any(
        words[place].pause is Pause.COMMA or words[place].text in lexicon.list_words
        for place in range(person.end, here.start + 1)
    )


def _for_another(reading: Reading) -> bool:
    """Whether somebody may be writing in the patient's place: then nothing is passed over."""
    return any(here.entry.key == "for_another" for here in reading.spans(Kind.CLUE))


def _by_past(here: Found, reading: Reading) -> Meant:
    """Long ago, in the same clause and with no "now" in it; or in a short clause just before."""
    rules = reading.lexicon.signs.get(here.entry.key)
    counts = Past.COUNT if rules is None else rules.past
    if counts is not Past.ASK and not (rules and rules.family) and _long_healed(here, reading):
        return Meant.DENIED
    if rules is not None and here.entry.tier is not None and here.entry.tier != rules.sign.tier:
        counts = rules.past_raised
    if counts is Past.COUNT:
        return Meant.STATED
    start, end = _clause(here, reading)
    times, words = reading.lexicon.time_words, reading.words
    while end < len(words) and words[end].text in times and not words[end].pause:
        end = _clause_end(end + 1, reading)  # "a clot after surgery in 2001": it says when
    if start > 0 and start - _clause_start(start - 1, reading) <= _SHORT_CLAUSE_WORDS:
        start = _clause_start(start - 1, reading)
    told = (*reading.spans(Kind.PAST), *reading.spans(Kind.NOW))
    kinds = {span.entry.kind for span in told if start <= span.start < end}
    if Kind.PAST not in kinds or Kind.NOW in kinds:
        return Meant.STATED
    return Meant.UNSURE if counts is Past.ASK else Meant.DENIED


def _long_healed(here: Found, reading: Reading) -> bool:
    """Whether the sentence says when it was, long ago, and it or the next says that it healed.
    Nothing of today may stand in it: "snapped it in 2015, all healed, and again today".
    """
    first, end = _sentence(here, reading)
    after = _sentence_end(end, reading)
    healed = [one for one in reading.spans(Kind.HEALED) if first <= one.start < after]
    told = any(first <= one.start < end for one in reading.spans(Kind.PAST))
    today = any(
        first <= one.start < end and not any(span.start <= one.start < span.end for span in healed)
        for one in reading.spans(Kind.NOW)
    )
    return told and bool(healed) and not today


def _sentence(here: Found, reading: Reading) -> tuple[int, int]:
    """Where the sentence of a wording begins and ends."""
    stops = (at for at in range(here.start, 0, -1) if reading.words[at].pause >= Pause.QUESTION)
    return next(stops, 0), _sentence_end(here.end - 1, reading)


def _sentence_end(place: int, reading: Reading) -> int:
    """The place behind the last word of the sentence that this word stands in."""
    whole = range(place, len(reading.words) - 1)
    stops = (at + 1 for at in whole if reading.pause_after(at) >= Pause.QUESTION)
    return next(stops, len(reading.words))


def _in_question(here: Found, reading: Reading) -> bool:
    """Whether it is asked about with nobody's body named: "Is numbness a thing to look for?"."""
    first, end = _sentence(here, reading)
    words = reading.words
    if words[first].text not in reading.lexicon.asking:
        return False
    mine = any(word.text in reading.lexicon.first_person for word in words[first : here.end])
    return not mine and reading.pause_after(end - 1) is Pause.QUESTION


def _by_fear(here: Found, reading: Reading) -> Meant:
    """Feared, asked about or supposed: "what if", "could it be", just before it."""
    if _in_question(here, reading):
        return Meant.UNSURE
    first_person = reading.lexicon.first_person
    for span in reading.spans(Kind.SUPPOSED):
        near = span.start < here.start < span.end + _SUPPOSED_REACH and here.end > span.end
        broken = any(
            _parted(place, reading) or reading.words[place].text in first_person
            for place in range(span.end, here.start + 1)
        )
        if near and not broken:
            return Meant.UNSURE
    return Meant.STATED


def _clause(here: Found, reading: Reading) -> tuple[int, int]:
    """Where the clause of a wording begins and ends; commas part clauses here too."""
    return _clause_start(here.start, reading), _clause_end(here.end, reading)


def _clause_start(place: int, reading: Reading) -> int:
    return next((at for at in range(place, 0, -1) if _parted(at, reading)), 0)


def _clause_end(place: int, reading: Reading) -> int:
    last = len(reading.words)
    return next((at for at in range(place, last) if _parted(at, reading)), last)


def _parted(place: int, reading: Reading) -> bool:
    return reading.words[place].pause is not Pause.NONE or reading.ends_clause(place)


_JUDGES = (_by_person, _by_negation, _by_denial_after, _by_past, _by_fear)
