"""What a lexicon is made of: wordings by what they do, and how each sign's wordings are taken.

Read next: `lexicon` (reads them from files, and finds them in a text).
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from rules.history import Tier
from rules.phrase import Phrase
from rules.warning_sign import Sign


class Kind(StrEnum):
    """What a wording does. From NEGATOR on: keys of `[context]`; the last may lack."""

    WORDING = "wording"
    ASK = "ask"
    CLUE = "clue"
    ASK_INSTEAD = "ask instead"
    NEAR_MISS = "near miss"
    IDIOM = "idiom"
    NEGATOR = "negator"
    NOT_NEGATION = "not_negation"
    OTHER_PERSON = "other_person"
    PAST = "past"
    NOW = "now"
    SUPPOSED = "supposed"
    HEALED = "healed"


class Past(StrEnum):
    """How a wording counts that was long ago."""

    ASK = "ask"
    PASS_OVER = "pass over"
    COUNT = "count"


@dataclass(frozen=True)
class Entry:
    """One wording of the lexicon. `key`: sign or clue it belongs to, empty for idioms and context.

    `tier`: of this wording, which may be more urgent than its sign's; None where it has none.
    """

    kind: Kind
    key: str
    tier: Tier | None
    phrase: Phrase


@dataclass(frozen=True)
class Found:
    """An entry at its place: words `start` up to, not including, `end`."""

    entry: Entry
    start: int
    end: int


@dataclass(frozen=True)
class Together:
    """Signs and clues that mean more in company. All of `parts` show `sign` at `tier`.

    `ask`: they do not show it, but its closed question is to be asked.
    """

    parts: frozenset[str]
    sign: str
    tier: Tier
    ask: bool


@dataclass(frozen=True)
class SignRules:
    """A sign, and how its wordings bear what stands around them.

    `past`, `past_raised`: of its wordings, and of those that raise its tier, where long ago.
    `family`: a relative's counts as well.
    """

    sign: Sign
    past: Past
    past_raised: Past
    family: bool
