"""What is fixed while the program runs: the clinic, its protocols, its warning signs.

A frozen value, made once by `settings` (or by the rehearsal) and handed down.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, time
from pathlib import Path
from zoneinfo import ZoneInfo

from bot.errors import SettingsError
from rules.escalation import Pace
from rules.lexicon import Lexicon, shipped_lexicon
from rules.prompt_times import DAY, instant, local_date
from rules.protocol import Protocol, Tendon


@dataclass(frozen=True)
class Shift:
    """When one clinician is on duty, on the clinic's wall clock.

    `opens` (included) to `closes` (not included); a shift that closes no later than it opens ends
    on the next day. `weekdays`: the days on which it begins [0 Monday to 6 Sunday]. `days_off`:
    dates on which it does not begin.
    """

    clinician: str
    opens: time
    closes: time
    weekdays: frozenset[int]
    days_off: frozenset[date] = frozenset()

    def covers(self, now: datetime, zone: ZoneInfo) -> bool:
        """Whether the shift is on at an instant [UTC]."""
        today = local_date(now, zone)
        return any(self._covers(day, now, zone) for day in (today - DAY, today))

    def _covers(self, day: date, now: datetime, zone: ZoneInfo) -> bool:
        if day.weekday() not in self.weekdays or day in self.days_off:
            return False
        ends_on = day if self.opens < self.closes else day + DAY
        return instant(day, self.opens, zone) <= now < instant(ends_on, self.closes, zone)


@dataclass(frozen=True)
class Clinic:
    """A clinic as the working functions need it.

    `zone`: IANA name; the clinic's own wall clock. `quiet_from`, `quiet_until`: no prompts between
    them, in the patient's zone. `weekly_on`: weekday of the weekly questions [0 Monday].
    `protocols`, `protocol_texts`: by name. `ladders`: the protocol a new patient gets, by tendon.
    `wording`: the clinic's own templates, by language and name; empty where it uses the shipped
    ones; see `wording_in`. `wording_folder`: where they stand; None where there is no such folder.
    `rota`: the shifts of its clinicians; empty where all are always on duty.
    `digest_on`, `digest_at`: when clinicians get the week in one picture, on its own wall clock
    [0 Monday]; None for never.
    `visa_a`: whether patients are asked for the points of that sheet every four weeks.
    `follow_up_always`: whether the 24-hour question is asked after every session, not only where
    its answer can change an action.
    `ask_less`: whether calm patients are left alone on some mornings; see `rules.asking_less`.
    `last_resort`: whether there is a way out for when no channel reaches a clinician.
    `page_url`: where the clinic page is reached; empty where there is none.
    `identifier_system`: the URI of the identifiers that its own record gives to patients; empty
    where it is not told.
    `segments_a_month`: how many the clinic pays for [1 or more]; None for no limit.
    `region`: whose way of writing telephone numbers is understood [ISO 3166 letters]; None: only
    with a country code. `sms_number`: what patients text to; empty where there is none.
    `alarm_segments_a_day`: after how many of alarms [on its own day] they are no longer repeated
    by SMS; None for no limit.
    """

    name: str
    phone: str
    emergency_number: str
    crisis_line: str
    zone: str
    pace: Pace
    protocols: Mapping[str, Protocol]
    protocol_texts: Mapping[str, str]
    ladders: Mapping[Tendon, str]
    quiet_from: time = time(21, 30)
    quiet_until: time = time(7, 0)
    weekly_on: int = 6
    language: str = "en"
    wording: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    segments_a_month: int | None = None
    region: str | None = None
    sms_number: str = ""
    alarm_segments_a_day: int | None = None
    wording_folder: Path | None = None
    rota: tuple[Shift, ...] = ()
    digest_on: int | None = None
    digest_at: time = time(8, 30)
    visa_a: bool = True
    follow_up_always: bool = False
    ask_less: bool = False
    last_resort: bool = False
    page_url: str = ""
    identifier_system: str = ""

    @property
    def zone_info(self) -> ZoneInfo:
        """The rules of the clinic's zone."""
        return ZoneInfo(self.zone)

    def wording_in(self, language: str) -> Mapping[str, str]:
        """The clinic's own templates in a language, by name."""
        return self.wording.get(language, {})

    @property
    def lexicon(self) -> Lexicon:
        """The warning signs in the clinic's language. Read when first wanted: most commands of the
        program never screen a message.
        """
        return shipped_lexicon(self.language)

    def lexicon_in(self, language: str) -> Lexicon:
        """The warning signs in a patient's language, which may be another than the clinic's."""
        return shipped_lexicon(language)

    def protocol(self, name: str) -> Protocol:
        """A protocol by name; raises SettingsError naming those there are."""
        try:
            return self.protocols[name]
        except KeyError:
            known = ", ".join(sorted(self.protocols))
            raise SettingsError((f"no protocol is named {name!r}; there are {known}",)) from None
