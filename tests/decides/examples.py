"""Worked examples for every reason of the decision order, on each side of each limit.

Each row is the ready history of `building` with one thing changed; so what is expected follows from
the changed value and the limit, by hand. `applies`: whether the reason is found at all.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from decides.building import (
    LADDER,
    PRESENT,
    TODAY,
    USUAL_MOVES,
    day,
    level,
    morning,
    moves,
    position_on,
    ready_history,
    session,
    sessions_until,
    with_last,
    with_mornings,
    with_sessions,
    with_settings,
)

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
    Tier,
)
from rules.protocol import Position, Protocol, Tendon
from rules.quantities import Count, Effort, Minutes, Pain
from rules.reasons import Reason


@dataclass(frozen=True)
class Example:
    """One row: a history and a day, and whether the reason is found."""

    reason: Reason
    about: str
    applies: bool
    history: History
    today: date = TODAY
    protocol: Protocol = LADDER

    @property
    def id(self) -> str:
        """The row's name in a test report."""
        return f"{self.reason}: {self.about}"


def _loading_stop(raised: int, closed: int | None = None) -> History:
    loads_from = None if closed is None else day(closed)
    looked_at = closed is not None
    sign = LoadingStop("tendon-rupture", Tier.EMERGENCY, day(raised), loads_from, looked_at)
    return ready_history(loading_stops=(sign,))


def _stop() -> Iterator[Example]:
    sign = Reason.WARNING_SIGN
    yield Example(sign, "none", False, ready_history())
    yield Example(sign, "raised yesterday", True, _loading_stop(29))
    yield Example(sign, "raised today", True, _loading_stop(30))
    yield Example(sign, "raised tomorrow", False, _loading_stop(31))
    yield Example(sign, "closed yesterday", False, _loading_stop(20, closed=29))
    yield Example(sign, "closed today", False, _loading_stop(20, closed=30))
    yield Example(sign, "closed tomorrow", True, _loading_stop(20, closed=31))
    for about, applies, first, last in (
        ("until yesterday", False, 20, 29),
        ("until today", True, 20, 30),
        ("until tomorrow", True, 20, 31),
        ("from yesterday, no end", True, 29, None),
        ("from today", True, 30, 31),
        ("from tomorrow", False, 31, None),
    ):
        pause = Pause(day(first), None if last is None else day(last))
        yield Example(Reason.PAUSED, about, applies, ready_history(pauses=(pause,)))


def _said(*words: tuple[int, Says]) -> tuple[DayWord, ...]:
    return tuple(DayWord(day(on), says, "Dr Moss") for on, says in words)


def _clinician() -> Iterator[Example]:
    for reason, says, other in (
        (Reason.CLINICIAN_SAYS_REST, Says.REST, Says.GO_ON),
        (Reason.CLINICIAN_SAYS_GO_ON, Says.GO_ON, Says.REST),
    ):
        for about, applies, words in (
            ("none said", False, ()),
            ("said about yesterday", False, ((29, says),)),
            ("said about today", True, ((30, says),)),
            ("said about tomorrow", False, ((31, says),)),
            ("the other said after it", False, ((30, says), (30, other))),
            ("the other said before it", True, ((30, other), (30, says))),
        ):
            yield Example(reason, about, applies, ready_history(day_words=_said(*words)))
    done = ready_history(sessions=(*sessions_until(28), session(30)))
    for reason, says, applies in (
        (Reason.CLINICIAN_SAYS_REST, Says.REST, True),
        (Reason.CLINICIAN_SAYS_GO_ON, Says.GO_ON, False),
    ):
        words = _said((30, says))
        yield Example(reason, "today's session done", applies, replace(done, day_words=words))
    bad = with_mornings(with_last(ready_history(), pain_during=Pain(9)), morning(30, 9))
    worse = replace(bad, day_words=_said((30, Says.GO_ON)))
    yield Example(Reason.CLINICIAN_SAYS_GO_ON, "whatever the numbers say", True, worse)


def _stepped_back(on: int, session_on: int | None, position: Position | None = None) -> Move:
    about = None if session_on is None else day(session_on)
    return Move(day(on), position or Position(1, 1), MovedBy.RULES, True, about)


def _seen(on: int) -> Move:
    return Move(day(on), Position(2, 1), MovedBy.CLINICIAN, session_on=day(28))


def _answered_for(*, told_after: int = 0) -> Iterator[tuple[str, bool, Move]]:
    """Moves after which an answer told so many days after the session still counts, or not."""
    yield "stepped back for it", False, _stepped_back(29, 28)
    yield "did less for it", False, replace(_stepped_back(29, 28), step_back=False, do_less=True)
    yield "stepped back the same evening", False, _stepped_back(28, 28)
    yield "stepped back later for another cause", False, _stepped_back(29, None)
    yield "stepped back before it", True, _stepped_back(27, 26)
    yield "done on the day of a step back for another", True, _stepped_back(28, 26)
    yield "seen by the clinician", False, _seen(on=29 + told_after)
    yield "moved on the day of the answer", True, _seen(on=28 + told_after)
    yield "clinician moved without it", True, Move(day(29), Position(2, 1), MovedBy.CLINICIAN)


def _far_over() -> Iterator[Example]:
    reason = Reason.PAIN_FAR_OVER_LIMIT
    for answer in ("pain_during", "pain_after"):
        for pain, applies in ((6, False), (7, True), (10, True)):
            bad = with_last(ready_history(), **{answer: Pain(pain)})
            yield Example(reason, f"{answer} {pain}", applies, bad)
    bad = with_last(ready_history(), pain_during=Pain(7))
    yield Example(reason, "whatever the limit", True, replace(bad, pain_limit=Pain(0)))
    untold = with_last(ready_history(), pain_during=None, pain_after=None)
    yield Example(reason, "not answered", False, untold)
    for about, applies, move in _answered_for():
        yield Example(reason, about, applies, replace(bad, moves=(*USUAL_MOVES, move)))


