"""Short tips: read from `wording/<language>/tips.toml`, and which one fits the moment.

Teaching in small doses: at most one a day and, but for a step back, two a week, never the same
twice in a month, never beside a warning sign. Says nothing itself.
Read next: `wording/en/tips.toml`.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache
from typing import Any

from dialogs.catalogues import text_of
from dialogs.errors import WordsError
from rules.protocol import PAIN_CEILING, Tendon
from rules.reasons import Action, Advice, Reason

# Days before the same tip may be said again, and tips in seven days [count, at most]. Convention:
# more is not read.
SAME_AFTER_DAYS = 30
A_WEEK_MAX = 2

SORE_DAYS = (
    Reason.WELL_ABOVE_USUAL,
    Reason.ABOVE_USUAL_TWICE,
    Reason.SORE_SESSION_AND_NEXT_DAY,
    Reason.NEXT_DAY_ABOVE_USUAL,
)
"""Reasons for a rest day that lie in the day's own answers."""

MOMENTS = ("rest-day", "sore-morning", "sore-session", "session", "step-back")
TENDONS = ("any", *(tendon.value for tendon in Tendon))


@dataclass(frozen=True)
class Tip:
    """One tip. `moments`: when it fits; `tendon`: "any" or one kind; `source`: where it is from.

    `asks`: it is a question, and `text` the name of its template. `allows_pain`: it calls so much
    pain all right [points], so it is for nobody with a lower limit.
    """

    key: str
    text: str
    moments: tuple[str, ...]
    tendon: str
    source: str
    asks: bool = False
    allows_pain: int = 0


def read_tips(text: str) -> tuple[Tip, ...]:
    """The tips of a file, in its order. Raises `WordsError` saying which entry wants what."""
    try:
        kept = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise WordsError(f"the tips are not TOML: {error}") from error
    tips = kept.get("tips", {})
    if not isinstance(tips, dict):
        raise WordsError("expected the tables [tips.<name>]")
    return tuple(_tip(key, entry) for key, entry in tips.items())


@lru_cache(maxsize=8)
def shipped_tips(language: str = "en") -> tuple[Tip, ...]:
    """The tips that ship for a language."""
    return read_tips(text_of(language, "tips"))


def moments(advice: Advice) -> tuple[str, ...]:
    """The moments an advice makes; none where a warning sign or a clinician's word decides."""
    if advice.reason in (Reason.CLINICIAN_SAYS_REST, Reason.CLINICIAN_SAYS_GO_ON):
        return ()
    if advice.steps_down:
        return ("step-back",)
    if advice.reason in SORE_DAYS:
        return ("sore-morning",)
    if advice.action is Action.REST_DAY:
        # Straight after a session there is room, and an ear, for what is about sessions.
        just_done = advice.because.evidence.get("days_since_session") == 0
        return ("session",) if just_done else ("rest-day",)
    if advice.reason is Reason.SORE_BUT_SETTLED:
        return ("sore-session",)
    return ("session",) if advice.session_today else ()


def fitting(
    tips: tuple[Tip, ...],
    advice: Advice,
    tendon: Tendon,
    told: Mapping[str, date],
    today: date,
    pain_limit: int = PAIN_CEILING,
) -> tuple[Tip, ...]:
    """The tips that may be said with an advice, the best first; none where it is too soon.

    told: when each tip was told last [local dates]. pain_limit: the patient's [points, 0-5].
    """
    week = today - timedelta(days=6)
    recent = [on for on in told.values() if on >= week]
    # A step back is the day on which people give up: it is never without its word.
    if today in told.values() or (len(recent) >= A_WEEK_MAX and not advice.steps_down):
        return ()
    now = moments(advice)
    first_again = today - timedelta(days=SAME_AFTER_DAYS)
    return tuple(
        tip
        for tip in tips
        if set(tip.moments) & set(now)
        and tip.tendon in ("any", tendon.value)
        and tip.allows_pain <= pain_limit
        and (tip.key not in told or told[tip.key] <= first_again)
    )


def _tip(key: str, entry: Any) -> Tip:
    """One entry, checked."""
    if not isinstance(entry, dict) or not all(
        isinstance(entry.get(name), str) and entry[name].strip()
        for name in ("text", "tendon", "source")
    ):
        raise WordsError(f"tips.{key}: expected text, moment, tendon and source")
    found = entry.get("moment")
    if not isinstance(found, list) or not found or not set(found) <= set(MOMENTS):
        raise WordsError(f"tips.{key}.moment: expected some of {', '.join(MOMENTS)}")
    if entry["tendon"] not in TENDONS:
        raise WordsError(f"tips.{key}.tendon: expected one of {', '.join(TENDONS)}")
    allows = entry.get("allows_pain", 0)
    if type(allows) is not int or not 0 <= allows <= PAIN_CEILING:
        raise WordsError(f"tips.{key}.allows_pain: expected 0 to {PAIN_CEILING} points")
    asks = entry.get("asks", False) is True
    return Tip(key, entry["text"], tuple(found), entry["tendon"], entry["source"], asks, allows)
