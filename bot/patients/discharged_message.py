"""What still counts of a message after the treatment has ended. Pure.

Numbers are not taken as answers and no advice is given; the patient is told so, and whom to call,
once a day. What is worrying, STOP, START, HELP, and asking for a person mean what they always do.
Read next: `discharge`.
"""

from __future__ import annotations

from dataclasses import replace

from bot.patient_record.record import PatientRecord
from bot.patient_record.say import Say
from bot.patients.understand import Understood
from dialogs.reading import command
from dialogs.turn import OptedIn, OptedOut, Question, Recorded, Said, SignAnswered, Turn, Unread
from dialogs.waiting import signs_of
from dialogs.wishes import CopyAsked, ErasureAsked, PersonAsked, UrgentSaid
from dialogs.words import shipped_words

# What still counts from somebody who has been discharged.
COUNTS = (SignAnswered, OptedOut, PersonAsked, UrgentSaid, ErasureAsked, CopyAsked)


def what_still_counts(record: PatientRecord, understood: Understood) -> tuple[Turn, Say | None]:
    """The turn with nothing but what still counts; else with words for the clinician, and what is
    said of the end."""
    turn = understood.turn
    counts = tuple(thing for thing in turn.recorded if isinstance(thing, COUNTS))
    if counts or _asks_on(record, turn):
        return _only(turn, counts), None
    back = OptedIn() in turn.recorded
    wished: tuple[Recorded, ...] = (OptedIn(),) if back else ()
    words = shipped_words(record.patient.language)
    if command(understood.text, words) in ("help", "start"):
        return Turn(turn.state, wished), Say(Said("ended"))
    once_a_day = Say(Said("ended"), once_key=f"ended {record.patient.id} {record.today}")
    hears = back or record.patient.opted_out_at is None
    state = turn.state if back else record.state
    return Turn(state, (*wished, Unread(understood.text))), once_a_day if hears else None


def _asks_on(record: PatientRecord, turn: Turn) -> bool:
    """Whether a closed question waits and is put again, and nothing else is asked."""
    waits = any(asked.question is Question.SIGN for asked in record.state.waiting)
    only_signs = all(asked.question is Question.SIGN for asked in turn.state.waiting)
    return waits and only_signs and bool(turn.said) and not turn.recorded


def _only(turn: Turn, counts: tuple[Recorded, ...]) -> Turn:
    """The turn with nothing recorded but what counts, and nothing asked but closed questions."""
    signs = signs_of(turn.state.waiting)
    state = replace(turn.state, waiting=signs)
    after = turn.said_after if signs else ()
    return replace(turn, state=state, recorded=counts, said_after=after)