def _sore_days(*days: int) -> History:
    """The ready history with 5, three over usual, on some mornings, and no later answers."""
    quiet = tuple(replace(one, pain_24h=None, pain_48h=None) for one in ready_history().sessions)
    return with_mornings(ready_history(sessions=quiet), *(morning(n, 5) for n in days))


def _two_of_three() -> Iterator[Example]:
    reason = Reason.SORE_AFTER_TWO_OF_THREE
    for about, applies, days in (
        ("after the last two, yesterday the second", True, (27, 29)),
        ("after the last and the third last", True, (25, 29)),
        ("after the last and the fourth last", False, (23, 29)),
        ("after one only", False, (29,)),
        ("both after the same", False, (27, 28)),
        ("the second is today", False, (27, 30)),
        ("on the morning of the next session", True, (26, 29)),
    ):
        yield Example(reason, about, applies, _sore_days(*days))
    for pain, applies in ((3, False), (4, True)):
        twice = with_mornings(_sore_days(25), morning(28, pain), morning(29, pain))
        yield Example(reason, f"two days running of {pain}", applies, twice)
    for on, applies in ((26, True), (27, False)):
        stepped = replace(_sore_days(27, 29), moves=(*USUAL_MOVES, _stepped_back(on, 24)))
        yield Example(reason, f"stepped back on day {on}", applies, stepped)


def _over_ceiling() -> Iterator[Example]:
    reason = Reason.PAIN_OVER_CEILING
    for pains, applies in (((6, 6), True), ((6, 5), False), ((5, 6), False), ((5, 5), False)):
        both = with_last(ready_history(), pain_during=Pain(pains[0]), pain_after=Pain(pains[1]))
        yield Example(reason, f"during and after {pains}", applies, both)
        chosen = replace(both, pain_limit=Pain(5))
        yield Example(reason, f"during and after {pains}, limit 5", False, chosen)
    six = with_last(ready_history(), pain_during=Pain(6))
    for limit, woken, applies in ((4, 2, False), (4, 3, True), (5, 3, False), (5, 4, True)):
        echo = with_mornings(with_last(six, pain_24h=None), morning(29, woken))
        about = f"6, the next morning {woken} with a usual of 2, limit {limit}"
        yield Example(reason, about, applies, replace(echo, pain_limit=Pain(limit)))
    milder = with_mornings(six, morning(29, 5))
    yield Example(reason, "6, the next morning 5 and the 24-hour answer 2", False, milder)
    unknown = with_mornings(with_last(six, pain_24h=None), morning(29, None))
    yield Example(reason, "6, the next day unknown by the second", True, unknown)
    yield Example(reason, "6, the next day not over yet", False, unknown, day(29))
    for on, applies in ((22, False), (24, True), (26, True)):
        again = with_sessions(six, session(on, pain_after=Pain(6)))
        yield Example(reason, f"6, and 6 on day {on}", applies, again)
    stepped = with_sessions(six, session(26, pain_after=Pain(6)))
    for on, applies in ((26, True), (27, False)):
        moved = replace(stepped, moves=(*USUAL_MOVES, _stepped_back(on, 24)))
        yield Example(reason, f"6 twice, stepped back on day {on}", applies, moved)
    for woken, told, applies in ((5, 5, False), (6, 6, True), (6, 5, False), (6, None, True)):
        answer = None if told is None else Pain(told)
        morrow = with_mornings(with_last(ready_history(), pain_24h=answer), morning(29, woken))
        yield Example(reason, f"next morning {woken}, 24-hour answer {told}", applies, morrow)
    used = with_mornings(ready_history(), *(morning(n, 5) for n in range(10, 29)))
    sore = with_mornings(with_last(used, pain_24h=None), morning(29, 6))
    yield Example(reason, "next morning 6 with a usual of 5", False, sore)
    bad = with_last(ready_history(), pain_during=Pain(6), pain_after=Pain(6))
    for about, applies, move in _answered_for():
        yield Example(reason, about, applies, replace(bad, moves=(*USUAL_MOVES, move)))
    morrow = with_mornings(with_last(ready_history(), pain_24h=None), morning(29, 6))
    for about, applies, move in _answered_for(told_after=1):
        next_day = replace(morrow, moves=(*USUAL_MOVES, move))
        yield Example(reason, f"the next day: {about}", applies, next_day)


def _over_limit_three_times() -> Iterator[Example]:
    reason = Reason.OVER_LIMIT_THREE_TIMES
    for about, applies, days in (
        ("the last three", True, (24, 26, 28)),
        ("the last two", False, (26, 28)),
        ("three of the last four", False, (22, 24, 28)),
    ):
        over = with_sessions(ready_history(), *(session(n, pain_after=Pain(5)) for n in days))
        yield Example(reason, about, applies, over)
    three = with_sessions(ready_history(), *(session(n, pain_during=Pain(5)) for n in (24, 26, 28)))
    for limit, applies in ((4, True), (5, False)):
        yield Example(reason, f"5 with {limit}", applies, replace(three, pain_limit=Pain(limit)))
    for on, applies in ((24, True), (25, False)):
        moved = replace(three, moves=(*USUAL_MOVES, _stepped_back(on, 22)))
        yield Example(reason, f"stepped back on day {on}", applies, moved)
    untold = with_sessions(three, session(26, pain_during=None, pain_after=None))
    yield Example(reason, "one of them not told", False, untold)
    new = replace(three, sessions=three.sessions[-2:])
    yield Example(reason, "only two done", False, new)


