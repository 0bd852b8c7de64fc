"""Says what was decided: advice with its reason, the plan, the reply to a warning sign, and the
notice to a clinician.

Decides nothing. Each reason has its template, named by it, under `advice` (what to do, then why)
and `why` (the numbers compared). Read next: `wording/en/advice.toml`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from babel.dates import format_date

from dialogs.asking import session_values
from dialogs.rendering import day_word, number, spoken
from dialogs.turn import Prescription, Said, Situation, Value
from dialogs.words import shipped_words
from rules.history import Tier
from rules.protocol import Dose, DoseUnit, Level, Position, Protocol
from rules.reasons import Advice, Reason
from rules.warning_sign import Match, Sign

# Signs with a reply of their own: a person in distress is not told about loading first.
OWN_REPLIES = frozenset({"crisis", "low-mood"})


@dataclass(frozen=True)
class EscalationNotice:
    """What a clinician is told of a worry. All texts as they are to be shown.

    `number`: the escalation's, for "I have it". `wrote`: the patient's own words, or the numbers
    where no words came. `since`: when it was raised, in the clinic's zone. `numbers`: the last
    three days in one line (`numbers_line`). `told`: what the patient was told. `again`: 1 the
    first time, 2 at the first reminder [count]. `exhausted`: the whole rota was told in vain.
    `others`: what else nobody has, a line each. `remarks`: our own words on what was written.
    """

    number: int
    patient: str
    tier: Tier
    title: str
    wrote: str
    since: datetime
    numbers: str = ""
    told: str = ""
    patient_phone: str = ""
    again: int = 1
    exhausted: bool = False
    others: str = ""
    remarks: str = ""


@dataclass(frozen=True)
class ListedEscalation:
    """One line of a clinician's list of what can wait for a working day; as `EscalationNotice`.

    `stops_loading`: the patient does nothing until it is closed.
    """

    number: int
    patient: str
    title: str
    wrote: str
    since: datetime
    stops_loading: bool = True
    exhausted: bool = False


@dataclass(frozen=True)
class DayNumbers:
    """One day's answers for the clinician's line. None: not answered. Minutes for stiffness."""

    on: date
    first_step_pain: int | None = None
    stiffness: int | None = None
    pain_during: int | None = None
    pain_after: int | None = None


def prescription_at(protocol: Protocol, position: Position) -> Prescription:
    """What a session at this position consists of."""
    return Prescription(protocol.level(position), protocol.dose(position))


def say_advice(advice: Advice, protocol: Protocol, situation: Situation) -> Said:
    """What to do today, then why, in two plain sentences and the session where one is due."""
    return Said(f"advice/{advice.reason.value}", _advice_values(advice, protocol, situation))


def say_why(advice: Advice, protocol: Protocol, situation: Situation) -> Said:
    """The numbers behind an advice and the rule that compared them, in plain words."""
    return Said(f"why/{advice.reason.value}", _advice_values(advice, protocol, situation))


def say_plan(
    advice: Advice, protocol: Protocol, situation: Situation, *, decided: bool = True
) -> Said:
    """The session of today, or the next one where none is due today; before today is `decided`
    the session alone, for which day the morning's answers tell."""
    return Said("plan", {**_advice_values(advice, protocol, situation), "decided": decided})


def say_plan_changed(
    prescription: Prescription | None,
    situation: Situation,
    *,
    paused_on: date | None = None,
    paused_until: date | None = None,
    session_today: bool = True,
    held: str = "",
) -> Said:
    """The clinician's word: a level was set, or the plan paused. It wins over the rules. `held`:
    why there is no session now all the same, as `Advice.held`."""
    until = paused_until or situation.paused_until
    values: dict[str, Value] = {
        **session_values(prescription),
        "paused_on": paused_on,
        # The last day there is stands for a pause without an end.
        "paused_until": None if until == date.max else until,
        "session_today": session_today,
        "held": held,
    }
    return Said("clinician-word", values)


