"""What must hold for every history, tried on invented ones.

Two kinds: whole lives played day by day (`lives`), and histories just at the point of advancing
with a few things changed, so that both sides of every limit come often. What is checked is worked
out here again from the answers, not with the functions that the rules use.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, timedelta
from itertools import pairwise
from statistics import median
from typing import Any

import pytest
from decides.building import (
    LADDER,
    TODAY,
    USUAL_MOVES,
    day,
    morning,
    ready_history,
    with_mornings,
    with_sessions,
)
from decides.lives import BYTES_A_DAY, Lived, Patient, live
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from rules.advice import ORDER, advise
from rules.history import (
    Activity,
    DayWord,
    HeelRaises,
    History,
    LoadingStop,
    Move,
    MovedBy,
    Pause,
    Says,
    Session,
    Tendon,
    Tier,
)
from rules.ladder import allowed_position, next_position
from rules.protocol import Position, Protocol
from rules.protocol_reader import shipped_protocol
from rules.quantities import Count, Effort, Minutes, Pain
from rules.reasons import Action, Advice, Reason

MID = shipped_protocol("mid-portion-ladder")
INSERTIONAL = shipped_protocol("insertional-ladder")
HEAVY = shipped_protocol("heavy-slow")

thorough = settings(max_examples=80, suppress_health_check=list(HealthCheck))
lifelong = settings(max_examples=25, suppress_health_check=list(HealthCheck))

pains = st.sampled_from([None, *map(Pain, (0, 1, 2, 2, 3, 3, 4, 5, 6, 10))])
recent_days = st.integers(14, 31)
session_days = st.integers(10, 15).map(lambda half: 2 * half - 2)


@st.composite
def changed(draw: st.DrawFn, history: History) -> History:
    """The history with one thing changed."""
    kind = draw(st.sampled_from(sorted(CHANGES)))
    return CHANGES[kind](draw, history)


def _answer(draw: st.DrawFn, history: History) -> History:
    on = day(draw(session_days))
    name = draw(st.sampled_from(["pain_during", "pain_after", "pain_24h", "pain_48h"]))
    pain = draw(pains)
    return replace(
        history,
        sessions=tuple(
            replace(one, **{name: pain}) if one.on == on else one for one in history.sessions
        ),
    )


def _last_answer(draw: st.DrawFn, history: History) -> History:
    change: dict[str, Any] = draw(
        st.fixed_dictionaries(
            {},
            optional={
                "pain_during": pains,
                "pain_after": pains,
                "pain_24h": pains,
                "pain_48h": pains,
                "effort": st.sampled_from([None, *map(Effort, (0, 4, 5, 6, 10))]),
                "painkiller": st.sampled_from([None, False, True]),
                "sets_done": st.sampled_from([None, *map(Count, (0, 1, 3))]),
            },
        )
    )
    return with_sessions(history, replace(history.sessions[-1], **change))


def _morning(draw: st.DrawFn, history: History) -> History:
    stiffness = draw(st.sampled_from([None, 0, 10, 24, 25, 60]))
    return with_mornings(history, morning(draw(recent_days), draw(pains), stiffness))


def _this_morning(draw: st.DrawFn, history: History) -> History:
    return with_mornings(history, morning(30, draw(pains)))


def _bad_week(draw: st.DrawFn, history: History) -> History:
    pain, stiffness = draw(st.sampled_from([(4, 10), (3, 10), (2, 25), (5, 60)]))
    last = draw(st.integers(26, 30))
    return with_mornings(history, *(morning(n, pain, stiffness) for n in range(last - 6, last + 1)))


def _move(draw: st.DrawFn, history: History) -> History:
    by = draw(st.sampled_from([MovedBy.RULES, MovedBy.CLINICIAN]))
    about = draw(st.sampled_from([None, day(26), day(28)]))
    places = [
        Position(n, d) for n, level in enumerate(LADDER.levels, 1) for d in (1, len(level.doses))
    ]
    on = max(history.moves[-1].on, day(draw(st.integers(0, 30))))
    stepped = by is MovedBy.RULES and draw(st.booleans())
    move = Move(on, draw(st.sampled_from(places)), by, stepped, about)
    return replace(history, moves=(*history.moves, move))


def _step_back(draw: st.DrawFn, history: History) -> History:
    on = max(history.moves[-1].on, day(draw(st.integers(26, 30))))
    about = draw(st.sampled_from([None, day(26), day(28)]))
    move = Move(on, Position(1, 1), MovedBy.RULES, step_back=True, session_on=about)
    return replace(history, moves=(*history.moves, move))


def _extra_session(draw: st.DrawFn, history: History) -> History:
    on = day(draw(st.integers(27, 30)))
    return with_sessions(history, replace(history.sessions[-1], on=on, position=history.position))


def _fewer_sessions(draw: st.DrawFn, history: History) -> History:
    left_out = day(draw(st.integers(0, 28)))
    kept = tuple(one for one in history.sessions if one.on != left_out)
    return replace(history, sessions=kept[: draw(st.integers(1, 15))] or kept)


def _sore_sessions(draw: st.DrawFn, history: History) -> History:
    """The last sessions, and the mornings after them, all sore."""
    last = draw(st.integers(1, 3))
    worst, woken = draw(st.sampled_from([(5, 4), (6, 3), (6, 4), (7, 6)]))
    sore = [replace(one, pain_during=Pain(worst)) for one in history.sessions[-last:]]
    after = [(one.on - day(0)).days + n for one in sore for n in (1, 2)]
    return with_mornings(with_sessions(history, *sore), *(morning(n, woken) for n in after))


def _walk(draw: st.DrawFn, history: History) -> History:
    on, minutes = day(draw(recent_days)), draw(st.sampled_from([60, 109, 110, 111, 200]))
    walks = {one.on: one for one in (*history.activities, Activity(on, Minutes(minutes)))}
    return replace(history, activities=tuple(walks[on] for on in sorted(walks)))


def _raises(draw: st.DrawFn, history: History) -> History:
    count = HeelRaises(day(29), Count(draw(st.sampled_from([0, 9, 10, 20]))))
    return replace(history, heel_raises=(*history.heel_raises[:1], count))


def _loading_stop(draw: st.DrawFn, history: History) -> History:
    closed = draw(st.sampled_from([None, day(29), day(30), day(31)]))
    sign = LoadingStop("tendon-rupture", draw(st.sampled_from(list(Tier))), day(20), closed)
    return replace(history, loading_stops=(*history.loading_stops, sign))


def _pause(draw: st.DrawFn, history: History) -> History:
    first = draw(st.integers(14, 31))
    until = draw(st.sampled_from([None, day(first), day(first + 3)]))
    return replace(history, pauses=(*history.pauses, Pause(day(first), until)))


def _gate(draw: st.DrawFn, history: History) -> History:
    return replace(history, hops_allowed=not history.hops_allowed)


def _tendon(draw: st.DrawFn, history: History) -> History:
    return replace(history, tendon=Tendon.INSERTIONAL)


def _limit(draw: st.DrawFn, history: History) -> History:
    return replace(history, pain_limit=Pain(draw(st.sampled_from([2, 3, 5, 8]))))


def _day_word(draw: st.DrawFn, history: History) -> History:
    on = day(draw(st.integers(29, 31)))
    word = DayWord(on, draw(st.sampled_from(list(Says))), "Dr Moss")
    return replace(history, day_words=(*history.day_words, word))


CHANGES: dict[str, Callable[[st.DrawFn, History], History]] = {
    "answer": _answer,
    "bad week": _bad_week,
    "this morning": _this_morning,
    "loading_stop": _loading_stop,
    "day word": _day_word,
    "extra session": _extra_session,
    "fewer sessions": _fewer_sessions,
    "gate": _gate,
    "last answer": _last_answer,
    "limit": _limit,
    "morning": _morning,
    "move": _move,
    "pause": _pause,
    "raises": _raises,
    "sore sessions": _sore_sessions,
    "step back": _step_back,
    "tendon": _tendon,
    "walk": _walk,
}


@st.composite
def cases(draw: st.DrawFn) -> tuple[History, date]:
    """A history at the point of advancing with up to six things changed, and a day to ask on."""
    steps = draw(st.sampled_from([USUAL_MOVES, USUAL_MOVES[:-1], _at(3, 2), _at(4, 1), _at(1, 2)]))
    history = ready_history(moves=steps)
    here = history.position
    history = replace(history, sessions=tuple(_at_place(s, here) for s in history.sessions))
    if draw(
        st.booleans()
    ):  # Else the answers at 24 and 48 hours are all mild, and settle each day.
        quiet = (replace(one, pain_24h=None, pain_48h=None) for one in history.sessions)
        history = replace(history, sessions=tuple(quiet))
    for _ in range(draw(st.integers(0, 6))):
        history = draw(changed(history))
    today = TODAY + timedelta(days=draw(st.sampled_from([0, 0, 0, -1, -1, -2, 1, 2, 3, 12, 15])))
    assume(not _deficit_now(history))
    return history, today


def _at(level: int, dose: int) -> tuple[Move, ...]:
    return (*USUAL_MOVES[:2], Move(day(0), Position(level, dose), MovedBy.RULES))


def _at_place(session: Session, position: Position) -> Session:
    return replace(session, position=position) if session.on >= day(16) else session


def _deficit_now(history: History) -> bool:
    """An insertional tendon on a deficit level: no protocol that can be read leads there."""
    return history.tendon is Tendon.INSERTIONAL and LADDER.level(history.position).deficit


@st.composite
def patients(draw: st.DrawFn, days: int = 90) -> Patient:
    """A patient for `lives`: from calm to wild, either tendon, gate open or not."""
    length = days * BYTES_A_DAY
    return Patient(
        days=draw(st.binary(min_size=length, max_size=length)),
        wildness=draw(st.integers(0, 3)),
        tendon=draw(st.sampled_from(list(Tendon))),
        hops_allowed=draw(st.booleans()),
    )


def protocol_of(patient: Patient, *, heavy: bool) -> Protocol:
    """A ladder that ships for the patient's tendon: of two for a mid-portion one."""
    if patient.tendon is Tendon.INSERTIONAL:
        return INSERTIONAL
    return HEAVY if heavy else MID