def _drift(pain: int, stiffness: int, *, enrolled: int = -4, **changes: Any) -> History:
    """Enrolled on day -4, so that day 30 ends a fifth week; the last week is so much worse."""
    mornings = [morning(n) for n in range(enrolled, 24)]
    mornings += [morning(n, pain, stiffness) for n in range(24, 31)]
    history = ready_history(mornings=tuple(mornings), **changes)
    return replace(history, enrolled_on=day(enrolled))


def _weeks_before() -> Iterator[Example]:
    reason = Reason.WEEKS_WORSE_THAN_BEFORE
    for pain, stiffness, applies in ((3, 15, True), (2, 15, False), (3, 14, False), (4, 60, True)):
        about = f"pain from 2 to {pain}, stiffness from 10 to {stiffness} minutes"
        yield Example(reason, about, applies, _drift(pain, stiffness))
    for enrolled, applies in ((-5, False), (-4, True), (-3, False)):
        about = f"{30 - enrolled} days since enrolment"
        yield Example(reason, about, applies, _drift(4, 60, enrolled=enrolled))
    third = _drift(4, 60, enrolled=10)
    yield Example(reason, "in the third week", False, third)
    # Day 30 compares with days -4 to 9: the fourteen days that ended three weeks before.
    for answered, applies in ((6, False), (7, True)):
        gone = tuple(morning(n, None, None) for n in range(-4 + answered, 10))
        few = with_mornings(_drift(4, 60), *gone)
        yield Example(reason, f"{answered} answers before", applies, few)
    for count, applies in ((3, False), (4, True)):
        kept = with_mornings(
            _drift(4, 60), *(morning(n, None, None) for n in range(24 + count, 31))
        )
        yield Example(reason, f"{count} answers this week", applies, kept)
    for on, applies in ((2, True), (3, False), (9, False)):
        fired = Move(day(on), PRESENT, MovedBy.RULES, do_less=True, reason=reason)
        once = _drift(4, 60, moves=(USUAL_MOVES[0], replace(USUAL_MOVES[-1], on=day(0)), fired))
        yield Example(reason, f"answered for on day {on}", applies, once)
    other = Move(day(9), PRESENT, MovedBy.RULES, do_less=True, reason=Reason.PAIN_OVER_CEILING)
    once = _drift(4, 60, moves=(USUAL_MOVES[0], replace(USUAL_MOVES[-1], on=day(0)), other))
    yield Example(reason, "another cause answered for", True, once)


def _two_days() -> Iterator[Example]:
    reason = Reason.NOT_SETTLED_BY_TWO_DAYS
    quiet = with_last(ready_history(), pain_24h=None, pain_48h=None)
    for first, second, applies in (
        (4, 4, True), (5, 5, True), (3, 4, False), (4, 3, False), (4, None, False), (None, 4, False)
    ):  # fmt: skip
        woken = with_mornings(quiet, morning(29, first), morning(30, second))
        yield Example(reason, f"mornings {first} and {second}, usual 2", applies, woken)
    both = with_mornings(quiet, morning(29, 5), morning(30, 5))
    yield Example(reason, "a milder 48-hour answer", False, with_last(both, pain_48h=Pain(3)))
    yield Example(reason, "on the first day", False, both, day(29))
    told = with_mornings(quiet, morning(29, None), morning(30, None))
    told = with_last(told, pain_24h=Pain(4), pain_48h=Pain(4))
    yield Example(reason, "by the answers at 24 and 48 hours", True, told)
    for about, applies, move in _answered_for(told_after=2):
        yield Example(reason, about, applies, replace(both, moves=(*USUAL_MOVES, move)))
    # Whose later answers are usually 4 with first steps of 2: the same 5 is one above, not three.
    sorer = tuple(replace(one, pain_24h=Pain(4), pain_48h=Pain(4)) for one in both.sessions[:-1])
    own = with_last(replace(told, sessions=(*sorer, told.sessions[-1])), pain_24h=Pain(5))
    for later, applies in ((5, False), (6, True)):
        answered = with_last(own, pain_24h=Pain(later), pain_48h=Pain(later))
        about = f"{later} where later answers are usually 4"
        yield Example(reason, about, applies, answered)
    first_four = (*sorer[:2], *(replace(one, pain_24h=None, pain_48h=None) for one in sorer[2:]))
    few = replace(own, sessions=(*first_four, own.sessions[-1]))
    yield Example(
        reason, "four later answers make no usual", True, with_last(few, pain_48h=Pain(5))
    )


def _weeks(this: list[int], last: list[int], stiff: tuple[int, int] = (10, 10)) -> History:
    """Mornings of this week (to day 30) and of last week (to day 23), then unanswered ones."""
    answered = {30 - index: (pain, stiff[0]) for index, pain in enumerate(this)}
    answered |= {23 - index: (pain, stiff[1]) for index, pain in enumerate(last)}
    plain = with_mornings(ready_history(), *(morning(n, None, None) for n in range(17, 31)))
    return with_mornings(plain, *(morning(n, *both) for n, both in answered.items()))


