"""What is fixed while the program runs: the clinic, its protocols, its warning signs.

A frozen value, made once by `settings` (or by the rehearsal) and handed down.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import time
from zoneinfo import ZoneInfo

from bot.errors import SettingsError
from rules.escalation import Pace
from rules.lexicon import Lexicon
from rules.protocol import Protocol, Tendon


@dataclass(frozen=True)
class Clinic:
    """A clinic as the working functions need it.

    `zone`: IANA name; the clinic's own wall clock. `quiet_from`, `quiet_until`: no prompts between
    them, in the patient's zone. `weekly_on`: weekday of the weekly questions [0 Monday].
    `protocols`, `protocol_texts`: by name. `ladders`: the protocol a new patient gets, by tendon.
    `wording`: the clinic's own templates, by name; empty where it uses the shipped ones.
    `text_channels`: those where each segment costs and a number may change hands.
    `segments_a_month`: how many the clinic pays for [1 or more]; None for no limit.
    """

    name: str
    phone: str
    emergency_number: str
    crisis_line: str
    zone: str
    pace: Pace
    lexicon: Lexicon
    protocols: Mapping[str, Protocol]
    protocol_texts: Mapping[str, str]
    ladders: Mapping[Tendon, str]
    quiet_from: time = time(21, 30)
    quiet_until: time = time(7, 0)
    weekly_on: int = 6
    language: str = "en"
    wording: Mapping[str, str] = field(default_factory=dict)
    text_channels: frozenset[str] = frozenset({"sms"})
    segments_a_month: int | None = None

    @property
    def zone_info(self) -> ZoneInfo:
        """The rules of the clinic's zone."""
        return ZoneInfo(self.zone)

    def protocol(self, name: str) -> Protocol:
        """A protocol by name; raises SettingsError naming those there are."""
        try:
            return self.protocols[name]
        except KeyError:
            known = ", ".join(sorted(self.protocols))
            raise SettingsError((f"no protocol is named {name!r}; there are {known}",)) from None