def fear(history: History, protocol: Protocol, advice: Advice) -> str | None:
    """What is wrong with an advance, or None: worked out from the answers alone."""
    last = history.sessions[-1] if history.sessions else None
    if last is None:
        return "no session"
    pain_on = {one.on: one.first_step_pain for one in history.mornings}
    mornings = [pain_on.get(last.on + timedelta(days=n)) for n in (1, 2)]
    later = [last.pain_24h, last.pain_48h]
    next_day = [mornings[0], *later]
    two_day = [mornings[1], last.pain_48h]
    if all(p is None for p in next_day) or all(p is None for p in two_day):
        return "24 or 48 hours not known"
    window = [pain_on.get(last.on - timedelta(days=n)) for n in range(14)]
    answered = [p for p in window if p is not None]
    usual = median(answered) if len(answered) >= 5 else history.usual_pain
    limit = 5 if history.pain_limit is None else min(5, history.pain_limit)
    limit = min(limit, protocol.settings.pain_limit) if history.pain_limit is None else limit
    for answers, its_usual in ((mornings, usual), (later, later_usual(history, last.on, usual))):
        if any(p is not None and p > min(its_usual + 1, limit) for p in answers):
            return "not within one point of usual, or over the limit"
    if last.pain_during is None or last.pain_during > protocol.settings.comfort_max:
        return "sore during"
    if last.pain_after is None or last.pain_after > protocol.settings.comfort_max:
        return "sore after"
    return None