def _week_rows() -> Iterator[tuple[str, bool, History]]:
    yield "pain up by 13/7", False, _weeks([3] + [4] * 6, [2] * 7)
    yield "pain up by 13/7, the odd one oldest", False, _weeks([4] * 6 + [3], [2] * 7)
    yield "pain up by 2", True, _weeks([4] * 7, [2] * 7)
    yield "pain up by 15/7", True, _weeks([5] + [4] * 6, [2] * 7)
    yield "up by 2, thirds in both means", True, _weeks([4, 4, 4, 4, 4, 5], [2, 2, 2, 2, 2, 3])
    yield "pain up, three answers this week", False, _weeks([5] * 3, [2] * 7)
    yield "pain up, four answers in each week", True, _weeks([5] * 4, [2] * 4)
    yield "pain up, three answers last week", False, _weeks([5] * 7, [2] * 3)
    yield "stiffness up by 14 minutes", False, _weeks([2] * 7, [2] * 7, (24, 10))
    yield "stiffness up by 15 minutes", True, _weeks([2] * 7, [2] * 7, (25, 10))
    yield "stiffness up by 16 minutes", True, _weeks([2] * 7, [2] * 7, (26, 10))
    yield "stiffness up by 49 percent", False, _weeks([2] * 7, [2] * 7, (149, 100))
    yield "stiffness up by 50 percent", True, _weeks([2] * 7, [2] * 7, (150, 100))
    yield "stiffness up by 51 percent", True, _weeks([2] * 7, [2] * 7, (151, 100))
    yield "stiffness up, three answers", False, _weeks([2] * 3, [2] * 7, (60, 10))
    worse = _weeks([5] * 7, [2] * 7)
    for on, applies in ((16, True), (19, True), (20, False), (24, False)):
        move = _stepped_back(on, None)
        stepped = replace(worse, moves=(*USUAL_MOVES, move))
        yield f"stepped back on day {on}", applies, stepped


QUIET = with_last(ready_history(), pain_24h=None, pain_48h=None)
"""The last session's later answers are not known: a day's first-step pain is its reading."""


def _next_day() -> Iterator[Example]:
    reason = Reason.NEXT_DAY_ABOVE_USUAL
    done = ready_history(sessions=(*sessions_until(26), session(29, pain_24h=None, pain_48h=None)))
    for pain, applies in ((3, False), (4, True), (5, True)):
        woken = with_mornings(done, morning(30, pain))
        yield Example(reason, f"next morning {pain} with a usual of 2", applies, woken)
    milder = with_last(with_mornings(done, morning(30, 4)), pain_24h=Pain(2))
    yield Example(reason, "morning 4, a milder 24-hour answer", False, milder)
    unwoken = with_last(with_mornings(done, morning(30, None)), pain_24h=Pain(4))
    yield Example(reason, "24-hour answer 4 alone", True, unwoken)
    yield Example(reason, "on the second day", False, with_mornings(QUIET, morning(30, 4)))
    daily = with_mornings(with_last(_daily(*range(30)), pain_24h=None), morning(30, 4))
    yield Example(reason, "where a session is due daily", True, daily, protocol=DAILY)
    yield Example(reason, "no session yet", False, ready_history(sessions=()))


def _well_above() -> Iterator[Example]:
    reason = Reason.WELL_ABOVE_USUAL
    for pain, applies in ((4, False), (5, True), (9, True)):
        woken = with_mornings(QUIET, morning(30, pain))
        yield Example(reason, f"this morning {pain}, usual 2", applies, woken)
        first = replace(woken, sessions=(), usual_pain=Pain(2))
        yield Example(reason, f"this morning {pain}, no session yet", applies, first)
    for usual, pain, applies in ((3, 5, False), (4, 6, True), (5, 6, False), (5, 7, True)):
        first = replace(ready_history(sessions=()), usual_pain=Pain(usual))
        woken = with_mornings(first, morning(30, pain))
        yield Example(reason, f"this morning {pain} with a usual of {usual}", applies, woken)
    milder = with_last(with_mornings(QUIET, morning(30, 9)), pain_48h=Pain(4))
    yield Example(reason, "nine, with a milder 48-hour answer", False, milder)
    unanswered = with_mornings(QUIET, morning(29, 9), morning(30, None))
    yield Example(reason, "nine yesterday, not answered today", False, unanswered)


def _above_twice() -> Iterator[Example]:
    reason = Reason.ABOVE_USUAL_TWICE
    for about, applies, pains in (
        ("today and yesterday", True, {29: 4, 30: 4}),
        ("today and the day before yesterday", True, {28: 4, 30: 4}),
        ("today and three days ago", False, {27: 4, 30: 4}),
        ("yesterday and the day before", False, {28: 4, 29: 4}),
        ("today alone", False, {30: 4}),
        ("one point above on both", False, {29: 3, 30: 3}),
        ("yesterday, not answered today", False, {29: 4, 28: 4, 30: None}),
    ):
        quiet = replace(QUIET, sessions=_sore_days().sessions)
        woken = with_mornings(quiet, *(morning(n, pain) for n, pain in pains.items()))
        yield Example(reason, about, applies, woken)


def _sore_session(worst: int, woken: int | None, on: int = 29, **changes: Any) -> History:
    """The session of a day hurt so much, and the morning after it so much."""
    sore = session(on, pain_during=Pain(worst), pain_24h=None, pain_48h=None)
    history = ready_history(sessions=(*sessions_until(on - 3), sore), **changes)
    return with_mornings(history, morning(on + 1, woken))


