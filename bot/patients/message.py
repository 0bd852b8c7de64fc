"""A patient's message: screened for warning signs before the dialog looks at it, then answered.

What the dialog recorded is turned into rows by `record`; what the rules say is asked by `decide`.
"""

from __future__ import annotations

from bot.escalations.alerts import raise_alerts
from bot.patient_record.prompt_schedule import plan_prompts
from bot.patient_record.record import Case
from bot.patient_record.say import say
from bot.patients.apply import Effects, record
from bot.patients.reply import Wanted, reply
from bot.patients.say_visa_total import say_total_of
from bot.patients.warning_signs import ask_back, warn_and_ask, warn_of_pain
from bot.ports import Incoming
from bot.store import answers, conversations
from bot.store.inbox import Outcome, Received
from bot.store.outbox import Urgency
from dialogs.answering import only_answers
from dialogs.errors import StateError
from dialogs.memory import read_payload
from dialogs.patient import correct, step
from dialogs.turn import (
    Answer,
    Asked,
    Completed,
    Message,
    OptedOut,
    Question,
    Turn,
    took_all,
)
from dialogs.wishes import PlanAsked, ProgressAsked, WhyAsked
from dialogs.words import shipped_words
from rules.screening import screen
from rules.warning_sign import Screening


def hear_patient(case: Case, received: Received) -> Outcome:
    """Screen, step, record, decide, say: all that one message of a patient leads to."""
    text = received.incoming.text
    turn = step_message(case, received.incoming)
    screening = screen_message(case, received.incoming, turn)
    if screening.found:
        _keep_answers(case, received)
        warn_and_ask(case.again(), screening, text, received.id)
        return _honour_opt_out(case.again(), received)
    if screening.ask:
        effects = _keep_answers(case, received)
        ask_back(case.again(), screening.ask, text, received.id)
        warn_of_pain(case.again(), effects.pains, received)
        if effects.to_decide:
            reply(case.again(), Wanted(decide=True, severe=True), received.id)
        return Outcome.HANDLED
    return follow(case, turn, received)


def step_message(case: Case, incoming: Incoming) -> Turn:
    """The dialog's turn: an edited message corrects what it answered, any other is a new one."""
    if incoming.corrects is not None:
        kept = answers.by_message(case.store, incoming.channel, incoming.corrects)
        asked = tuple(Asked(Question(answer.question), answer.about) for answer in kept)
        if asked:
            return correct(case.state, asked, incoming.text, case.situation())
    return step(case.state, _message(incoming), case.situation())


def follow(case: Case, turn: Turn, received: Received) -> Outcome:
    """Keep what a turn of the dialog recorded, decide where there is something to decide on, and
    say it all: the dialog's own words, then the advice, then the next question."""
    conversations.keep(case.store, case.patient.id, turn.state, case.now)
    effects = record(case, turn.recorded, received)
    # What was recorded may have changed the person, the plan, or the clock they live by.
    case = case.again()
    situation = case.situation()
    for said in turn.said:
        say(case.store, case.clinic, case.patient.id, said, situation, Urgency.REPLY, case.now)
    severe = warn_of_pain(case, effects.pains, received)
    case = case.again()
    asking = any(asked.question is Question.SIGN for asked in turn.state.waiting)
    reply(case, _wanted(effects, severe=severe, asking=asking), received.id)
    if effects.sheet_on is not None:
        say_total_of(case, effects.sheet_on)
    if not severe:
        for said in turn.said_after:
            say(case.store, case.clinic, case.patient.id, said, situation, Urgency.REPLY, case.now)
    case = case.again()
    if effects.to_decide:
        plan_prompts(case)
    raise_alerts(case)
    return Outcome.UNREAD if effects.unread else Outcome.HANDLED


def _wanted(effects: Effects, *, severe: bool, asking: bool) -> Wanted:
    """`asking`: a closed question about a warning sign still waits."""
    return Wanted(
        decide=effects.to_decide,
        whole=effects.asked_morning,
        corrected=effects.corrected_since is not None,
        why=WhyAsked() in effects.asked,
        plan=PlanAsked() in effects.asked,
        progress=ProgressAsked() in effects.asked,
        severe=severe,
        waited_since=None if asking else effects.denied_asked_at,
    )


def screen_message(case: Case, incoming: Incoming, turn: Turn) -> Screening:
    """The warning signs of typed text. A button says nothing of its own, and nor does a bare
    answer: what its numbers mean is looked at when they are recorded, by `warn_of_pain`.
    `turn`: what the dialog makes of it."""
    if incoming.pressed is not None:
        return Screening()
    words = shipped_words(case.patient.language)
    if only_answers(case.state, incoming.text, case.situation(), words):
        return Screening()
    return screen(incoming.text, case.lexicon, understood=took_all(case.state, turn))


def _message(incoming: Incoming) -> Message:
    """The message as the dialog takes it; a button that cannot be read counts as its label."""
    if incoming.pressed is None:
        return Message(incoming.text)
    try:
        asked, answer = read_payload(incoming.pressed)
    except StateError:
        return Message(incoming.text)
    return Message(answer, asked)


def _keep_answers(case: Case, received: Received) -> Effects:
    """The numbers with which a worrying message begins are answers too: "3 10 but my calf is hot".

    Only those that stand first: a number further on may count days, or anything.
    """
    if not received.incoming.text.lstrip()[:1].isdecimal():
        return Effects()
    turn = step(case.state, _message(received.incoming), case.situation())
    given = [thing for thing in turn.recorded if isinstance(thing, Answer | Completed)]
    if not given:
        return Effects()
    conversations.keep(case.store, case.patient.id, turn.state, case.now)
    return record(case, given, received)


def _honour_opt_out(case: Case, received: Received) -> Outcome:
    """An opt-out in a message with a warning sign counts, after the escalation."""
    turn = step(case.state, _message(received.incoming), case.situation())
    if OptedOut() in turn.recorded:
        return follow(case, turn, received)
    return Outcome.HANDLED
