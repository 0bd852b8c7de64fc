"""The decision order, top to bottom, and `advise`, which walks it.

The first row that applies decides; the others that apply are kept beside it. Decides on numbers
only, never on words, and says nothing to a patient.
Read next: `step_back`, `rest_day`, `hold` for what each row compares.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from rules.brake import place_was_too_much, raised_after_sore_session
from rules.dose_less import (
    not_settled_by_two_days,
    over_limit_three_times,
    pain_over_ceiling,
    weeks_worse_than_before,
)
from rules.errors import HistoryError
from rules.history import History, Move, MovedBy, Session
from rules.hold import (
    activity_spike,
    after_a_break,
    criterion_not_met,
    follow_up_missing,
    masked_by_painkiller,
    needs_clinician,
    raised_this_week,
    sore_but_settled,
    still_hard,
    too_few_days,
    too_few_sessions,
    top_of_the_ladder,
)
from rules.ladder import (
    allowed_position,
    check_position,
    next_position,
    one_dose_lower,
    one_level_lower,
)
from rules.protocol import Position, Protocol
from rules.reasons import Action, Advice, Evidence, Finding, Reason, Rule
from rules.rest_day import (
    above_usual_twice,
    next_day_above_usual,
    settling_after_step_back,
    sore_session_and_next_day,
    still_recovering,
    well_above_usual,
)
from rules.step_back import (
    pain_far_over_limit,
    sore_after_two_of_three,
    week_worse_than_last,
)
from rules.stop import clinician_says_go_on, clinician_says_rest, paused, warning_sign
from rules.usual import last_session, next_day_pain, two_day_pain, usual_pain


def advise(history: History, protocol: Protocol, today: date) -> Advice:
    """What to do today and why.

    `history` holds what is known up to `today`, the patient's local date. The same values always
    give the same advice. What following it makes of the patient's place: `move_made`.
    Raises HistoryError if the patient stands outside the protocol's ladder, or the protocol is
    for the other kind of tendon.
    """
    _check_fit(history, protocol)
    found = [
        Finding(rule.action, rule.reason, evidence)
        for rule in ORDER
        if (evidence := rule.applies(history, protocol, today)) is not None
    ]
    because = found[0]
    return Advice(
        on=today,
        because=because,
        also=tuple(finding for finding in found[1:] if finding.reason is not Reason.READY),
        stood=history.position,
        position=_position_after(history, protocol, found),
    )


def move_made(advice: Advice, sessions: Sequence[Session]) -> Move | None:
    """The move that following an advice makes; None where it leaves the patient where they stand.

    `sessions`: those known when it was given. A step down is a move even where the position stays:
    the session it names is answered for.
    """
    if advice.position == advice.stood and not advice.steps_down:
        return None
    return Move(
        on=advice.on,
        position=advice.position,
        by=MovedBy.RULES,
        step_back=advice.action is Action.STEP_BACK,
        do_less=advice.action is Action.DO_LESS,
        session_on=sessions[-1].on if sessions and advice.steps_down else None,
        reason=advice.reason if advice.steps_down else None,
    )


def ready(history: History, protocol: Protocol, _today: date) -> Evidence:
    """None of the rows above applies: the next dose or the next level.

    Always applies; the evidence is what the advance rests on.
    """
    session = last_session(history)
    if session is None:
        return {}
    known = {
        "pain_during": session.pain_during,
        "pain_after": session.pain_after,
        "next_day_pain": next_day_pain(history, session),
        "two_day_pain": two_day_pain(history, session),
    }
    return {
        **{name: None if pain is None else int(pain) for name, pain in known.items()},
        "usual": usual_pain(history, protocol, session.on),
        "session_on": session.on.isoformat(),
    }


ORDER: tuple[Rule, ...] = (
    Rule(Action.STOP, Reason.WARNING_SIGN, warning_sign),
    Rule(Action.REST_DAY, Reason.PAUSED, paused),
    Rule(Action.REST_DAY, Reason.CLINICIAN_SAYS_REST, clinician_says_rest),
    Rule(Action.HOLD, Reason.CLINICIAN_SAYS_GO_ON, clinician_says_go_on),
    Rule(Action.STEP_BACK, Reason.PAIN_FAR_OVER_LIMIT, pain_far_over_limit),
    Rule(Action.STEP_BACK, Reason.SORE_AFTER_TWO_OF_THREE, sore_after_two_of_three),
    Rule(Action.STEP_BACK, Reason.WEEK_WORSE_THAN_LAST, week_worse_than_last),
    Rule(Action.DO_LESS, Reason.NOT_SETTLED_BY_TWO_DAYS, not_settled_by_two_days),
    Rule(Action.DO_LESS, Reason.PAIN_OVER_CEILING, pain_over_ceiling),
    Rule(Action.DO_LESS, Reason.OVER_LIMIT_THREE_TIMES, over_limit_three_times),
    Rule(Action.DO_LESS, Reason.WEEKS_WORSE_THAN_BEFORE, weeks_worse_than_before),
    Rule(Action.REST_DAY, Reason.WELL_ABOVE_USUAL, well_above_usual),
    Rule(Action.REST_DAY, Reason.ABOVE_USUAL_TWICE, above_usual_twice),
    Rule(Action.REST_DAY, Reason.SORE_SESSION_AND_NEXT_DAY, sore_session_and_next_day),
    Rule(Action.REST_DAY, Reason.SETTLING_AFTER_STEP_BACK, settling_after_step_back),
    Rule(Action.REST_DAY, Reason.STILL_RECOVERING, still_recovering),
    Rule(Action.REST_DAY, Reason.NEXT_DAY_ABOVE_USUAL, next_day_above_usual),
    Rule(Action.HOLD, Reason.AFTER_A_BREAK, after_a_break),
    Rule(Action.HOLD, Reason.TOO_FEW_DAYS, too_few_days),
    Rule(Action.HOLD, Reason.TOO_FEW_SESSIONS, too_few_sessions),
    Rule(Action.HOLD, Reason.FOLLOW_UP_MISSING, follow_up_missing),
    Rule(Action.HOLD, Reason.CRITERION_NOT_MET, criterion_not_met),
    Rule(Action.HOLD, Reason.STILL_HARD, still_hard),
    Rule(Action.HOLD, Reason.MASKED_BY_PAINKILLER, masked_by_painkiller),
    Rule(Action.HOLD, Reason.RAISED_THIS_WEEK, raised_this_week),
    Rule(Action.HOLD, Reason.SORE_BUT_SETTLED, sore_but_settled),
    Rule(Action.HOLD, Reason.ACTIVITY_SPIKE, activity_spike),
    Rule(Action.HOLD, Reason.NEEDS_CLINICIAN, needs_clinician),
    Rule(Action.HOLD, Reason.PLACE_WAS_TOO_MUCH, place_was_too_much),
    Rule(Action.HOLD, Reason.RAISED_AFTER_SORE_SESSION, raised_after_sore_session),
    Rule(Action.HOLD, Reason.TOP_OF_THE_LADDER, top_of_the_ladder),
    Rule(Action.ADVANCE, Reason.READY, ready),
)
"""Every row: signs, then what people said, then the numbers, most careful first. First match wins;
the last always matches."""


_KEEP_THE_PLACE = frozenset(
    {
        Reason.WARNING_SIGN,
        Reason.PAUSED,
        Reason.CLINICIAN_SAYS_REST,
        Reason.STILL_RECOVERING,
    }
)
"""Rests that say nothing about the tendon's answers: what a hold would lower waits until after."""