def _sore_session_rows() -> Iterator[Example]:
    reason, held = Reason.SORE_SESSION_AND_NEXT_DAY, Reason.RAISED_AFTER_SORE_SESSION
    for worst, woken, applies in (
        (4, 3, True), (3, 3, False), (4, 2, False), (4, None, False), (9, 9, True)
    ):  # fmt: skip
        about = f"worst pain {worst} where 2 is usual, next morning {woken} where 2 is"
        yield Example(reason, about, applies, _sore_session(worst, woken))
        yield Example(held, about, applies, _sore_session(worst, woken, on=25))
    yield Example(reason, "on the second day", False, _sore_session(4, 3, on=28))
    sore = session(24, pain_during=Pain(4), pain_24h=None, pain_48h=None)
    calm_since = with_mornings(with_sessions(ready_history(), sore), morning(25, 3))
    yield Example(held, "with calm sessions since", True, calm_since)
    yield Example(reason, "no session yet", False, ready_history(sessions=()))
    for on, applies in ((23, False), (24, True), (28, True)):
        about = f"such a session {30 - on} days ago"
        yield Example(held, about, applies, _sore_session(4, 3, on=on))
    stepped = _sore_session(4, 3, moves=(*USUAL_MOVES, _stepped_back(29, 29)))
    yield Example(reason, "stepped back for it", False, stepped)
    # Sessions before this place usually hurt 4, so 4 is not much; those at it do not count.
    used = tuple(
        replace(one, pain_after=Pain(4)) if one.on < day(16) else one for one in sessions_until(27)
    )
    for worst, applies in ((5, False), (6, True)):
        sore = _sore_session(worst, 3)
        usual_four = replace(sore, sessions=(*used, sore.sessions[-1]))
        yield Example(reason, f"{worst} where sessions usually hurt 4", applies, usual_four)
    for answered, applies in ((4, True), (5, False)):
        told = [
            replace(one, pain_during=None, pain_after=Pain(4) if n < answered else None)
            for n, one in enumerate(used)
        ]
        sore = _sore_session(5, 3)
        some = replace(sore, sessions=(*told, sore.sessions[-1]))
        about = f"5, sessions before hurt 4, {answered} of them told"
        yield Example(reason, about, applies, some)


NEXT = Position(3, 1)


def _fell(on: int, from_: Position = NEXT) -> tuple[Move, ...]:
    """Raised to a place and, on a day, down again by a dose for the session of the day before."""
    up = Move(day(17), from_, MovedBy.RULES)
    down = replace(
        _stepped_back(on, on - 1, PRESENT), step_back=False, do_less=True, reason="not-settled"
    )
    return (*USUAL_MOVES, up, down)


def _brake() -> Iterator[Example]:
    reason = Reason.PLACE_WAS_TOO_MUCH

    def told(worst: int | None, moves: tuple[Move, ...] = _fell(19), **changes: Any) -> History:
        hurt = session(18, Position(3, 1), pain_during=None if worst is None else Pain(worst))
        if worst is None:
            hurt = replace(hurt, pain_after=None)
        return with_sessions(ready_history(moves=moves, **changes), hurt)

    for worst, applies in ((3, False), (4, True), (None, True)):
        yield Example(reason, f"down after a session of {worst}", applies, told(worst))
    for days, applies in ((13, True), (14, False)):
        yield Example(reason, f"{days} days since", applies, told(4), day(19 + days))
    slow = told(4, slower=True)
    yield Example(reason, "27 days since, slower", True, slow, day(46))
    yield Example(reason, "28 days since, slower", False, slow, day(47))
    lower = _fell(19, from_=PRESENT)
    stays = (*lower[:-2], Move(day(19), Position(2, 1), MovedBy.RULES, do_less=True))
    yield Example(reason, "the next place lies under it", True, told(4, stays))
    stays = (*lower[:-3], *lower[-1:], Move(day(20), PRESENT, MovedBy.RULES))
    yield Example(reason, "the next place lies over it", False, told(4, stays))
    same = (*USUAL_MOVES, replace(_fell(19)[-1], position=PRESENT))
    yield Example(reason, "nowhere lower to go", False, told(4, same))
    seen = (*_fell(19), Move(day(20), PRESENT, MovedBy.CLINICIAN))
    yield Example(reason, "a clinician has moved the patient since", False, told(4, seen))
    lower = (*_fell(19)[:-1], replace(_fell(19)[-1], position=Position(2, 2)))
    raised = (*lower, Move(day(25), PRESENT, MovedBy.RULES))
    for days, applies in ((13, True), (14, False)):
        about = f"{days} days since a raise that came after the step down"
        yield Example(reason, about, applies, told(4, raised), day(25 + days))
    again = _fell(19)
    for more in (20, 21):
        again += (Move(day(more), NEXT, MovedBy.RULES), replace(again[-1], on=day(more)))
    for days, applies in ((20, True), (21, False)):
        about = f"three times, {days} days since"
        yield Example(reason, about, applies, told(4, again), day(21 + days))
    for memory, applies in ((11, False), (12, True)):
        protocol = with_settings(brake_memory_days=memory)
        about = f"11 days since with a memory of {memory}"
        yield Example(reason, about, applies, told(4), protocol=protocol)
    top = ready_history(moves=moves((-40, Position(5, 2))), hops_allowed=True)
    yield Example(reason, "at the top", False, top)


def _settling() -> Iterator[Example]:
    reason = Reason.SETTLING_AFTER_STEP_BACK
    back = ready_history(moves=(*USUAL_MOVES, _stepped_back(29, 28)))
    for pain, applies in ((2, False), (3, False), (4, True)):
        about = f"first-step pain {pain} with a usual of 2"
        yield Example(reason, about, applies, with_mornings(back, morning(30, pain)))
    yield Example(reason, "no morning since", True, with_mornings(back, morning(30, None)))
    yield Example(reason, "the day itself", True, back, day(29))
    flare = with_mornings(back, *(morning(number, 8) for number in range(29, 30)), morning(30, 4))
    yield Example(reason, "the flare does not raise usual", True, flare)
    risen = (morning(number, 0 if number <= 20 else 4) for number in range(13, 31))
    yield Example(reason, "usual is that of the last session", False, with_mornings(back, *risen))
    again = with_sessions(with_mornings(back, morning(30, 4)), session(30, Position(1, 1)))
    yield Example(reason, "a session since", False, again)
    same = replace(back, moves=(*USUAL_MOVES, _stepped_back(28, 26)))
    on_the_day = with_mornings(same, morning(29, 4), morning(30, 4))
    yield Example(reason, "a session on the day of the step back only", True, on_the_day)
    set_by_hand = (*back.moves, Move(day(30), Position(1, 2), MovedBy.CLINICIAN))
    moved = replace(with_mornings(back, morning(30, 5)), moves=set_by_hand)
    yield Example(reason, "the clinician has moved the patient since", False, moved)
    yield Example(
        reason, "never stepped back", False, with_mornings(ready_history(), morning(30, 4))
    )
    none_done = replace(back, sessions=(), usual_pain=Pain(2))
    yield Example(reason, "no session ever, 4", True, with_mornings(none_done, morning(30, 4)))
    yield Example(reason, "no session ever, 3", False, with_mornings(none_done, morning(30, 3)))


