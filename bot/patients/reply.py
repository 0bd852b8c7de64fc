"""What the bot itself has to say to a patient's message: the advice with a tip, the reasons, the
plan, how it is going. The dialog's own words go before it. Read next: `hear_patient`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime

from bot.charts.message_images import exercise_picture, weeks_picture
from bot.patient_record.decide import decide
from bot.patient_record.record import Case
from bot.patient_record.say import say, words_of
from bot.store import conversations, decisions, tips
from bot.store.outbox import Urgency
from dialogs.advising import say_advice, say_plan, say_why
from dialogs.progress import SetOff, planned_days, say_progress, say_week
from dialogs.rendering import gsm, segments
from dialogs.tips import Tip, fitting, shipped_tips
from dialogs.turn import Asked, Question, Said
from rules.reasons import Action, Advice
from rules.usual import pain_limit

# The most that advice and tip take together [SMS segments]. Convention.
SEGMENTS_MAX = 2


@dataclass(frozen=True)
class Wanted:
    """What a message leads to. `decide`: there is something to decide on; `whole`: the advice is
    said even if it is the same; `corrected`: it came by a correction; `why`, `plan`, `progress`:
    the patient asked; `severe`: a sign is being asked about, so no advice is said yet;
    `waited_since`: the last closed question is answered with no, so the advice that waited since
    then is said."""

    decide: bool = False
    whole: bool = False
    corrected: bool = False
    why: bool = False
    plan: bool = False
    progress: bool = False
    severe: bool = False
    waited_since: datetime | None = None


def reply(case: Case, wanted: Wanted, message: int) -> None:
    """Decide where there is something to decide on, and say all that was asked for."""
    if wanted.decide:
        _say_advice(case, wanted, message)
        case = case.again()
    elif wanted.waited_since is not None:
        _say_what_waited(case, wanted.waited_since)
    if wanted.why:
        latest = decisions.latest(case.store, case.episode.id)
        if latest is None:
            _say(case, Said("nothing-decided"))
        else:
            _say(case, say_why(latest.advice, case.protocol, case.situation()))
    if wanted.plan:
        _say_plan(case)
    if wanted.progress:
        _say_progress(case)


def _say_advice(case: Case, wanted: Wanted, message: int) -> None:
    before = decisions.latest(case.store, case.episode.id, case.today)
    advice = decide(case, message)
    if wanted.severe:
        return
    case = case.again()
    same = before is not None and _same(before.advice, advice)
    said = say_advice(advice, case.protocol, case.situation())
    if wanted.corrected and before is not None:
        text = words_of(case.clinic, said, case.situation())
        _say(case, Said("advice-same") if same else Said("advice-changed", {"advice": text}))
    elif same and not wanted.whole:
        _say(case, Said("noted"))
    else:
        _say_with_tip(case, advice, said)


def _say_what_waited(case: Case, since: datetime) -> None:
    """Today's advice, if it was decided when the closed questions were put and held back."""
    latest = decisions.latest(case.store, case.episode.id, case.today)
    if latest is not None and latest.decided_at >= since:
        _say(case, say_advice(latest.advice, case.protocol, case.situation()))


def _same(before: Advice, after: Advice) -> bool:
    keys = ("on", "action", "reason", "position")
    return all(getattr(before, key) == getattr(after, key) for key in keys)


def _say_with_tip(case: Case, advice: Advice, said: Said) -> None:
    """The advice, and behind it the first tip that fits the moment and the room."""
    if advice.action is Action.STOP:
        _say(case, said)
        return
    text = words_of(case.clinic, said, case.situation())
    told = tips.last_told(case.store, case.patient.id)
    shipped = shipped_tips(case.patient.language)
    limit = pain_limit(case.history, case.protocol)
    for tip in fitting(shipped, advice, case.episode.tendon, told, case.today, limit):
        both = Said("with-tip", {"text": text, "tip": _tip_text(case, tip)})
        whole = words_of(case.clinic, both, case.situation())
        waits = bool(case.state.waiting)
        if segments(gsm(whole)).count > SEGMENTS_MAX or (tip.asks and waits):
            continue
        tips.keep(case.store, case.patient.id, tip.key, case.today, case.now)
        if tip.asks:
            state = replace(case.state, waiting=(Asked(Question.SET_OFF, case.today),))
            conversations.keep(case.store, case.patient.id, state, case.now)
        _say(case, both)
        return
    _say(case, said)


def _tip_text(case: Case, tip: Tip) -> str:
    return words_of(case.clinic, Said(tip.text), case.situation()) if tip.asks else tip.text


def _say_plan(case: Case) -> None:
    """The session, the days of this week it falls on, and the drawing of it where it is shown."""
    latest = decisions.latest(case.store, case.episode.id)
    advice = latest.advice if latest is not None else case.advice
    if advice is None:
        return
    situation = case.situation()
    today = replace(situation, prescription=case.prescription())
    plan = words_of(case.clinic, say_plan(advice, case.protocol, today), situation)
    loads = advice.action is not Action.STOP and situation.paused_until is None
    prescription = case.prescription()
    days: tuple[date, ...] = ()
    if loads and prescription is not None:
        days = planned_days(
            case.today,
            prescription.level.spacing_days,
            situation.last_session_on,
            session_today=case.session_offered,
        )
    _say(case, say_week(plan, days, situation))
    if days:
        _show(case, exercise_picture(case))


def _say_progress(case: Case) -> None:
    if case.episode.enrolled_on is None:
        return
    kept = case.kept
    set_off = tuple(
        SetOff(answer.about, str(answer.value))
        for answer in kept
        if answer.question == Question.SET_OFF
    )
    _say(case, say_progress(case.history, case.protocol, case.situation(), set_off))
    _show(case, weeks_picture(case))


def _show(case: Case, picture: tuple[int, Said] | None) -> None:
    if picture is not None:
        _say(case, picture[1], picture=picture[0])


def _say(case: Case, said: Said, picture: int | None = None) -> None:
    say(
        case.store,
        case.clinic,
        case.patient.id,
        said,
        case.situation(),
        Urgency.REPLY,
        case.now,
        picture=picture,
    )
