"""What the screen of a message returns. The lexicon itself: `warning_signs/<language>.toml`."""

from __future__ import annotations

from dataclasses import dataclass

from rules.history import Tier


@dataclass(frozen=True)
class Sign:
    """A kind of warning sign. `key` names it in store, template and tests, e.g. `tendon-rupture`.

    `closed_question` is asked where the screen cannot tell; yes means the sign.
    `title` is for the clinician. Never a diagnosis: it says what the patient reported.
    """

    key: str
    tier: Tier
    title: str
    closed_question: str
    source: str

    @property
    def asked(self) -> str:
        """The closed question as a clinician reads it, without how to reply."""
        return self.closed_question[: self.closed_question.rfind("?") + 1]


@dataclass(frozen=True)
class Match:
    """A sign found in a text, and the words that showed it.

    `by_likeness`: no wording points to it, only likeness to labelled messages. `words` is then
    empty, and a clinician is to read that the text may mean this.
    """

    sign: Sign
    tier: Tier
    words: str
    by_likeness: bool = False


@dataclass(frozen=True)
class Screening:
    """What a text holds. `found`: most urgent first. `ask`: what a closed question settles.

    `asked_by_likeness`: keys of those in `ask` that no wording points to. `with_before`: some of
    it shows only together with what was written just before.
    """

    found: tuple[Match, ...] = ()
    ask: tuple[Sign, ...] = ()
    asked_by_likeness: frozenset[str] = frozenset()
    with_before: bool = False

    @property
    def likeness_alone(self) -> bool:
        """Whether no wording points to any of it."""
        found = all(match.by_likeness for match in self.found)
        return found and all(sign.key in self.asked_by_likeness for sign in self.ask)

    @property
    def tier(self) -> Tier | None:
        """The most urgent tier found, or None."""
        return self.found[0].tier if self.found else None

    @property
    def sooner(self) -> tuple[Sign, ...]:
        """What is asked about and would need a person sooner than all that was found."""
        tier = self.tier
        return tuple(one for one in self.ask if tier and one.tier.urgency < tier.urgency)
