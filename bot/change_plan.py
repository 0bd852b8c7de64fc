"""The clinician's word: a level, a pause, the gate to hops. It wins over the rules at once."""

from __future__ import annotations

from datetime import date

from bot.case import Case
from bot.errors import RefusedError
from bot.plan_prompts import plan_prompts
from bot.store import plans
from dialogs.advising import say_plan_changed
from dialogs.turn import Said
from rules.history import Move, MovedBy
from rules.ladder import is_barred
from rules.protocol import Position


def set_level(case: Case, level: int, dose: int, clinician: int) -> Said:
    """Put the patient on a place of the ladder; gives what the patient is told.

    Raises RefusedError where there is no such place, or it is barred for this patient.
    """
    _enrolled(case)
    levels = case.protocol.levels
    if not 1 <= level <= len(levels):
        raise RefusedError(f"{case.protocol.title} has levels 1 to {len(levels)}; found {level}")
    doses = levels[level - 1].doses
    if not 1 <= dose <= len(doses):
        raise RefusedError(f"level {level} has doses 1 to {len(doses)}; found {dose}")
    position = Position(level, dose)
    if is_barred(case.history, case.protocol, position):
        raise RefusedError(
            f"level {level} is closed for {case.patient.name}: hops need HOPS {case.patient.name}"
            " yes first, and an insertional tendon is not lowered below the floor"
        )
    made = Move(case.today, position, MovedBy.CLINICIAN)
    plans.move(case.store, case.episode.id, made, case.now, clinician)
    fresh = case.again()
    return say_plan_changed(
        fresh.prescription(), fresh.situation(), session_today=fresh.session_offered
    )


def pause(case: Case, until: date | None, clinician: int) -> Said:
    """No loading until a day (included), or until somebody says otherwise."""
    _enrolled(case)
    if until is not None and until < case.today:
        raise RefusedError(f"expected a day from today on; found {until:%d %B %Y}")
    plans.pause(case.store, case.episode.id, case.today, until, clinician, case.now)
    fresh = case.again()
    return say_plan_changed(
        None,
        fresh.situation(prescribe=False),
        paused_on=case.today,
        paused_until=until,
        session_today=False,
    )


def resume(case: Case) -> Said:
    """End a pause."""
    _enrolled(case)
    plans.end_pauses(case.store, case.episode.id, case.today, case.now)
    fresh = case.again()
    plan_prompts(fresh)
    return say_plan_changed(
        fresh.prescription(), fresh.situation(), session_today=fresh.session_offered
    )


def allow_hops(case: Case, *, allowed: bool) -> None:
    """Open or close the gate to hops."""
    _enrolled(case)
    plans.allow_hops(case.store, case.episode.id, allowed, case.now)


def _enrolled(case: Case) -> None:
    if case.episode.enrolled_on is None:
        raise RefusedError(f"{case.patient.name} has not answered the first questions yet")
