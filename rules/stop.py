"""The rows that stand above all numbers: a warning sign, a pause, the clinician's word of the day.

They never say what a sign might mean. Only a clinician's "go on" loads here; a sign and a pause
stand above it.
Read next: `step_back`.
"""

from __future__ import annotations

from datetime import date

from rules.history import DayWord, History, LoadingStop, Pause, Says
from rules.protocol import Protocol
from rules.reasons import Evidence


def warning_sign(history: History, _protocol: Protocol, today: date) -> Evidence | None:
    """A warning sign raised on or before today stops loading until a clinician's day or word.

    From its `loads_from` on it counts no more. The most urgent one is the evidence; of equals, the
    oldest. None if none stops. `looked_at`: a clinician has seen them all, and loading waits for
    the day or the word that they gave.
    """
    open_ones = [
        loading_stop for loading_stop in history.loading_stops if _is_open(loading_stop, today)
    ]
    if not open_ones:
        return None
    gravest = min(
        open_ones, key=lambda loading_stop: (loading_stop.tier.urgency, loading_stop.raised_on)
    )
    return {
        "sign": gravest.sign,
        "tier": gravest.tier.value,
        "raised_on": gravest.raised_on.isoformat(),
        "open_signs": len(open_ones),
        "looked_at": all(loading_stop.looked_at for loading_stop in open_ones),
    }


def paused(history: History, _protocol: Protocol, today: date) -> Evidence | None:
    """A pause covers today; its first and its last day are included. None if none does."""
    for pause in history.pauses:
        if covers(pause, today):
            until = None if pause.until is None else pause.until.isoformat()
            return {"paused_on": pause.on.isoformat(), "paused_until": until}
    return None


def clinician_says_rest(history: History, _protocol: Protocol, today: date) -> Evidence | None:
    """A clinician's last word about today is to rest. None if it is another, or there is none."""
    word = _word_of(history, today)
    if word is None or word.says is not Says.REST:
        return None
    return {"by": word.by, "said_on": word.on.isoformat()}


def clinician_says_go_on(history: History, _protocol: Protocol, today: date) -> Evidence | None:
    """A clinician's last word about today is to do the session, and it is not done yet.

    None once today's session is on record: what it told is for the rules again.
    """
    word = _word_of(history, today)
    if word is None or word.says is not Says.GO_ON:
        return None
    if history.sessions and history.sessions[-1].on == today:
        return None
    return {"by": word.by, "said_on": word.on.isoformat()}


def covers(pause: Pause, day: date) -> bool:
    """Whether a pause covers a day [first and last day included]."""
    return pause.on <= day and (pause.until is None or day <= pause.until)


def _is_open(loading_stop: LoadingStop, today: date) -> bool:
    return loading_stop.raised_on <= today and (
        loading_stop.loads_from is None or loading_stop.loads_from > today
    )


def _word_of(history: History, today: date) -> DayWord | None:
    """The last word about a day, in the order in which they were said."""
    return next((word for word in reversed(history.day_words) if word.on == today), None)