def later_usual(history: History, on: date, usual: float) -> float:
    """The median of the 24 and 48 hour answers given in 28 days; usual while there are under 5."""
    given = [
        pain
        for one in history.sessions
        for days, pain in ((1, one.pain_24h), (2, one.pain_48h))
        if pain is not None and 0 <= (on - one.on).days - days < 28
    ]
    return median(given) if len(given) >= 5 else usual


def harmed(history: History, today: date) -> bool:
    """Whether the last session hurt 7 or more, and nobody has answered for it or spoken since."""
    last = history.sessions[-1] if history.sessions else None
    known = [p for p in (last.pain_during, last.pain_after) if p is not None] if last else []
    said = any(one.on == today for one in history.day_words)
    paused = any(p.on <= today and (p.until is None or today <= p.until) for p in history.pauses)
    answered = any(
        (move.down and (move.session_on == last.on or move.on > last.on))
        or (move.by is MovedBy.CLINICIAN and move.session_on == last.on)
        for move in history.moves
        if last is not None
    )
    return max(known, default=0) >= 7 and not (said or paused or answered)


def assert_promises(history: History, protocol: Protocol, today: date, advice: Advice) -> None:
    """All that must hold of one advice."""
    open_sign = any(
        one.raised_on <= today and (one.loads_from is None or one.loads_from > today)
        for one in history.loading_stops
    )
    assert (advice.action is Action.STOP) is open_sign
    if harmed(history, today) and not open_sign:
        assert advice.action is Action.STEP_BACK
    if advice.action is Action.DO_LESS:
        # Behind a closed gate the place that is allowed comes first, and the dose less from there.
        allowed = allowed_position(history, protocol, advice.stood)
        least = Position(max(1, allowed.level - 1), 1)
        assert least <= advice.position <= advice.stood
    if advice.action is Action.ADVANCE:
        assert fear(history, protocol, advice) is None
        assert advice.position == next_position(protocol, advice.stood)
        assert advice.position.level - advice.stood.level in (0, 1)
    else:
        assert advice.position <= advice.stood
    level = protocol.level(advice.position)
    assert not (advice.session_today and level.hops and not history.hops_allowed)
    assert not (advice.session_today and level.deficit and history.tendon is Tendon.INSERTIONAL)