def say_sign(tier: Tier, sign: Sign | Match | str, situation: Situation) -> Said:
    """The immediate reply to a warning sign: what to do now, whom to call, who is being told.

    sign: the sign, a match of it, or its key. It names nothing and explains nothing: that would
    be a diagnosis. The numbers to call are the situation's.
    """
    key = sign if isinstance(sign, str) else sign.sign.key if isinstance(sign, Match) else sign.key
    template = key if key in OWN_REPLIES else tier.value.replace(" ", "-")
    values: dict[str, Value] = {"sign": key, "tier": tier.value}
    return Said(f"sign/{template}", {**values, "on": situation.today})


def say_escalation(notice: EscalationNotice) -> Said:
    """What a clinician is told: who, what, since when, the numbers, how to take it."""
    template = "clinician/exhausted" if notice.exhausted else "clinician/escalation"
    return Said(
        template,
        {
            "number": notice.number,
            "patient": notice.patient,
            "patient_phone": notice.patient_phone,
            "tier": notice.tier.value,
            "title": notice.title.rstrip("."),
            "wrote": " ".join(notice.wrote.split()),
            "since": notice.since,
            "numbers": notice.numbers,
            "told": " ".join(notice.told.split()),
            "again": notice.again,
            "others": notice.others,
            "remarks": notice.remarks,
        },
    )


def say_listed_escalation(escalation: ListedEscalation) -> Said:
    """One line of the day's list."""
    return Said(
        "clinician/list-line",
        {
            "number": escalation.number,
            "patient": escalation.patient,
            "title": escalation.title.rstrip("."),
            "wrote": " ".join(escalation.wrote.split()),
            "since": escalation.since,
            "stops_loading": escalation.stops_loading,
            "exhausted": escalation.exhausted,
        },
    )


def numbers_line(days: tuple[DayNumbers, ...], language: str = "en") -> str:
    """The last three days in one line, oldest first; "no answer" for a day without any.

    "Mon am 3 stiff 10 min session 5, after 4" is Monday: first-step pain 3, stiff 10 minutes, in
    the session 5, after it 4.
    """
    return "; ".join(_day_numbers(numbers, language) for numbers in days[-3:])


def _day_numbers(numbers: DayNumbers, language: str) -> str:
    said = shipped_words(language).said
    shown = {name: _shown(value) for name, value in vars(numbers).items() if name != "on"}
    shown["weekday"] = format_date(numbers.on, "EEE", locale=language)
    if all(value is None for name, value in vars(numbers).items() if name != "on"):
        return said["day_without_numbers"].format(**shown)
    parts = [said["day_numbers"].format(**shown)]
    if numbers.pain_during is not None or numbers.pain_after is not None:
        parts.append(said["session_numbers"].format(**shown))
    return " ".join(parts)


def _shown(value: int | None) -> str:
    return "-" if value is None else str(value)


def _advice_values(advice: Advice, protocol: Protocol, situation: Situation) -> Mapping[str, Value]:
    """Everything an advice template may ask for: the evidence by its names, and the session."""
    prescription = prescription_at(protocol, advice.position)
    values: dict[str, Value] = dict(advice.because.evidence)
    values.update(session_values(prescription))
    values.update(
        action=advice.action.value,
        session_today=advice.session_today,
        moved=advice.position != advice.stood,
        new_level=advice.position.level != advice.stood.level,
        dose_line=dose_line(prescription.level, prescription.dose, situation.language),
        first_session=situation.last_session_on is None,
    )
    if advice.reason is Reason.STILL_RECOVERING:
        values["next_day"] = _next_day(advice, situation)
    return values


def dose_line(level: Level, dose: Dose, language: str = "en") -> str:
    """A session on one line: "heel-raise hold on one leg, 3 x 40 s"."""
    said = shipped_words(language).said
    seconds = said["dose_seconds"] if dose.unit is DoseUnit.SECONDS else ""
    kilograms = number(dose.added_load_kg, language)
    load = said["dose_load"].format(load=kilograms) if dose.added_load_kg else ""
    return f"{spoken(level.name, language)}, {dose.sets} x {dose.amount}{seconds}{load}"


def _next_day(advice: Advice, situation: Situation) -> str:
    """The day from which the next session may be done, as people say it."""
    evidence = advice.because.evidence
    session_on = date.fromisoformat(str(evidence["session_on"]))
    next_on = session_on + timedelta(days=int(float(str(evidence["spacing_days"]))))
    return day_word(next_on, situation.today, ahead=True, language=situation.language)
