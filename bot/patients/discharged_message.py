"""A message of a patient whose treatment has ended: screened like any other, and seen by people.

Numbers are not taken as answers and no advice is given; the patient is told so, and whom to call,
once a day. What is worrying, STOP, START, HELP, and asking for a person mean what they always do.
Read next: `discharge`.
"""

from __future__ import annotations

from dataclasses import replace

from bot.patient_record.record import Case
from bot.patient_record.say import say
from bot.patients.message import follow, screen_message, step_message
from bot.patients.warning_signs import ask_back, warn_and_ask
from bot.store.inbox import Outcome, Received
from bot.store.outbox import Urgency
from dialogs.reading import command
from dialogs.turn import OptedIn, OptedOut, Question, Recorded, Said, SignAnswered, Turn
from dialogs.wishes import CopyAsked, ErasureAsked, PersonAsked, UrgentSaid
from dialogs.words import shipped_words

# What still counts from somebody who has been discharged.
COUNTS = (SignAnswered, OptedOut, PersonAsked, UrgentSaid, ErasureAsked, CopyAsked)


def hear_former(case: Case, received: Received) -> Outcome:
    """Screen it; hear what still counts; else say that the programme has ended, and keep the words
    for the clinic."""
    incoming = received.incoming
    turn = step_message(case, incoming)
    screening = screen_message(case, incoming, turn)
    if screening.found:
        warn_and_ask(case, screening, incoming.text, received.id)
        return _honour_opt_out(case.again(), received)
    if screening.ask:
        ask_back(case, screening.ask, incoming.text, received.id)
        return Outcome.HANDLED
    counts = tuple(thing for thing in turn.recorded if isinstance(thing, COUNTS))
    if counts or _asks_on(case, turn):
        return follow(case, _only(turn, counts), received)
    if OptedIn() in turn.recorded:
        follow(case, replace(turn, recorded=(OptedIn(),), said=(), said_after=()), received)
        case = case.again()
    is_help = command(incoming.text, shipped_words(case.patient.language)) in ("help", "start")
    if case.patient.opted_out_at is None or is_help:
        _say_ended(case, None if is_help else f"ended {case.patient.id} {case.today}")
    return Outcome.HANDLED if is_help else Outcome.UNREAD


def _honour_opt_out(case: Case, received: Received) -> Outcome:
    """An opt-out in a message with a warning sign counts, after the escalation."""
    turn = step_message(case, received.incoming)
    if OptedOut() in turn.recorded:
        return follow(case, _only(turn, (OptedOut(),)), received)
    return Outcome.HANDLED


def _asks_on(case: Case, turn: Turn) -> bool:
    """Whether a closed question waits and is put again, and nothing else is asked."""
    waits = any(asked.question is Question.SIGN for asked in case.state.waiting)
    only_signs = all(asked.question is Question.SIGN for asked in turn.state.waiting)
    return waits and only_signs and bool(turn.said) and not turn.recorded


def _only(turn: Turn, counts: tuple[Recorded, ...]) -> Turn:
    """The turn with nothing recorded but what counts, and nothing asked but closed questions."""
    signs = tuple(a for a in turn.state.waiting if a.question is Question.SIGN)
    state = replace(turn.state, waiting=signs)
    after = turn.said_after if signs else ()
    return replace(turn, state=state, recorded=counts, said_after=after)


def _say_ended(case: Case, once_key: str | None) -> None:
    situation = case.situation(prescribe=False)
    said = Said("ended")
    say(
        case.store,
        case.clinic,
        case.patient.id,
        said,
        situation,
        Urgency.REPLY,
        case.now,
        once_key=once_key,
    )