def _recovering() -> Iterator[Example]:
    reason = Reason.STILL_RECOVERING
    for days, applies in ((0, True), (1, True), (2, False), (3, False)):
        yield Example(
            reason, f"{days} days, every other day", applies, ready_history(), day(28 + days)
        )
    hops = with_sessions(ready_history(), session(28, Position(4, 1)))
    for days, applies in ((2, True), (3, False), (4, False)):
        about = f"{days} days after hops of 72 hours"
        yield Example(reason, about, applies, hops, day(28 + days))
    longer = with_sessions(ready_history(), session(28, Position(9, 1)))
    yield Example(reason, "done under a longer protocol", True, longer)
    yield Example(reason, "no session yet", False, ready_history(sessions=()))


def _after_a_break() -> Iterator[Example]:
    reason = Reason.AFTER_A_BREAK
    for days, applies in ((13, False), (14, True), (15, True)):
        yield Example(reason, f"{days} days", applies, ready_history(), day(28 + days))
    yield Example(reason, "no session yet", False, ready_history(sessions=()))


def _level_since(began: int) -> History:
    stays = ((-40, Position(1, 1)), (began, Position(2, 1)), (began + 1, Position(2, 3)))
    return ready_history(moves=moves(*stays))


def _too_few_days() -> Iterator[Example]:
    reason = Reason.TOO_FEW_DAYS
    for days, applies in ((20, True), (21, False), (22, False)):
        yield Example(reason, f"{days} of 21 days", applies, _level_since(30 - days))
    inside = ready_history(moves=moves((-40, Position(1, 1)), (20, Position(2, 1))))
    yield Example(reason, "a dose comes next", False, inside)
    top = ready_history(moves=moves((-40, Position(1, 1)), (20, Position(5, 2))))
    yield Example(reason, "nothing comes next", False, top)
    lowered = (*USUAL_MOVES, Move(day(20), Position(2, 1), MovedBy.RULES))
    lowered += (Move(day(22), Position(2, 3), MovedBy.CLINICIAN),)
    yield Example(reason, "dose lowered ten days ago", True, ready_history(moves=lowered))
    last = moves((-40, Position(1, 1)), (20, Position(2, 3)))
    yield Example(reason, "came by the last move", True, ready_history(moves=last))
    same = (*USUAL_MOVES, Move(day(20), Position(2, 3), MovedBy.CLINICIAN))
    yield Example(reason, "set where it was ten days ago", True, ready_history(moves=same))
    first = ready_history(moves=moves((5, Position(1, 1)), (15, Position(1, 2))))
    yield Example(reason, "dose raised at the first level", False, first)
    # Back at the second level from the third: it asks seven days of 21.
    for days, applies in ((6, True), (7, False)):
        back = (*moves((-60, Position(1, 1)), (-40, PRESENT), (-9, Position(3, 1))),)
        back += (Move(day(30 - days), PRESENT, MovedBy.RULES, step_back=True),)
        about = f"{days} days after a step back to it"
        yield Example(reason, about, applies, ready_history(moves=back))
    for start, applies in ((13, False), (14, True)):
        done = tuple(session(n) for n in range(start, 30, 2))
        late = ready_history(sessions=done, moves=moves((-40, Position(1, 1)), (0, PRESENT)))
        yield Example(reason, f"first session {start} days after the move", applies, late)
    for gap, applies in ((13, False), (14, True)):
        done = (session(0, Position(2, 1)), *(session(n) for n in range(gap, 30, 2)))
        kept = ready_history(sessions=done)
        yield Example(reason, f"first session back {30 - gap} days ago", applies, kept)


DAILY = replace(LADDER, levels=(LADDER.levels[0], level("daily", days_min=14, spacing_hours=24)))


def _daily(*done: int, **changes: Any) -> History:
    sessions = tuple(session(number, Position(2, 1)) for number in done)
    stays = moves((-40, Position(1, 1)), (0, Position(2, 1)))
    return ready_history(moves=stays, sessions=sessions, **changes)


def _too_few_sessions() -> Iterator[Example]:
    reason = Reason.TOO_FEW_SESSIONS
    for about, applies, done in (
        ("13 of 14, daily", False, range(13)),
        ("4 of 14, daily", True, (0, 4, 8, 12)),
        ("11 of 14, daily", True, range(11)),
    ):
        yield Example(reason, about, applies, _daily(*done), day(14), DAILY)
    for missed, applies in ((2, False), (3, False), (4, True)):
        about = f"12 of {12 + missed}, daily"
        yield Example(reason, about, applies, _daily(*range(12)), day(12 + missed), DAILY)
    off = {"rest_days": (day(12),), "pauses": (Pause(day(13), day(13)),)}
    yield Example(
        reason, "rest and pause not missed", False, _daily(*range(12), **off), day(17), DAILY
    )
    undone = _daily(*range(12))
    undone = with_sessions(undone, session(11, Position(2, 1), sets_done=Count(0)))
    yield Example(reason, "no set done is not done", True, undone, day(15), DAILY)
    nearly = _daily(*range(23))
    yield Example(reason, "23 of 29, daily", True, nearly, day(29), DAILY)
    stays = (*USUAL_MOVES[:-1], Move(day(27), Position(2, 3), MovedBy.RULES))
    for about, changes in (
        ("the only one at this dose without a set", {"sets_done": Count(0)}),
        ("the only one since at another dose", {"position": Position(2, 2)}),
    ):
        tried = with_last(ready_history(moves=stays), **changes)
        yield Example(reason, about, True, tried)
    yield Example(reason, "every other day", False, ready_history())
    late = ready_history(sessions=tuple(session(n, position_on(n)) for n in range(0, 30, 3)))
    yield Example(reason, "a day late each time, every other day", False, late)
    half = ready_history(sessions=tuple(session(n, position_on(n)) for n in range(0, 30, 4)))
    yield Example(reason, "half of them, every other day", True, half)
    yield Example(reason, "none yet", True, ready_history(sessions=()))
    for on, applies in ((27, False), (28, False), (29, True)):
        stays = (*USUAL_MOVES[:-1], Move(day(on), Position(2, 3), MovedBy.RULES))
        moved = ready_history(moves=stays)
        yield Example(reason, f"at this dose since day {on}, last session day 28", applies, moved)