@thorough
@given(cases())
def test_an_advice_keeps_its_promises(case: tuple[History, date]) -> None:
    """An advance follows only a comfortable, settled and fully answered session, by one step."""
    # Precisely: pain during and after the last session known and at most comfortable; its next-day
    # and two-day pain known, at most one above usual and within the limit. On any day with a
    # session no hops behind a closed gate, and no deficit for an insertional tendon. Stop exactly
    # where a warning sign is open. Nothing but an advance raises the place.
    history, today = case

    advice = advise(history, LADDER, today)

    assert_promises(history, LADDER, today, advice)


@dataclass(frozen=True)
class Worse:
    """A history and the same one with one answer worse."""

    before: History
    after: History
    today: date


WORST: dict[str, Any] = {
    "pain_during": Pain(10),
    "pain_after": Pain(10),
    "pain_24h": Pain(10),
    "pain_48h": Pain(10),
    "effort": Effort(10),
    "painkiller": True,
}


@st.composite
def worsened(draw: st.DrawFn) -> Worse:
    """One answer about the last session, or of this week since it, made worse or given as worst."""
    history, today = draw(cases())
    assume(history.sessions)
    kind = draw(st.sampled_from(["session", "session", "morning", "walk", "raises", "sets"]))
    return Worse(history, WORSENINGS[kind](draw, history, today), today)


def _worse_session(draw: st.DrawFn, history: History, today: date) -> History:
    last = history.sessions[-1]
    name = draw(st.sampled_from(sorted(WORST)))
    held = getattr(last, name)
    if held is None or name == "painkiller":
        return with_sessions(history, replace(last, **{name: WORST[name]}))
    higher = draw(st.integers(int(held), 10))
    return with_sessions(history, replace(last, **{name: type(held)(higher)}))


