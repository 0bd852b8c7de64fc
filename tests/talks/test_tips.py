"""Short tips: the file, the moment, the tendon, and how seldom they come."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from talks.talking import TODAY
from talks.test_templates import NEVER_SAID, reading_grade

from dialogs.errors import WordsError
from dialogs.rendering import gsm, segments
from dialogs.tips import MOMENTS, Tip, fitting, moments, read_tips, shipped_tips
from rules.protocol import Position, Tendon
from rules.reasons import Action, Advice, Finding, Reason

AT = Position(3, 1)
HOLD = Advice(TODAY, Finding(Action.HOLD, Reason.TOO_FEW_DAYS, {}), (), AT, AT)
SORE = replace(HOLD, because=Finding(Action.REST_DAY, Reason.NEXT_DAY_ABOVE_USUAL, {}))
REST = replace(HOLD, because=Finding(Action.REST_DAY, Reason.STILL_RECOVERING, {}))
STOP = replace(HOLD, because=Finding(Action.STOP, Reason.WARNING_SIGN, {}))
MID, LOW = Tendon.MID_PORTION, Tendon.INSERTIONAL


@pytest.mark.parametrize("language", ["en", "es"])
def test_every_tip_fits_one_text_message_and_says_where_it_is_from(language: str) -> None:
    """Short, plain, in the cheap alphabet, with a source or the mark that there is none."""
    for tip in shipped_tips(language):
        assert tip.source
        assert tip.asks or segments(gsm(tip.text)).count == 1
        assert segments(gsm(tip.text)).encoding == "GSM-7"


@pytest.mark.parametrize("tip", shipped_tips("en"), ids=lambda tip: tip.key)
def test_every_tip_can_be_read_and_promises_nothing(tip: Tip) -> None:
    """At or under the reading grade of the templates, and without their forbidden words."""
    words = tip.text.lower().split()

    assert tip.asks or reading_grade(tip.text) <= 6
    assert not set(words) & set(NEVER_SAID)


def test_both_languages_have_the_same_tips() -> None:
    """Key, moment, tendon and source agree."""
    english = [replace(tip, text="") for tip in shipped_tips("en")]

    assert [replace(tip, text="") for tip in shipped_tips("es")] == english


def test_every_moment_and_each_tendon_has_a_tip() -> None:
    """Nobody's moment is without a tip."""
    tips = shipped_tips("en")

    for moment in MOMENTS:
        for tendon in ("mid-portion", "insertional"):
            assert any(moment in t.moments and t.tendon in ("any", tendon) for t in tips)


@pytest.mark.parametrize(
    ("limit", "is_said"),
    [
        pytest.param(2, False, id="a limit under what it allows"),
        pytest.param(3, True, id="at it"),
        pytest.param(4, True, id="over it"),
    ],
)
def test_no_tip_allows_more_pain_than_the_limit(limit: int, is_said: bool) -> None:
    """A clinician's lower limit is not talked away."""
    found = fitting(shipped_tips("en"), HOLD, MID, {}, TODAY, limit)

    assert ("some-pain-is-allowed" in [tip.key for tip in found]) is is_said


@pytest.mark.parametrize("reason", [Reason.CLINICIAN_SAYS_REST, Reason.CLINICIAN_SAYS_GO_ON])
def test_nothing_is_taught_beside_a_clinicians_word(reason: Reason) -> None:
    """A tip would give the day another reason than the clinician's."""
    action = Action.REST_DAY if reason is Reason.CLINICIAN_SAYS_REST else Action.HOLD
    advice = replace(HOLD, because=Finding(action, reason, {"by": "Dr Moss"}))

    assert fitting(shipped_tips("en"), advice, MID, {}, TODAY) == ()


def test_nothing_is_taught_beside_a_warning_sign() -> None:
    """A stop makes no moment."""
    assert moments(STOP) == ()
    assert fitting(shipped_tips("en"), STOP, MID, {}, TODAY) == ()


def test_a_tip_fits_its_moment_and_its_tendon() -> None:
    """The floor is for the insertion; what set it off is asked after a sore morning."""
    tips = shipped_tips("en")

    def keys(advice: Advice, tendon: Tendon) -> set[str]:
        return {tip.key for tip in fitting(tips, advice, tendon, {}, TODAY)}

    assert "heels-level" in keys(HOLD, LOW)
    assert "heels-level" not in keys(HOLD, MID)
    assert "what-set-it-off" in keys(SORE, MID)
    assert "why-a-rest-day" in keys(REST, MID)


@pytest.mark.parametrize(
    ("days_ago", "again"),
    [
        pytest.param(29, False, id="29 days ago"),
        pytest.param(30, True, id="30 days ago"),
        pytest.param(31, True, id="31 days ago"),
    ],
)
def test_the_same_tip_waits_a_month(days_ago: int, again: bool) -> None:
    """Thirty days from one time to the next."""
    told = {"why-a-rest-day": TODAY - timedelta(days=days_ago)}

    found = fitting(shipped_tips("en"), REST, MID, told, TODAY)

    assert any(tip.key == "why-a-rest-day" for tip in found) is again


@pytest.mark.parametrize(
    ("days_ago", "allowed"),
    [
        pytest.param((0,), False, id="one today"),
        pytest.param((1,), True, id="one yesterday"),
        pytest.param((1, 6), False, id="two in seven days"),
        pytest.param((1, 7), True, id="the second is a week ago"),
    ],
)
def test_one_a_day_and_two_a_week(days_ago: tuple[int, ...], allowed: bool) -> None:
    """The seven days include today."""
    told = {f"other-{n}": TODAY - timedelta(days=ago) for n, ago in enumerate(days_ago)}

    assert bool(fitting(shipped_tips("en"), REST, MID, told, TODAY)) is allowed


@pytest.mark.parametrize(
    "entry",
    [
        pytest.param('text = "x"', id="no moment"),
        pytest.param('text = "x"\nmoment = ["x"]\ntendon = "any"\nsource = "x"', id="moment"),
        pytest.param(
            'text = "x"\nmoment = ["session"]\ntendon = "knee"\nsource = "x"', id="tendon"
        ),
        pytest.param('text = "x"\nmoment = ["session"]\ntendon = "any"\nsource = ""', id="source"),
    ],
)
def test_an_entry_that_lacks_something_is_refused_by_its_name(entry: str) -> None:
    """A clinic that edits the file is told which entry is meant."""
    with pytest.raises(WordsError, match=r"tips\.mine"):
        read_tips(f"[tips.mine]\n{entry}\n")
