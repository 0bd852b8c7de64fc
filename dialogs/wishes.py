"""What a patient may want of the bot: a pause, another time or place, a reason, a person. Frozen.

Recorded by the dialog, kept by `bot.patients.apply`. Read next: `preferences`, `turn`.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, time


@dataclass(frozen=True)
class PauseAsked:
    """The patient pauses; `until` is the last day of the pause, `on` the first, None for today.
    `asks`: the exercises alone pause, the questions go on."""

    until: date
    on: date | None = None
    asks: bool = False


@dataclass(frozen=True)
class ResumeAsked:
    """The patient ends a pause."""


@dataclass(frozen=True)
class MorningTimeChosen:
    """The patient wants the morning questions at another time [wall-clock]."""

    at: time


@dataclass(frozen=True)
class LanguageChosen:
    """The patient wants another language; `language` is its code."""

    language: str


@dataclass(frozen=True)
class ChannelChosen:
    """The patient wants to be reached another way first: `kind` is "chat" or "text"."""

    kind: str


@dataclass(frozen=True)
class ZoneChosen:
    """The patient lives by another zone now; `until` is the last day there, None for good.

    `zone`: IANA name; empty for "back at home".
    """

    zone: str
    until: date | None = None


@dataclass(frozen=True)
class ErasureAsked:
    """The patient wants their data deleted."""


@dataclass(frozen=True)
class CopyAsked:
    """The patient wants a copy of their data."""


@dataclass(frozen=True)
class ProgressAsked:
    """The patient asks how it is going."""


@dataclass(frozen=True)
class WhyAsked:
    """The patient asks for the reasons behind the last advice."""


@dataclass(frozen=True)
class PlanAsked:
    """The patient asks what the session is."""


@dataclass(frozen=True)
class TopicsAsked:
    """The patient asks about these topics of `dialogs.topics`; none: a courtesy, answered already.

    `plain`: read at such odds that a likeness to a warning sign alone is not asked about.
    """

    topics: tuple[str, ...]
    plain: bool = False


@dataclass(frozen=True)
class HealthNews:
    """The patient tells what a clinician must weigh: "pregnant", "surgery" or "medicine"."""

    about: str


@dataclass(frozen=True)
class PersonAsked:
    """The patient asks for a human."""


@dataclass(frozen=True)
class LeavingAsked:
    """The patient wants to stop, and does not say what: these messages, or the exercises."""


@dataclass(frozen=True)
class UrgentSaid:
    """The patient says that something cannot wait, in a word of their own choosing or ours."""


Wish = (
    PauseAsked
    | ResumeAsked
    | MorningTimeChosen
    | LanguageChosen
    | ChannelChosen
    | ZoneChosen
    | ErasureAsked
    | CopyAsked
    | ProgressAsked
    | WhyAsked
    | PlanAsked
    | TopicsAsked
    | HealthNews
    | PersonAsked
    | LeavingAsked
    | UrgentSaid
)