def _worse_morning(draw: st.DrawFn, history: History, today: date) -> History:
    on = today - timedelta(days=draw(st.integers(0, 6)))
    assume(on > history.sessions[-1].on)
    held = next((one for one in history.mornings if one.on == on), morning(0, None, None))
    pain, stiffness = held.first_step_pain, held.stiffness
    if draw(st.booleans()):
        pain = Pain(10) if pain is None else Pain(draw(st.integers(pain, 10)))
    else:
        stiffness = Minutes(1440 if stiffness is None else draw(st.integers(stiffness, 300)))
    return with_mornings(history, replace(held, on=on, first_step_pain=pain, stiffness=stiffness))


def _worse_walk(draw: st.DrawFn, history: History, today: date) -> History:
    on = today - timedelta(days=draw(st.integers(0, 6)))
    assume(on >= history.sessions[-1].on)
    walks = {one.on: one for one in history.activities}
    held = walks[on].minutes if on in walks else 0
    longer = Activity(on, Minutes(held + draw(st.sampled_from([1, 5, 50, 200]))))
    walks[on] = longer
    return replace(history, activities=tuple(walks[on] for on in sorted(walks)))


def _worse_raises(draw: st.DrawFn, history: History, today: date) -> History:
    *earlier, latest = history.heel_raises
    fewer = HeelRaises(latest.on, Count(draw(st.integers(0, latest.count))))
    return replace(history, heel_raises=(*earlier, fewer))


def _worse_sets(draw: st.DrawFn, history: History, today: date) -> History:
    return with_sessions(history, replace(history.sessions[-1], sets_done=Count(0)))


WORSENINGS: dict[str, Callable[[st.DrawFn, History, date], History]] = {
    "session": _worse_session,
    "morning": _worse_morning,
    "walk": _worse_walk,
    "raises": _worse_raises,
    "sets": _worse_sets,
}


@settings(thorough, max_examples=150)
@given(worsened())
def test_a_worse_answer_never_leads_to_a_bolder_action(worse: Worse) -> None:
    """Raising an answer about the last session, or of this week since it, makes nothing bolder."""
    # Precisely: a known answer is raised (heel raises and sets lowered, a painkiller added), or one
    # that was missing is given as the worst there is. This week: seven days, today included.
    before = advise(worse.before, LADDER, worse.today)
    after = advise(worse.after, LADDER, worse.today)

    assert after.action.boldness <= before.action.boldness
    assert after.position <= before.position


@lifelong
@given(st.data(), patients(days=45), st.booleans())
def test_a_worse_answer_on_a_day_of_a_life_is_no_bolder(
    data: st.DataObject, patient: Patient, heavy: bool
) -> None:
    """On each shipped ladder: an answer about the last session made worse, on a day of a life."""
    protocol = protocol_of(patient, heavy=heavy)
    lived = data.draw(st.sampled_from(list(live(patient, protocol))))
    assume(lived.history.sessions)
    after = advise(_worse_session(data.draw, lived.history, lived.today), protocol, lived.today)
    before = advise(lived.history, protocol, lived.today)

    assert after.action.boldness <= before.action.boldness
    assert after.position <= before.position


@lifelong
@given(patients(), st.booleans())
def test_a_whole_life_keeps_the_promises(patient: Patient, heavy: bool) -> None:
    """Every day of an invented life, followed or not, keeps what one advice promises."""
    protocol = protocol_of(patient, heavy=heavy)
    days = list(live(patient, protocol))
    one_step_down_for_a_session_and_a_week(days)
    one_rise_in_seven_days(days)
    rest_after_a_step_down(days)

    places = [
        Position(number, dose)
        for number, level in enumerate(protocol.levels, start=1)
        for dose in range(1, len(level.doses) + 1)
    ]
    for lived in days:
        advice = lived.advice
        assert_promises(lived.history, protocol, lived.today, advice)
        if advice.action is Action.DO_LESS and Reason.AFTER_A_BREAK not in reasons_of(advice):
            one_less = places[max(0, places.index(advice.stood) - 1)]
            assert advice.position == one_less


