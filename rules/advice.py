"""The decision order, top to bottom, and `advise`, which walks it.

The first row that applies decides; the others that apply are kept beside it. Decides on numbers
only, never on words, and says nothing to a patient.
Read next: `step_back`, `rest_day`, `hold` for what each row compares.
"""

from __future__ import annotations

from datetime import date

from rules.errors import HistoryError
from rules.history import History
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
from rules.ladder import allowed_position, check_position, lower_position, next_position
from rules.protocol import Position, Protocol
from rules.reasons import Action, Advice, Evidence, Finding, Reason, Rule
from rules.rest_day import (
    morning_over_limit,
    next_day_above_usual,
    settling_after_step_back,
    still_recovering,
)
from rules.step_back import (
    next_day_over_limit,
    not_settled_by_two_days,
    pain_after_over_limit,
    pain_during_over_limit,
    week_worse_than_last,
)
from rules.stop import clinician_says_go_on, clinician_says_rest, paused, warning_sign
from rules.usual import last_session, next_day_pain, two_day_pain, usual_pain


def advise(history: History, protocol: Protocol, today: date) -> Advice:
    """What to do today and why.

    `history` holds what is known up to `today`, the patient's local date. The same values always
    give the same advice. A step back is to be recorded as a move even where the position stays;
    the other actions only where it changes.
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
    Rule(Action.STEP_BACK, Reason.PAIN_DURING_OVER_LIMIT, pain_during_over_limit),
    Rule(Action.STEP_BACK, Reason.PAIN_AFTER_OVER_LIMIT, pain_after_over_limit),
    Rule(Action.STEP_BACK, Reason.NEXT_DAY_OVER_LIMIT, next_day_over_limit),
    Rule(Action.STEP_BACK, Reason.NOT_SETTLED_BY_TWO_DAYS, not_settled_by_two_days),
    Rule(Action.STEP_BACK, Reason.WEEK_WORSE_THAN_LAST, week_worse_than_last),
    Rule(Action.REST_DAY, Reason.NEXT_DAY_ABOVE_USUAL, next_day_above_usual),
    Rule(Action.REST_DAY, Reason.MORNING_OVER_LIMIT, morning_over_limit),
    Rule(Action.REST_DAY, Reason.SETTLING_AFTER_STEP_BACK, settling_after_step_back),
    Rule(Action.REST_DAY, Reason.STILL_RECOVERING, still_recovering),
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
    Rule(Action.HOLD, Reason.TOP_OF_THE_LADDER, top_of_the_ladder),
    Rule(Action.ADVANCE, Reason.READY, ready),
)
"""Every row: signs, then what people said, then the numbers, most careful first. First match wins;
the last always matches."""


def _position_after(history: History, protocol: Protocol, found: list[Finding]) -> Position:
    """Where the patient stands once the advice is followed. `found`: the deciding reason first."""
    because, stood = found[0], history.position
    if because.action is Action.ADVANCE:
        ahead = next_position(protocol, stood)
        return stood if ahead is None else ahead
    if because.action is Action.STEP_BACK:
        return allowed_position(history, protocol, lower_position(protocol, stood))
    if because.action is not Action.HOLD and because.reason is not Reason.MORNING_OVER_LIMIT:
        return stood
    if because.reason is Reason.CLINICIAN_SAYS_GO_ON:
        return allowed_position(history, protocol, stood)
    # A sore morning rests the patient today, and must not keep a place that a hold would lower.
    if any(finding.reason is Reason.AFTER_A_BREAK for finding in found):
        stood = Position(stood.level, 1)
    return allowed_position(history, protocol, stood)


def _check_fit(history: History, protocol: Protocol) -> None:
    """Raise HistoryError unless this protocol can be used on this history."""
    check_position(protocol, history.position)
    if protocol.tendon not in (None, history.tendon):
        raise HistoryError(
            f"protocol {protocol.name} is for the {protocol.tendon} tendon;"
            f" the history is of the {history.tendon} tendon"
        )