def _follow_up() -> Iterator[Example]:
    reason = Reason.FOLLOW_UP_MISSING
    yield Example(reason, "all there", False, ready_history())
    for about, on, number, answer in (
        ("next day of the last", 28, 29, "pain_24h"),
        ("two days of the last", 28, 30, "pain_48h"),
        ("two days of the second last", 26, 28, "pain_48h"),
    ):
        applies = on == 28
        told = with_sessions(ready_history(), session(on, **{answer: None}))
        woken = with_mornings(ready_history(), morning(number, None))
        neither = with_mornings(told, morning(number, None))
        if answer == "pain_24h":
            yield Example(reason, f"{about}, told since by 48 hours", False, neither)
            neither = with_last(neither, pain_48h=None)
        yield Example(reason, f"{about}, neither answer", applies, neither)
        yield Example(reason, f"{about}, morning alone", False, told)
        yield Example(reason, f"{about}, later answer alone", False, woken)
    for answer in ("pain_during", "pain_after"):
        yield Example(
            reason, f"{answer} of the last", True, with_last(ready_history(), **{answer: None})
        )
    earlier = with_sessions(ready_history(), session(26, pain_during=None, pain_after=None))
    yield Example(reason, "pain during of an earlier one", False, earlier)
    yield Example(reason, "no session yet", False, ready_history(sessions=()))


def _effort_and_raises() -> Iterator[Example]:
    raises = Reason.CRITERION_NOT_MET
    for count, applies in ((9, True), (10, False), (11, False)):
        counted = ready_history(heel_raises=(HeelRaises(day(25), Count(count)),))
        yield Example(raises, f"{count} of 10", applies, counted)
    fewer = (HeelRaises(day(18), Count(12)), HeelRaises(day(25), Count(9)))
    yield Example(raises, "the latest counts", True, ready_history(heel_raises=fewer))
    one_side = (HeelRaises(day(25), Count(9), other=Count(30)),)
    yield Example(raises, "enough on the other side", True, ready_history(heel_raises=one_side))
    yield Example(raises, "never counted", True, ready_history(heel_raises=()))
    inside = ready_history(heel_raises=(), moves=USUAL_MOVES[:-1])
    yield Example(raises, "a dose comes next", False, inside)
    unasked = ready_history(heel_raises=(), moves=USUAL_MOVES[:2])
    yield Example(raises, "the level asks nothing", False, unasked)
    hard = Reason.STILL_HARD
    for effort, applies in ((4, False), (5, False), (6, True)):
        yield Example(
            hard, f"effort {effort}", applies, with_last(ready_history(), effort=Effort(effort))
        )
    for on, applies in ((26, True), (24, False)):
        tried = with_sessions(ready_history(), session(on, effort=Effort(9)))
        yield Example(hard, f"effort 9 on day {on}", applies, tried)
    yield Example(hard, "not answered", False, with_last(ready_history(), effort=None))


def _masked_and_raised() -> Iterator[Example]:
    masked = Reason.MASKED_BY_PAINKILLER
    for on, applies in ((22, False), (24, True), (26, True), (28, True)):
        taken = with_sessions(ready_history(), session(on, painkiller=True))
        yield Example(masked, f"taken on day {on}", applies, taken)
    yield Example(masked, "not answered", False, with_last(ready_history(), painkiller=None))
    raised = Reason.RAISED_THIS_WEEK
    for days, applies in ((6, True), (7, False), (8, False)):
        stays = (*USUAL_MOVES[:-1], Move(day(30 - days), Position(2, 3), MovedBy.RULES))
        yield Example(raised, f"raised {days} days ago", applies, ready_history(moves=stays))
    by_hand = (*USUAL_MOVES[:-1], Move(day(28), Position(2, 3), MovedBy.CLINICIAN))
    yield Example(raised, "raised by the clinician", True, ready_history(moves=by_hand))
    first = moves((-40, Position(1, 1)), (28, Position(2, 3)))
    yield Example(raised, "the first raise of all", True, ready_history(moves=first))
    back = (*USUAL_MOVES[:-1], Move(day(26), Position(2, 3), MovedBy.RULES))
    back += (Move(day(28), Position(2, 2), MovedBy.CLINICIAN),)
    yield Example(raised, "raised and lowered again", True, ready_history(moves=back))
    same = (*USUAL_MOVES, Move(day(28), Position(2, 3), MovedBy.CLINICIAN))
    yield Example(raised, "set where it was", False, ready_history(moves=same))
    lowered = (*USUAL_MOVES, Move(day(28), Position(2, 2), MovedBy.CLINICIAN))
    yield Example(raised, "lowered two days ago", False, ready_history(moves=lowered))
    yield Example(raised, "enrolled today", False, ready_history(moves=moves((30, Position(1, 1)))))