def one_step_down_for_a_session_and_a_week(days: list[Lived]) -> None:
    """No session leads to a second step down, and no morning is counted in two of them."""
    # Precisely: steps for a session have different sessions. After any step, one for the week comes
    # eleven days later at the earliest: four new mornings, then a new week. One for the weeks comes
    # four weeks after another for weeks: seven new mornings that ended three weeks before.
    downs = [lived for lived in days if lived.advice.steps_down]
    weeks = (Reason.WEEK_WORSE_THAN_LAST, Reason.WEEKS_WORSE_THAN_BEFORE)
    for_weeks = [lived for lived in downs if lived.advice.reason in weeks]
    sessions = [lived.history.sessions[-1].on for lived in downs if lived not in for_weeks]
    assert len(sessions) == len(set(sessions))
    for lived in for_weeks:
        week = lived.advice.reason is Reason.WEEK_WORSE_THAN_LAST
        steps, least = (downs, 11) if week else (for_weeks, 28)
        earlier = [other.today for other in steps if other.today < lived.today]
        assert not earlier or (lived.today - earlier[-1]).days >= least


def one_rise_in_seven_days(days: list[Lived]) -> None:
    """Between two advances of a life lie at least seven days, and each goes one step."""
    rises = [lived.today for lived in days if lived.advice.action is Action.ADVANCE]
    assert all((b - a).days >= 7 for a, b in pairwise(rises))


def rest_after_a_step_down(days: list[Lived]) -> None:
    """The day of a step down has no session, and the next only once first-step pain has settled."""
    for lived, following in pairwise(days):
        if not lived.advice.steps_down:
            continue
        assert not lived.advice.session_today
        if following.history.mornings[-1].first_step_pain is None and not _trained(following):
            assert not following.advice.session_today


def _trained(following: Lived) -> bool:
    """Whether a session was done the day before, in spite of a step back."""
    yesterday = following.today - timedelta(days=1)
    return bool(following.history.sessions) and following.history.sessions[-1].on == yesterday


def reasons_of(advice: Advice) -> list[Reason]:
    """All reasons that apply, the deciding one first."""
    return [advice.reason, *(finding.reason for finding in advice.also)]


CALM = bytes(BYTES_A_DAY * 370)


@pytest.mark.parametrize(
    ("protocol", "tendon"),
    [
        pytest.param(MID, Tendon.MID_PORTION, id="mid-portion"),
        pytest.param(INSERTIONAL, Tendon.INSERTIONAL, id="insertional"),
        pytest.param(HEAVY, Tendon.MID_PORTION, id="heavy"),
    ],
)
def test_a_calm_patient_climbs_each_shipped_ladder(protocol: Protocol, tendon: Tendon) -> None:
    """Without pain and as advised, the top is reached within a year, past every place."""
    days = list(live(Patient(CALM, 0, tendon), protocol))

    places = {lived.advice.position for lived in days}
    assert places == {
        Position(number, dose)
        for number, level in enumerate(protocol.levels, start=1)
        for dose in range(1, len(level.doses) + 1)
    }
    assert Reason.TOP_OF_THE_LADDER in reasons_of(days[-1].advice)


def test_a_calm_patient_waits_before_a_closed_gate() -> None:
    """With the gate closed the climb ends below the hops and says that a clinician is needed."""
    *_, last = live(Patient(CALM, 0, hops_allowed=False), MID)

    assert Reason.NEEDS_CLINICIAN in reasons_of(last.advice)
    assert not MID.level(last.advice.position).hops


def test_the_invented_histories_reach_every_reason() -> None:
    """The properties above are not true for want of trying: lives and cases reach each reason."""
    seen: set[Reason] = set()

    @settings(thorough, max_examples=600, database=None, derandomize=True)
    @given(cases())
    def look(case: tuple[History, date]) -> None:
        seen.update(reasons_of(advise(case[0], LADDER, case[1])))

    look()

    assert seen >= {rule.reason for rule in ORDER} - {Reason.TOP_OF_THE_LADDER}