def _position_after(history: History, protocol: Protocol, found: list[Finding]) -> Position:
    """Where the patient stands once the advice is followed. `found`: the deciding reason first."""
    because, stood = found[0], history.position
    if because.action is Action.ADVANCE:
        ahead = next_position(protocol, stood)
        return stood if ahead is None else ahead
    if because.reason in _KEEP_THE_PLACE:
        return stood
    # A worse answer must never leave a higher place than the hold that it takes the place of.
    held = stood
    if any(finding.reason is Reason.AFTER_A_BREAK for finding in found):
        held = Position(stood.level, 1)
    if because.reason is Reason.CLINICIAN_SAYS_GO_ON:
        held = stood
    held = allowed_position(history, protocol, held)
    lower = {Action.STEP_BACK: one_level_lower, Action.DO_LESS: one_dose_lower}
    if because.action not in lower:
        return held
    return min(held, allowed_position(history, protocol, lower[because.action](protocol, stood)))


def _check_fit(history: History, protocol: Protocol) -> None:
    """Raise HistoryError unless this protocol can be used on this history."""
    check_position(protocol, history.position)
    if protocol.tendon not in (None, history.tendon):
        raise HistoryError(
            f"protocol {protocol.name} is for the {protocol.tendon} tendon;"
            f" the history is of the {history.tendon} tendon"
        )
