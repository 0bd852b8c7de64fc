"""What a patient is told of a topic they ask about: from their own plan, or a sourced note, and
never against a stop, a pause or a clinician's word of the day. Read next: `dialogs.topics`.
"""

from __future__ import annotations

from datetime import date

from bot.patient_record.record import PatientRecord
from bot.patients.warning_signs import CRISIS
from dialogs.advising import dose_line, say_advice, say_sign
from dialogs.progress import planned_days
from dialogs.rendering import day_word
from dialogs.tips import SORE_DAYS
from dialogs.topics import topics_of
from dialogs.turn import Said, Value
from rules.history import Tier
from rules.protocol import Tendon
from rules.usual import pain_limit

# What is held back on a day without loading: while loading is stopped; on a pause and on a day of
# rest that a clinician asked for; on a sore day. Convention: the lighter, the later.
SORE = frozenset({"run", "sport", "gym", "more"})
REST = SORE | {"cycle", "swim", "stretch", "today", "session", "next", "missed", "why-same"}
STOPPED = REST | {"walk", "work"}

# Notes about the leg: none is good for one that may hold a clot, which is neither to be rubbed nor
# warmed nor flown with. Convention: all of these tables, so that a new note is among them.
ABOUT_THE_LEG = ("activity", "care")


def topic_answer(record: PatientRecord, topic: str) -> Said | None:
    """The answer about a topic; None where it is the plan, or the reasons of the last advice."""
    about = topics_of(record.patient.language).get(topic)
    if about in ABOUT_THE_LEG and topic not in STOPPED and (first := _first(record)):
        return first
    why = _why_not_now(record, topic)
    if why:
        return say_held(record, why)
    if topic == "today":
        return _today(record)
    if topic in ("session", "why-same", "why-rest"):
        return None
    return Said(f"asked/{topic}", _values(record))


def urgent_first(record: PatientRecord) -> Said | None:
    """What to do first, while an emergency or something for today is open that stops loading; None
    where nothing is. In a crisis it is a person to talk to."""
    first = next((one for one in record.not_closed if one.stops_loading), None)
    if first is None or first.tier is Tier.NEXT_WORKING_DAY:
        return None
    if first.sign == CRISIS:
        return say_sign(first.tier, CRISIS, record.situation())
    return Said("sign-first", {"tier": first.tier.value})


def _first(record: PatientRecord) -> Said | None:
    """What stands in place of a note about the leg; also for whoever was sent on and not lifted."""
    if urgent := urgent_first(record):
        return urgent
    if record.held == "stopped":
        return Said("sign-first", {"tier": Tier.NEXT_WORKING_DAY.value})
    return say_held(record, "asked") if record.held == "asked" else None


def say_held(record: PatientRecord, why: str) -> Said:
    """Why there are no exercises now, and no session to be named."""
    until = record.paused_until()
    endless = until is None or until == date.max
    return Said("asked/held", {"why": why, "paused_until": None if endless else until})


def _why_not_now(record: PatientRecord, topic: str) -> str:
    """Why the topic is answered with "not now"; "" where it is not."""
    if record.held and topic in (STOPPED if record.held in ("stopped", "asked") else REST):
        return record.held
    decided = record.decided_today
    sore = decided is not None and (decided.advice.steps_down or decided.advice.reason in SORE_DAYS)
    return "sore" if sore and topic in SORE else ""


def _today(record: PatientRecord) -> Said:
    """Today's advice; it comes with the morning's answers and not before."""
    decided = record.decided_today
    if decided is None:
        return Said("asked/not-yet")
    return say_advice(decided.advice, record.protocol, record.situation())


def _values(record: PatientRecord) -> dict[str, Value]:
    """What a note may say of the patient's own plan."""
    prescription = record.prescription()
    language = record.patient.language
    level = record.moves[-1].position.level if record.moves else 1
    return {
        "at": f"{record.episode.morning_time:%H:%M}",
        "days": _days(record),
        "dose_line": (
            dose_line(prescription.level, prescription.dose, language)
            if prescription and not record.held
            else ""
        ),
        "insertional": record.episode.tendon is Tendon.INSERTIONAL,
        "limit": int(pain_limit(record.history, record.protocol)),
        "step": level,
        "steps": len(record.protocol.levels),
    }


def _days(record: PatientRecord) -> str:
    """The days of the next seven on which a session falls, named."""
    prescription = record.prescription()
    if prescription is None:
        return ""
    days = planned_days(
        record.today,
        prescription.level.spacing_days,
        record.situation().last_session_on,
        session_today=record.session_offered,
    )
    language = record.patient.language
    return ", ".join(day_word(on, record.today, ahead=True, language=language) for on in days)