def _sore() -> Iterator[Example]:
    reason = Reason.SORE_BUT_SETTLED
    for answer in ("pain_during", "pain_after"):
        for pain, applies in ((2, False), (3, False), (4, True)):
            sore = with_last(ready_history(), **{answer: Pain(pain)})
            yield Example(reason, f"{answer} {pain} with comfortable at 3", applies, sore)
    for answer in ("pain_24h", "pain_48h"):
        for pain, applies in ((2, False), (3, False), (4, True)):
            sore = with_last(ready_history(), **{answer: Pain(pain)})
            yield Example(reason, f"{answer} {pain} with a usual of 2", applies, sore)
    used = with_settings(comfort_max=4)
    for answer in ("pain_during", "pain_after", "pain_24h", "pain_48h"):
        over = with_last(ready_history(moves=(*USUAL_MOVES, _seen(on=31))), **{answer: Pain(5)})
        about = f"{answer} over the limit, answered for"
        yield Example(reason, about, True, over, protocol=used)
    high = with_mornings(ready_history(), *(morning(n, 5) for n in range(-40, 31)))
    settled = with_last(high, pain_24h=Pain(5), pain_48h=Pain(5))
    yield Example(reason, "at a usual that is over the limit", True, settled)
    low = with_last(ready_history(pain_limit=Pain(2)), pain_during=Pain(3))
    yield Example(reason, "comfortable, over the clinician's limit", True, low)
    yield Example(reason, "no session yet", False, ready_history(sessions=()))


def _walks(*walks: tuple[int, int]) -> History:
    return ready_history(activities=tuple(Activity(day(n), Minutes(m)) for n, m in walks))


def _spike() -> Iterator[Example]:
    reason = Reason.ACTIVITY_SPIKE
    before = ((5, 80), (10, 100), (15, 60))
    for minutes, applies in ((109, False), (110, False), (111, True)):
        about = f"{minutes} minutes, longest before 100"
        yield Example(reason, about, applies, _walks(*before, (30, minutes)))
    for on, applies in ((27, False), (28, True), (29, True), (31, False)):
        about = f"on day {on}, last session on day 28"
        yield Example(reason, about, applies, _walks(*before, (on, 200)))
    for on, applies in ((28, False), (29, True), (30, True)):
        about = f"on day {on}, last session on day 30"
        done = with_sessions(_walks(*before, (on, 200)), session(30))
        yield Example(reason, about, applies, done)
    yield Example(reason, "two on record", False, _walks(*before[:2], (30, 200)))
    yield Example(reason, "three on record", True, _walks(*before, (30, 200)))
    yield Example(
        reason, "recent ones are no record", False, _walks(*before[:2], (29, 90), (30, 200))
    )
    # The last session was on day 28, so the 30 days before it begin on day -2.
    for on, applies in ((-3, False), (-2, True)):
        about = f"third on record on day {on}"
        yield Example(reason, about, applies, _walks((on, 50), (5, 100), (10, 100), (30, 200)))
    yield Example(reason, "nothing recent", False, _walks(*before))
    rested = replace(_walks(*before, (24, 200)), sessions=sessions_until(10))
    yield Example(reason, "since a session of long ago, within the week", True, rested)
    earlier = replace(_walks(*before, (23, 200)), sessions=sessions_until(10))
    yield Example(reason, "since a session of long ago, before the week", False, earlier)


def _ends() -> Iterator[Example]:
    gate, top = Reason.NEEDS_CLINICIAN, Reason.TOP_OF_THE_LADDER
    stays = (*USUAL_MOVES, Move(day(17), Position(3, 2), MovedBy.CLINICIAN))
    before = ready_history(moves=stays)
    yield Example(gate, "hops next, gate closed", True, before)
    yield Example(gate, "hops next, gate open", False, replace(before, hops_allowed=True))
    yield Example(gate, "no hops next", False, ready_history())
    hopping = ready_history(moves=(*stays, Move(day(18), Position(4, 1), MovedBy.CLINICIAN)))
    yield Example(gate, "hops now, gate closed again", True, hopping)
    yield Example(gate, "deficit next, insertional", True, ready_history(tendon=Tendon.INSERTIONAL))
    for at, applies in ((Position(5, 1), False), (Position(5, 2), True)):
        stands = ready_history(moves=moves((-40, at)), hops_allowed=True)
        yield Example(top, f"level {at.level}, dose {at.dose} of 5, 2", applies, stands)
    ready = Reason.READY
    yield Example(ready, "nothing against it", True, ready_history())
    yield Example(ready, "sore", False, with_last(ready_history(), pain_during=Pain(4)))
    yield Example(ready, "no session yet", False, ready_history(sessions=()))
    just_enrolled = ready_history(moves=moves((30, Position(1, 1))), sessions=(), mornings=())
    yield Example(ready, "just enrolled", False, just_enrolled)


def _all() -> Iterator[Example]:
    yield from _stop()
    yield from _clinician()
    yield from _far_over()
    yield from _two_of_three()
    yield from _two_days()
    yield from _over_ceiling()
    yield from _over_limit_three_times()
    yield from _weeks_before()
    for about, applies, history in _week_rows():
        yield Example(Reason.WEEK_WORSE_THAN_LAST, about, applies, history)
    yield from _next_day()
    yield from _well_above()
    yield from _above_twice()
    yield from _sore_session_rows()
    yield from _brake()
    yield from _settling()
    yield from _recovering()
    yield from _after_a_break()
    yield from _too_few_days()
    yield from _too_few_sessions()
    yield from _follow_up()
    yield from _effort_and_raises()
    yield from _masked_and_raised()
    yield from _sore()
    yield from _spike()
    yield from _ends()


EXAMPLES: tuple[Example, ...] = tuple(_all())
