"""How far first-step pain stands from a patient's limit and usual, and for how long.

Ranks two patients for a clinician who has time for one. Advises nothing. Source: convention.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from rules.history import History
from rules.protocol import Protocol
from rules.usual import ONE_DAY, WEEK_DAYS, mornings_between, pain_limit, usual_pain

MORNINGS_MIN = 2
"""One bad morning is no course [mornings of the week, at least]. Convention."""


@dataclass(frozen=True)
class Distance:
    """The last seven mornings against limit and usual. `usual`: of the days before them.

    `over_limit`, `over_usual`: points over, summed over the mornings [points times mornings].
    `above_limit`, `above_usual`: mornings over the limit; mornings above usual by the protocol's
    margin [count]. `worst`: the highest first-step pain [points].
    """

    limit: int
    usual: float
    worst: int
    above_limit: int
    above_usual: int
    over_limit: int
    over_usual: float

    @property
    def is_over_limit(self) -> bool:
        """Over the limit on more than a single morning."""
        return self.above_limit >= MORNINGS_MIN

    @property
    def is_over_usual(self) -> bool:
        """Above usual by the protocol's margin on more than a single morning."""
        return self.above_usual >= MORNINGS_MIN


def distance(history: History, protocol: Protocol, today: date) -> Distance | None:
    """The week up to and including `today`; None where no morning of it was answered."""
    first = today - (WEEK_DAYS - 1) * ONE_DAY
    mornings = mornings_between(history, first, today)
    pains = [int(one.first_step_pain) for one in mornings if one.first_step_pain is not None]
    if not pains:
        return None
    limit = pain_limit(history, protocol)
    usual = usual_pain(history, protocol, first - ONE_DAY)
    margin = protocol.settings.above_usual_margin
    return Distance(
        limit=limit,
        usual=usual,
        worst=max(pains),
        above_limit=sum(pain > limit for pain in pains),
        above_usual=sum(pain >= usual + margin for pain in pains),
        over_limit=sum(max(0, pain - limit) for pain in pains),
        over_usual=sum(max(0.0, pain - usual) for pain in pains),
    )
