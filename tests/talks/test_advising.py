"""Advice, replies to signs and notices to clinicians, as they read."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date, timedelta

import pytest
from talks.talking import SITUATION, TODAY

from dialogs.advising import (
    DayNumbers,
    EscalationNotice,
    numbers_line,
    say_advice,
    say_escalation,
    say_plan,
    say_plan_changed,
    say_sign,
    say_why,
)
from dialogs.rendering import render, segments
from rules.history import Tier
from rules.protocol import Position
from rules.protocol_reader import shipped_protocol
from rules.reasons import Action, Advice, Finding, Number, Reason
from rules.warning_sign import Match, Sign

LADDER = shipped_protocol("mid-portion-ladder")
HEAVY = shipped_protocol("heavy-slow")
MONDAY = "2026-03-02"
PRESENT = Position(5, 1)


def advice(
    action: Action,
    reason: Reason,
    evidence: Mapping[str, Number],
    stood: Position = PRESENT,
    position: Position | None = None,
) -> Advice:
    """An advice with one finding."""
    return Advice(TODAY, Finding(action, reason, evidence), (), stood, position or stood)


OVER = advice(
    Action.STEP_BACK,
    Reason.NEXT_DAY_OVER_LIMIT,
    {"next_day_pain": 6, "limit": 4, "session_on": MONDAY},
    Position(5, 2),
    Position(4, 1),
)


def test_a_step_back_says_rest_then_the_new_step_then_why() -> None:
    """A step back names the rest of today, the easier session, and the two numbers compared."""
    text = render(say_advice(OVER, LADDER, SITUATION), SITUATION)

    assert text.startswith("Rest from the exercises today.")
    assert "one step down: two up, one down, 3 x 10" in text
    assert "6" in text.split("one down, 3 x 10")[1]
    assert text.endswith("your plan allows up to 4.")


def test_a_step_back_at_the_first_level_stays_at_its_lowest() -> None:
    """Where nothing lies below, the text does not speak of a step down."""
    lowest = replace(OVER, stood=Position(1, 1), position=Position(1, 1))

    text = render(say_advice(lowest, LADDER, SITUATION), SITUATION)

    assert "one step down" not in text
    assert "lowest dose" in text


def test_an_advance_within_a_level_says_the_new_dose() -> None:
    """A higher dose of the same exercise is a little more, on one line; PLAN says it whole."""
    more = advice(Action.ADVANCE, Reason.READY, {}, Position(5, 1), Position(5, 2))

    text = render(say_advice(more, LADDER, SITUATION), SITUATION)

    assert text.startswith("Do a little more today: heel raise on one leg, 3 x 12.")
    assert segments(text).count == 1


def test_an_advance_to_a_level_says_the_new_exercise() -> None:
    """A new level is named as a new exercise."""
    up = advice(Action.ADVANCE, Reason.READY, {}, Position(4, 3), Position(5, 1))

    text = render(say_advice(up, LADDER, SITUATION), SITUATION)

    assert text.startswith("Move up to a new exercise today: Heel raise on one leg")


def test_a_hold_says_the_same_session() -> None:
    """A hold names the session and the reason in plain words."""
    held = advice(Action.HOLD, Reason.TOO_FEW_DAYS, {"days_at_level": 9, "days_min": 21})

    text = render(say_advice(held, LADDER, SITUATION), SITUATION)

    assert text.startswith("Do your session today, as before")
    assert "9 days" in text
    assert "at least 21" in text


@pytest.mark.parametrize(
    ("level", "timed"), [(7, False), (8, True)], ids=["a raise on a step", "hops"]
)
def test_hops_are_not_done_earlier_in_the_day(level: int, timed: bool) -> None:
    """Hop sessions add the time of day, other sessions do not."""
    held = advice(Action.HOLD, Reason.TOP_OF_THE_LADDER, {}, Position(level, 1))

    text = render(say_advice(held, LADDER, SITUATION), SITUATION)

    assert ("no earlier in the day" in text) is timed


def test_heavy_sessions_are_not_done_earlier_in_the_day() -> None:
    """Heavy sessions add the time of day."""
    held = advice(Action.HOLD, Reason.TOP_OF_THE_LADDER, {}, Position(1, 1))

    text = render(say_advice(held, HEAVY, SITUATION), SITUATION)

    assert "no earlier in the day" in text


RECOVERING = {
    "on the day itself": (0, 2, "rest now until Friday"),
    "the day after": (1, 2, "the next one can be tomorrow"),
    "a daily level, on the day itself": (0, 1, "rest now until tomorrow"),
    "three days, after one": (1, 3, "the next one can be Friday"),
}


@pytest.mark.parametrize(("days", "spacing", "said"), RECOVERING.values(), ids=RECOVERING)
def test_recovering_says_when_the_next_session_is(days: int, spacing: int, said: str) -> None:
    """A rest day between sessions names the day of the next one."""
    session_on = (TODAY - timedelta(days=days)).isoformat()
    evidence = {"days_since_session": days, "spacing_days": spacing, "session_on": session_on}
    rest = advice(Action.REST_DAY, Reason.STILL_RECOVERING, evidence)

    text = render(say_advice(rest, LADDER, SITUATION), SITUATION)

    assert said in text


def test_why_shows_the_numbers() -> None:
    """The explanation names day, number and limit."""
    text = render(say_why(OVER, LADDER, SITUATION), SITUATION)

    assert "Monday" in text
    assert "6" in text
    assert "The limit that the clinic set for you is 4." in text


def test_the_plan_of_a_rest_day_is_the_next_one() -> None:
    """On a rest day the plan says that no session is today, and which comes next."""
    text = render(say_plan(OVER, LADDER, SITUATION), SITUATION)

    assert text.startswith("No session today. Your next one: Two up, one down, 3 sets of 10.")


def test_the_clinicians_word_is_told() -> None:
    """A pause that a clinician set names its last day."""
    said = say_plan_changed(None, SITUATION, paused_on=TODAY, paused_until=date(2026, 5, 3))

    text = render(said, SITUATION)

    assert text == (
        "Dr Moss has changed your plan: it is on pause up to and including Sunday 3 May."
    )


SIGN = Sign("leg-clot", Tier.SAME_DAY, "calf swollen", "Is one calf swollen?", "-")
REPLIES = {
    Tier.EMERGENCY: ("call 112 now", "emergency department", "leave the exercises"),
    Tier.SAME_DAY: ("today", "leave the exercises", "Call +1 555 0100", "112"),
    Tier.NEXT_WORKING_DAY: ("leave the exercises until Dr Moss", "+1 555 0100"),
}


@pytest.mark.parametrize(("tier", "parts"), REPLIES.items(), ids=[t.value for t in REPLIES])
def test_a_sign_is_answered_by_what_to_do(tier: Tier, parts: tuple[str, ...]) -> None:
    """Each tier says what to do now, whom to call, and that the line is not watched."""
    text = render(say_sign(tier, Match(SIGN, tier, "calf"), SITUATION), SITUATION)

    for part in (*parts, "Dr Moss", "not watched"):
        assert part in text


def test_a_crisis_is_answered_by_a_human_voice() -> None:
    """A person in distress hears warmth and the crisis line, and nothing of exercises."""
    text = render(say_sign(Tier.EMERGENCY, "crisis", SITUATION), SITUATION)

    assert text.startswith("Please talk to a person now. Call 555 0199")
    assert "I am glad you told me" in text
    assert "555 0199" in text
    assert "112" in text
    assert "exercise" not in text


NOTICE = EscalationNotice(
    number=12,
    patient="Ana Lund",
    tier=Tier.SAME_DAY,
    title="calf swollen",
    wrote="3 10 but my calf\nis hot",
    since=SITUATION.now,
    numbers=numbers_line(
        (
            DayNumbers(date(2026, 3, 1), 2, 5),
            DayNumbers(date(2026, 3, 2), 2, 10, 4, 3),
            DayNumbers(date(2026, 3, 3), 3, None),
            DayNumbers(date(2026, 3, 4)),
        )
    ),
    told="Please be seen today.",
)


def test_a_clinician_hears_who_what_when_and_how_to_take_it() -> None:
    """The notice has name, words, time, three days, what was told, and how to answer."""
    text = render(say_escalation(NOTICE), SITUATION)

    assert text.splitlines() == [
        "SAME DAY. Ana Lund: calf swollen.",
        'Wrote Wed 04 Mar 08:00: "3 10 but my calf is hot"',
        "Last 3 days: Mon am 2 stiff 10 min session 4, after 3; Tue am 3 stiff - min;"
        " Wed no answer",
        "Was told: Please be seen today.",
        "Suggested: ring now. Decide if they must be seen today.",
        "Reply I HAVE IT 12",
    ]


def test_a_reminder_says_which_one_it_is() -> None:
    """The second notice is the first reminder."""
    text = render(say_escalation(replace(NOTICE, again=2)), SITUATION)

    assert text.startswith("REMINDER 1:")


def test_an_exhausted_rota_is_told_to_everyone() -> None:
    """When nobody has acknowledged, the notice says so."""
    text = render(say_escalation(replace(NOTICE, exhausted=True)), SITUATION)

    assert text.startswith("NOBODY HAS SAID THEY HAVE 12.")
    assert text.endswith("Reply I HAVE IT 12")
