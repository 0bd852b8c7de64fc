"""What a patient's message leads to: an ordered list of values. Pure: writes and sends nothing.

What is worrying is escalated and the patient told what to do; what was answered is recorded; an
opt-out is honoured; the advice is said; then the next question. Read next: `apply`.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from typing import get_args

from bot.patient_record.leaving import farewell, welcome_back
from bot.patient_record.record import PatientRecord
from bot.patient_record.say import Say
from bot.patients.consequence_values import (
    Asked,
    Consequence,
    Decide,
    Escalate,
    KeepState,
    Plan,
    RaiseAlerts,
    Record,
    SayHeldBack,
    SayVisaTotal,
    UndoMoves,
)
from bot.patients.discharged_message import what_still_counts
from bot.patients.slips import STANDS
from bot.patients.topic_replies import urgent_first
from bot.patients.understand import Understood
from bot.patients.warning_signs import Alarms
from dialogs.asking import ask
from dialogs.questions import PAINS
from dialogs.turn import (
    Answer,
    Completed,
    Declined,
    Enrolled,
    OptedIn,
    OptedOut,
    Said,
    SignAnswered,
    State,
    Turn,
    Unread,
)
from dialogs.waiting import signs_of
from dialogs.wishes import (
    CopyAsked,
    ErasureAsked,
    HealthNews,
    LeavingAsked,
    MorningTimeChosen,
    PauseAsked,
    PersonAsked,
    ResumeAsked,
    TopicsAsked,
    UrgentSaid,
    ZoneChosen,
)
from dialogs.words import shipped_words
from rules.history import Tier
from rules.quantities import Pain

# Groups of questions whose answers the rules decide on.
DECIDED = frozenset({"morning", "session", "follow-up"})

# What a clinician hears of on the daily list, by what the patient wants; the latter two once.
TOLD = {
    OptedOut: "opted-out",
    Declined: "opted-out",
    PersonAsked: "asks-for-a-person",
    ErasureAsked: "asks-for-erasure",
    CopyAsked: "asks-for-a-copy",
}
TOLD_ONCE = (ErasureAsked, CopyAsked)

# What stops loading until a clinician has looked at it: the plan may have to be another one.
STOPPING = frozenset({"pregnant", "surgery"})

# What is said where nothing is to be done: thanks, a joke, words for a clinician's list.
NO_ANSWER = frozenset({"passed-on", "unread", "with-tip"})

# After these the prompts fall due at other times.
REPLANS = (Enrolled, ResumeAsked, OptedIn, MorningTimeChosen, ZoneChosen)

# How often the same words within an hour are answered [times]: a telephone that replies by itself
# ("I am driving") would go on for ever. Convention.
ECHO_MAX = 3

# What leads on to something else and is no row of its own.
PASSING = (Completed, SignAnswered, LeavingAsked, *get_args(Asked))


def consequences(record: PatientRecord, understood: Understood) -> tuple[Consequence, ...]:
    """All that comes of one message, in the order in which it is done."""
    ended: Say | None = None
    turn = understood.turn
    leaves = understood.leaves or OptedOut() in turn.recorded
    alarming = bool(understood.screening.found or understood.screening.ask)
    if alarming or leaves:
        turn = _answers_before(record, understood)
    elif record.episode.discharged:
        turn, ended = what_still_counts(record, understood)
    alarms = _alarms(record, understood, turn)
    replies = _replies(record, turn, alarms)
    if not alarming and not leaves and _is_echo(record, understood.text, turn):
        replies = [one for one in replies if not isinstance(one, Say)]
    if leaves:
        turn = replace(turn, recorded=(*turn.recorded, OptedOut()))
        alarms.state = _signs(alarms.state) if alarms.come else State()
        goodbye = farewell(record)
        replies = [Decide() for one in replies if isinstance(one, Decide)]
        if not alarms.say_with_it(goodbye):
            replies.append(Say(goodbye))
    return (
        *(one for one in alarms.come if not isinstance(one, Say)),
        *_records(record, understood.text, turn),
        KeepState(alarms.state),
        *(one for one in alarms.come if isinstance(one, Say)),
        *((ended,) if ended else ()),
        *replies,
    )


def _is_echo(record: PatientRecord, text: str, turn: Turn) -> bool:
    """Whether nothing was made of these words, and they have come before again and again."""
    if not _has(turn, Unread):
        return False
    return record.typed_lately.count(text) >= ECHO_MAX


def _answers_before(record: PatientRecord, understood: Understood) -> Turn:
    """The numbers with which a worrying message begins are answers too: "3 10 but my calf is hot".

    Only those that stand first: a number further on may count days, or anything.
    """
    turn = understood.turn
    given = tuple(thing for thing in turn.recorded if isinstance(thing, Answer | Completed))
    begins = understood.text.lstrip()[:1].isdecimal()
    if not given or not begins or record.episode.discharged:
        return Turn(record.state)
    return Turn(turn.state, given)


def _alarms(record: PatientRecord, understood: Understood, turn: Turn) -> Alarms:
    alarms = Alarms(record, turn.state)
    alarms.of_slip(understood.slip_ended, understood.slip)
    alarms.take_back(turn)
    alarms.of_words(understood.screening, understood.told or understood.text)
    for thing in turn.recorded:
        match thing:
            case SignAnswered():
                alarms.of_answer(thing)
            case Unread() if not alarms.severe:
                alarms.of_more_words(thing.text)
            case UrgentSaid():
                alarms.of_urgent_words(understood.text)
    pains = [int(one.value) for one in _answers(turn) if one.question in PAINS]
    if understood.slip_ended in STANDS and not pains:
        pains = [Pain.highest]
    if pains and not understood.screening.found:
        alarms.of_pain(max(pains), silent=understood.slip_ended == "not answered")
    return alarms


def _records(record: PatientRecord, text: str, turn: Turn) -> list[Consequence]:
    """What is kept, and what of it a clinician hears."""
    come: list[Consequence] = []
    for thing in turn.recorded:
        if not isinstance(thing, PASSING):
            come.append(Record(thing))
        sign = thing.about if isinstance(thing, HealthNews) else TOLD.get(type(thing), "")
        raised = isinstance(thing, TOLD_ONCE) and any(e.sign == sign for e in record.not_closed)
        if sign and not raised:
            stops = sign in STOPPING
            come.append(Escalate(sign, Tier.NEXT_WORKING_DAY, text, stops_loading=stops))
    if _is_to_decide(turn) and _corrected(turn):
        come.append(UndoMoves(min(one.about for one in _corrected(turn))))
    return come


def _replies(record: PatientRecord, turn: Turn, alarms: Alarms) -> list[Consequence]:
    """What is said besides, advice first, then the next question. While a sign is asked about
    nobody is advised, nor asked more."""
    back = [welcome_back(record) if one.template == "opted-in" else one for one in turn.said]
    said = (alarms.answering_no(one) for one in back)
    told = [one for one in said if one is not None]
    first = None if alarms.severe else _urgent_beside(record, turn, told)
    come: list[Consequence] = [Say(one) for one in (told if first is None else first)]
    if _is_to_decide(turn):
        corrected = bool(_corrected(turn))
        whole = corrected or any(one.group == "morning" for one in _completed(turn))
        come.append(Decide(not alarms.severe, whole=whole, corrected=corrected))
    elif (alarms.raised or _has(turn, HealthNews)) and record.episode.enrolled_on is not None:
        come.append(Decide())
    elif (denied := _denied_since(record, turn)) is not None:
        come.append(SayHeldBack(denied))
    come += [wish for wish in turn.recorded if isinstance(wish, Asked)]
    come += [SayVisaTotal(one.about) for one in _completed(turn) if one.group == "visa-a"]
    if not (alarms.severe or alarms.emergency or first is not None):
        come += [Say(said) for said in _next_question(record, turn, alarms)]
    if _is_to_decide(turn) or _has(turn, *REPLANS):
        come.append(Plan())
    return [*come, RaiseAlerts()]


def _urgent_beside(record: PatientRecord, turn: Turn, told: list[Said]) -> list[Said] | None:
    """What is said, with what to do first, where something urgent is open and this is thanks, words
    for a list, a topic or a pause: then no form is asked for either. None for all else."""
    bare = not turn.recorded and all(one.template == "ask" for one in told)  # "ok", say
    light = bare or any(one.template in NO_ANSWER or _is_courtesy(one) for one in told)
    topics = any(isinstance(one, TopicsAsked) and one.topics for one in turn.recorded)
    urgent = urgent_first(record) if light or topics or _has(turn, PauseAsked) else None
    if urgent is None:
        return None
    kept = [one for one in told if one.template not in NO_ANSWER] if not bare else []
    if topics:  # whose answer says it
        return kept
    return [*kept, urgent] if light else [urgent, *kept]


def _is_courtesy(said: Said) -> bool:
    return said.template.startswith("asked/")


def _next_question(record: PatientRecord, turn: Turn, alarms: Alarms) -> tuple[Said, ...]:
    """Where closed questions are dropped, what waits behind them is asked."""
    if not alarms.dropped:
        return turn.said_after
    words, state = shipped_words(record.patient.language), alarms.state
    return (ask(state, record.situation(), words),) if state.waiting else ()


def _denied_since(record: PatientRecord, turn: Turn) -> datetime | None:
    """When the last closed question was put that has now been answered with no."""
    left = record.episode.discharged or record.patient.opted_out_at is not None
    if left or _signs(turn.state).waiting:
        return None
    denied = [one.sign for one in turn.recorded if isinstance(one, SignAnswered) and not one.yes]
    asked = [one.asked_at for one in record.asked_signs if one.sign in denied] if denied else []
    return max(asked, default=None)


def _is_to_decide(turn: Turn) -> bool:
    groups = {one.group for one in _completed(turn)}
    groups |= {one.question.row.group for one in _corrected(turn)}
    return not groups.isdisjoint(DECIDED)


def _answers(turn: Turn) -> list[Answer]:
    return [one for one in turn.recorded if isinstance(one, Answer)]


def _corrected(turn: Turn) -> list[Answer]:
    return [one for one in _answers(turn) if one.corrects]


def _completed(turn: Turn) -> list[Completed]:
    return [one for one in turn.recorded if isinstance(one, Completed)]


def _has(turn: Turn, *kinds: type) -> bool:
    return any(isinstance(one, kinds) for one in turn.recorded)


def _signs(state: State) -> State:
    """The state with nothing left but the closed questions that wait."""
    waiting = signs_of(state.waiting)
    return State(waiting=waiting)
