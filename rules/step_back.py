"""The rows that step back: one level down at its lowest dose.

A session leads to one step back at most, and so does a week. These rows look at the last session
only; what an older one did has been decided on before.
Read next: `rest_day`.
"""

from __future__ import annotations

from datetime import date

from rules.history import History, MovedBy, Session
from rules.protocol import Protocol
from rules.reasons import Evidence
from rules.usual import (
    ONE_DAY,
    WEEK_DAYS,
    Mean,
    last_session,
    last_step_back,
    next_day_pain,
    pain_limit,
    two_day_pain,
    usual_pain,
    week_to,
)


def pain_during_over_limit(history: History, protocol: Protocol, _today: date) -> Evidence | None:
    """Worst pain during the last session is over the limit.

    Limit: `usual.pain_limit`, equal is allowed [points, 0-5]. None if not answered; see
    `hold.follow_up_missing`. Source: silbernagel-2007, rule for pain during activity.
    """
    session = session_to_answer_for(history, told_after_days=0)
    if session is None:
        return None
    return _over_limit("pain_during", session.pain_during, session, pain_limit(history, protocol))


def pain_after_over_limit(history: History, protocol: Protocol, _today: date) -> Evidence | None:
    """Pain straight after the last session is over the limit.

    Limit: `usual.pain_limit`, equal is allowed [points, 0-5]. None if not answered; see
    `hold.follow_up_missing`. Source: silbernagel-2007, rule for pain after activity.
    """
    session = session_to_answer_for(history, told_after_days=0)
    if session is None:
        return None
    return _over_limit("pain_after", session.pain_after, session, pain_limit(history, protocol))


def next_day_over_limit(history: History, protocol: Protocol, _today: date) -> Evidence | None:
    """Next-day pain of the last session is over the limit.

    Next-day pain: `usual.next_day_pain`. Limit: `usual.pain_limit`, equal is allowed [points,
    0-5]. None if not known; see `hold.follow_up_missing`.
    Source: silbernagel-crossley-2015, next morning at or under the limit. Another wording asks
    that pain has subsided by then; `not_settled_by_two_days` and `next_day_above_usual` hold that.
    """
    session = session_to_answer_for(history, told_after_days=1)
    if session is None:
        return None
    pain = next_day_pain(history, session)
    return _over_limit("next_day_pain", pain, session, pain_limit(history, protocol))


def not_settled_by_two_days(history: History, protocol: Protocol, _today: date) -> Evidence | None:
    """Two-day pain of the last session is at least `above_usual_margin` above usual.

    Two-day pain: `usual.two_day_pain`; usual: `usual.usual_pain` at the session [points]. None if
    not known. Source: smith-2019, rises of more than two points over baseline are to be avoided;
    ours acts at two, the careful side.
    """
    session = session_to_answer_for(history, told_after_days=2)
    if session is None:
        return None
    pain = two_day_pain(history, session)
    usual = usual_pain(history, protocol, session.on)
    margin = protocol.settings.above_usual_margin
    if pain is None or pain < usual + margin:
        return None
    return {
        "two_day_pain": int(pain),
        "usual": usual,
        "margin": margin,
        "session_on": session.on.isoformat(),
    }


def week_worse_than_last(history: History, protocol: Protocol, today: date) -> Evidence | None:
    """First-step pain or stiffness of the last seven mornings is up on the seven before.

    Pain: the mean is up by at least `week_pain_rise` points. Stiffness: the mean is up by at least
    `week_stiffness_rise_minutes` and by at least `week_stiffness_rise_percent`. Each needs
    `week_answers_min` answers in each week. Today's morning belongs to this week. Only mornings
    later than the last step back count, so after one the comparison starts afresh.
    None if neither is up, or too little was answered.
    Source: convention. The published rule, no increase from week to week, has no margin; on
    integer answers of a stable patient it would fire in nearly every second week (own simulation).
    """
    settings = protocol.settings
    step_back = last_step_back(history)
    after = None if step_back is None else step_back.on
    this = week_to(history, today, after)
    last = week_to(history, today - WEEK_DAYS * ONE_DAY, after)
    needed = settings.week_answers_min
    pain_up = _enough(this.pain, last.pain, needed) and (
        this.pain.rise_over(last.pain) >= settings.week_pain_rise
    )
    stiffness_up = (
        _enough(this.stiffness, last.stiffness, needed)
        and this.stiffness.rise_over(last.stiffness) >= settings.week_stiffness_rise_minutes
        and this.stiffness.is_up_by_percent(last.stiffness, settings.week_stiffness_rise_percent)
    )
    evidence: dict[str, float] = {}
    if pain_up:
        evidence |= {"pain_mean": this.pain.value, "pain_mean_before": last.pain.value}
    if stiffness_up:
        evidence |= {
            "stiffness_mean": this.stiffness.value,
            "stiffness_mean_before": last.stiffness.value,
        }
    return {name: round(value, 2) for name, value in evidence.items()} or None


def session_to_answer_for(history: History, *, told_after_days: int) -> Session | None:
    """The last session, unless a step back or a clinician has answered for what it told.

    `told_after_days`: local days from the session to the answer in question [0, 1 or 2].
    A session before the day of the last step back is answered for, and so is one that a step back
    names. One on the day of a step back that does not name it was done in spite of it and counts.
    A clinician's move that names the session answers for what was told before the day of the move.
    """
    session = last_session(history)
    step_back = last_step_back(history)
    if session is None or (step_back is not None and session.on < step_back.on):
        return None
    told_on = session.on + told_after_days * ONE_DAY
    for move in history.moves:
        answers = move.step_back or (move.by is MovedBy.CLINICIAN and told_on < move.on)
        if answers and move.session_on == session.on:
            return None
    return session


def _enough(this: Mean, last: Mean, needed: int) -> bool:
    return min(this.count, last.count) >= needed


def _over_limit(name: str, pain: int | None, session: Session, limit: int) -> Evidence | None:
    """The evidence where a known pain is over the limit."""
    if pain is None or pain <= limit:
        return None
    return {name: int(pain), "limit": limit, "session_on": session.on.isoformat()}
