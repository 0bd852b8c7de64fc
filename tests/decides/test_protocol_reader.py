"""What a protocol file must hold: each fault is refused at its line; shipped files are sound."""

from __future__ import annotations

import re
from dataclasses import fields

import pytest
import smsutil

from rules.errors import ProtocolError
from rules.protocol import Dose, DoseUnit, Protocol, Settings, Tendon
from rules.protocol_keys import SETTINGS
from rules.protocol_reader import (
    SHIPPED,
    check_protocol,
    read_protocol,
    shipped_protocol,
    shipped_text,
)

MID = shipped_text("mid-portion-ladder")
INSERTIONAL = shipped_text("insertional-ladder")
HEAVY = shipped_text("heavy-slow")

LIMIT = 'pain_limit = { value = 4, unit = "points", source = "common-practice"'
COMFORT = 'comfort_max = { value = 3, unit = "points"'
DAYS = 'days_min = { value = 7, unit = "days", source = "common-practice"'
STEPS = 'steps = ["3 x 40", "3 x 50"]'
TEMPO = 'tempo = { text = "rise in 2 seconds, hold, lower in 2", source = "common-practice" }'
SPACING = 'spacing_hours = { value = 48, unit = "hours", source = "common-practice"'
HOPS_SPACING = SPACING.replace("48", "72")
HEAVY_SPACING = SPACING.replace("common-practice", "beyer-2015")
HEAD = 'tendon = "mid-portion"'


def changed(text: str, old: str, new: str) -> tuple[str, int]:
    """The text with the first `old` replaced, and the line it begins on."""
    assert old in text
    return text.replace(old, new, 1), text[: text.index(old)].count("\n") + 1


@pytest.mark.parametrize("name", SHIPPED)
def test_the_shipped_protocols_are_sound(name: str) -> None:
    """Each shipped file is read without a problem and knows its own name."""
    assert check_protocol(shipped_text(name)) == []
    assert shipped_protocol(name).name == name


@pytest.mark.parametrize(
    ("text", "old", "new", "says"),
    [
        pytest.param(MID, LIMIT, LIMIT.replace("4", "6"), "from 0 to 5", id="limit over ceiling"),
        pytest.param(MID, LIMIT, LIMIT.replace("4", "4.5"), "whole number", id="half a point"),
        pytest.param(MID, LIMIT, LIMIT.replace("4", "true"), "whole number", id="no number"),
        pytest.param(MID, LIMIT, LIMIT.replace("4", "nan"), "whole number", id="not a number"),
        pytest.param(MID, LIMIT, "pain_limit = 4 # {", "was expected", id="bare number"),
        pytest.param(MID, LIMIT, LIMIT.replace("points", "stars"), "'stars'", id="wrong unit"),
        pytest.param(
            MID, LIMIT, LIMIT.replace('unit = "points", ', ""), "found None", id="no unit"
        ),
        pytest.param(
            MID,
            LIMIT,
            LIMIT.replace(', source = "common-practice"', ""),
            "known source",
            id="no source",
        ),
        pytest.param(
            MID,
            LIMIT,
            LIMIT.replace("common-practice", "hearsay-1999"),
            "hearsay",
            id="unknown source",
        ),
        pytest.param(MID, LIMIT, "pain_limitt" + LIMIT[10:], "pain_limitt", id="unknown key"),
        pytest.param(
            MID, LIMIT, LIMIT.replace("value", "worth"), "'worth'", id="unknown key in a number"
        ),
        pytest.param(
            MID, COMFORT, COMFORT.replace("3", "5"), "comfort_max", id="comfort over limit"
        ),
        pytest.param(
            MID,
            "settled_margin = { value = 1",
            "settled_margin = { value = 2",
            "from 0 to 1",
            id="settled margin over one point",
        ),
        pytest.param(
            MID,
            "raise_days_min = { value = 7",
            "raise_days_min = { value = 6",
            "from 7",
            id="raised within a week",
        ),
        pytest.param(
            MID,
            "usual_answers_min = { value = 5",
            "usual_answers_min = { value = 15",
            "from 1 to 14",
            id="more answers than mornings",
        ),
        pytest.param(MID, STEPS, "steps = []", "at least one step", id="no dose"),
        pytest.param(MID, STEPS, 'steps = ["3 times 40"]', "3 times 40", id="dose not understood"),
        pytest.param(MID, STEPS, 'steps = ["0 x 40"]', "0 x 40", id="no set"),
        pytest.param(MID, STEPS, 'steps = ["3 x 40", "3 x 40"]', "above", id="dose that stays"),
        pytest.param(MID, STEPS, 'steps = ["3 x 50", "3 x 40"]', "above", id="dose that falls"),
        pytest.param(MID, STEPS, 'steps = ["3 x 40", "4 x 30"]', "above", id="more of less"),
        pytest.param(
            MID, STEPS, 'steps = ["3 x 40 + 5 kg", "3 x 50"]', "above", id="weight taken off"
        ),
        pytest.param(
            MID,
            'doses = { unit = "seconds"',
            'doses = { unit = "minutes"',
            "minutes",
            id="unit of doses",
        ),
        pytest.param(MID, TEMPO, 'tempo = "slow"', "text", id="tempo without source"),
        pytest.param(MID, DAYS, DAYS.replace("7", "1"), "time for one session", id="too few days"),
        pytest.param(MID, HEAD, 'tendon = "left"', "left", id="unknown tendon"),
        pytest.param(
            MID,
            HOPS_SPACING,
            HOPS_SPACING.replace("72", "47"),
            "48 hours apart",
            id="hops too close",
        ),
        pytest.param(
            HEAVY,
            HEAVY_SPACING,
            HEAVY_SPACING.replace("48", "47"),
            "48 hours apart",
            id="heavy too close",
        ),
        pytest.param(MID, "hops = true", 'hops = "yes"', "true or false", id="no flag"),
        pytest.param(HEAVY, "heavy = true", "heavy = 1", "true or false", id="a number as flag"),
    ],
)
def test_a_fault_is_refused_at_its_line(text: str, old: str, new: str, says: str) -> None:
    """One fault put into a sound file is named with the line it stands on."""
    faulty, line = changed(text, old, new)

    problems = check_protocol(faulty)

    assert [str(p) for p in problems if p.line == line and says in str(p)] != []
    with pytest.raises(ProtocolError):
        read_protocol(faulty)


@pytest.mark.parametrize(
    ("text", "old", "new"),
    [
        pytest.param(MID, LIMIT, LIMIT.replace("4", "5"), id="limit at the ceiling"),
        pytest.param(MID, COMFORT, COMFORT.replace("3", "4"), id="comfortable at the limit"),
        pytest.param(MID, DAYS, DAYS.replace("7", "2"), id="days for one session"),
        pytest.param(MID, HOPS_SPACING, HOPS_SPACING.replace("72", "48"), id="hops 48 hours apart"),
        pytest.param(MID, STEPS, 'steps = ["3 x 40", "4 x 40"]', id="a set more"),
        pytest.param(MID, STEPS, 'steps = ["3 x 40", "3 x 30 + 2.5 kg"]', id="weight for amount"),
        pytest.param(
            INSERTIONAL, 'tendon = "insertional"', 'tendon = "either"', id="either tendon"
        ),
        pytest.param(
            MID,
            "pain_questioned = { value = 8",
            "pain_questioned = { value = 10",
            id="asked at ten",
        ),
    ],
)
def test_what_stands_at_a_limit_is_allowed(text: str, old: str, new: str) -> None:
    """Both ends of a range are included."""
    assert check_protocol(changed(text, old, new)[0]) == []


@pytest.mark.parametrize("tendon", ["insertional", "either"])
def test_deficit_levels_are_for_the_mid_portion_only(tendon: str) -> None:
    """A file for an insertional tendon, or for either, holds no level below the floor."""
    faulty, _line = changed(MID, HEAD, f'tendon = "{tendon}"')

    problems = check_protocol(faulty)

    deficit_lines = [n for n, line in enumerate(MID.splitlines(), 1) if line == "deficit = true"]
    assert [problem.line for problem in problems] == deficit_lines
    assert all("mid-portion" in str(problem) for problem in problems)


def test_a_level_behind_the_gate_that_is_no_hop_is_refused() -> None:
    """With hops below it a level could never be reached while the gate is closed."""
    last = MID.rindex("hops = true")
    faulty = MID[:last] + MID[last:].replace("hops = true", "")

    problems = check_protocol(faulty)

    header = [n for n, line in enumerate(MID.splitlines(), 1) if line == "[[levels]]"][-1]
    assert [problem.line for problem in problems] == [header]
    assert "can never be reached" in str(problems[0])


def test_a_ladder_that_begins_with_hops_is_refused() -> None:
    """Before the gate there is something to do."""
    first = MID.index("[[levels]]")
    faulty = MID[:first] + MID[MID.index('[[levels]]\nname = "hops on two legs"') :]

    assert ["found hops at the first" in str(p) for p in check_protocol(faulty)] == [True]


@pytest.mark.parametrize(
    "levels",
    [
        pytest.param("", id="none"),
        pytest.param("levels = []\n", id="an empty list"),
        pytest.param("levels = [1, 2]\n", id="a list of no tables"),
        pytest.param('levels = "three"\n', id="a text"),
    ],
)
def test_a_ladder_without_levels_is_refused(levels: str) -> None:
    """A protocol has at least one level."""
    faulty = levels + MID[: MID.index("[[levels]]")]

    told = [problem for problem in check_protocol(faulty) if "[[levels]]" in str(problem)]
    assert [problem.line for problem in told] == [1 if levels else None]


def test_hops_may_follow_the_very_first_level() -> None:
    """One level before the gate is enough."""
    first, hops = MID.index("[[levels]]"), MID.index('[[levels]]\nname = "hops on two legs"')
    second = MID.index("[[levels]]", first + 1)

    assert check_protocol(MID[:second] + MID[hops:]) == []


@pytest.mark.parametrize("name", SETTINGS)
def test_each_setting_is_needed(name: str) -> None:
    """No setting has a default: a file without it is refused, with the line to put there."""
    faulty = re.sub(rf"^{name} = .*$", "", MID, flags=re.MULTILINE)

    (problem,) = check_protocol(faulty)

    shipped = re.search(rf"^{name} = .*$", MID, flags=re.MULTILINE)
    assert shipped
    assert str(problem).endswith(f"[settings] needs {name}; mid-portion-ladder has: {shipped[0]}")


@pytest.mark.parametrize("text", [MID, INSERTIONAL, HEAVY], ids=list(SHIPPED))
def test_a_file_of_before_is_mended_by_the_lines_that_its_refusal_names(text: str) -> None:
    """A clinic's copy that lacks many settings, put right by what it is told and nothing else."""
    lost = re.findall(r"^(?:weeks|brake|habits|hard)_\w+ = .*\n", text, flags=re.MULTILINE)
    before = "".join(line for line in text.splitlines(keepends=True) if line not in lost)
    told = [str(problem).partition(" has: ")[2] for problem in check_protocol(before)]

    mended = before.replace("[settings]\n", "[settings]\n" + "\n".join(told) + "\n")

    assert len(told) == len(lost) > 9
    assert read_protocol(mended) == read_protocol(text)


# What a clinic may choose, both ends included. Convention, but for the two of 5, the published
# ceiling (silbernagel-2007), and 6, which is over it.
RANGES: dict[str, tuple[float, float]] = {
    "pain_limit": (0, 5),
    "comfort_max": (0, 5),
    "above_usual_margin": (1, 3),
    "settled_margin": (0, 1),
    "far_over_points": (1, 3),
    "well_above_margin": (2, 4),
    "above_usual_days": (1, 3),
    "sore_sessions": (1, 3),
    "over_limit_sessions": (1, 3),
    "echo_margin": (0, 2),
    "echo_margin_at_ceiling": (0, 2),
    "sore_session_margin": (0, 3),
    "sore_session_hold_days": (0, 28),
    "own_usual_days": (14, 56),
    "own_usual_answers_min": (3, 14),
    "session_usual_days": (28, 84),
    "weeks_pain_rise": (0.5, 2),
    "weeks_stiffness_rise_minutes": (0, 30),
    "weeks_reference_days": (7, 28),
    "weeks_reference_ends_days_ago": (14, 28),
    "weeks_reference_answers_min": (4, 14),
    "slower_times": (2, 4),
    "return_days_min": (7, 28),
    "brake_memory_days": (0, 112),
    "brake_session_margin": (0, 3),
    "brake_times": (1, 4),
    "brake_steps_many": (2, 5),
    "brake_times_many": (1, 6),
    "usual_window_days": (7, 28),
    "usual_answers_min": (1, 14),
    "week_pain_rise": (1, 3),
    "week_stiffness_rise_minutes": (5, 60),
    "week_stiffness_rise_percent": (0, 100),
    "week_answers_min": (1, 7),
    "raise_days_min": (7, 28),
    "sessions_done_min_percent": (50, 100),
    "sessions_reviewed": (1, 10),
    "easy_effort_max": (0, 10),
    "effort_sessions": (1, 10),
    "break_days": (7, 28),
    "spike_percent": (0, 100),
    "spike_window_days": (14, 60),
    "spike_activities_min": (1, 30),
    "spike_recent_days": (1, 7),
    "step_backs_alarm": (1, 4),
    "step_backs_window_days": (7, 28),
    "response_weeks": (4, 26),
    "response_points_min": (1, 30),
    "silence_days": (1, 7),
    "pain_questioned": (6, 10),
    "pain_same_day": (6, 10),
    "near_limit_points": (0, 2),
    "near_limit_days": (7, 28),
    "stuck_days": (28, 112),
    "habits_days": (7, 28),
    "habits_sessions_min": (2, 7),
    "habits_percent": (25, 90),
    "hard_effort_min": (6, 11),
    "creep_minutes": (5, 60),
    "creep_days": (14, 56),
    "notice_again_days": (14, 84),
}


def test_each_setting_has_its_range_in_the_table() -> None:
    """No setting is left out of the table of ranges."""
    assert set(RANGES) == set(SETTINGS)


@pytest.mark.parametrize(("name", "ends"), RANGES.items(), ids=list(RANGES))
@pytest.mark.parametrize("beyond", ["under", "over"])
def test_each_setting_keeps_to_its_range(name: str, ends: tuple[float, float], beyond: str) -> None:
    """Each end is taken, and one beyond it is refused with the range."""
    lowest, highest = ends
    end, step = (lowest, -1) if beyond == "under" else (highest, 1)

    told = [
        [str(problem) for problem in check_protocol(with_value(name, value))]
        for value in (end, end + step)
    ]

    says = f"from {lowest} to {highest}"
    assert [any(says in one for one in problems) for problems in told] == [False, True]


def with_value(name: str, value: float) -> str:
    """The mid-portion file with another value of a setting."""
    return re.sub(rf"^{name} = {{ value = [\d.]+", f"{name} = {{ value = {value}", MID, flags=re.M)


LEVEL_RANGES = {"days_min": (1, 365), "spacing_hours": (1, 168), "heel_raises_min": (1, 100)}


@pytest.mark.parametrize(("name", "ends"), LEVEL_RANGES.items(), ids=list(LEVEL_RANGES))
def test_each_number_of_a_level_keeps_to_its_range(name: str, ends: tuple[int, int]) -> None:
    """Each end is taken, and one beyond it is refused with the range."""
    lowest, highest = ends
    changed_to = (lowest - 1, lowest, highest, highest + 1)

    told = [
        [str(problem) for problem in check_protocol(with_value(name, value))]
        for value in changed_to
    ]

    says = f"from {lowest} to {highest}"
    refused = [any(says in one for one in problems) for problems in told]
    assert refused == [True, False, False, True]


def test_the_keys_of_the_file_are_the_fields_of_the_settings() -> None:
    """Whatever a rule reads stands in the file under the same name."""
    assert set(SETTINGS) == {field.name for field in fields(Settings)}


def test_all_problems_are_told_in_the_order_of_their_lines() -> None:
    """A clinic that writes a file sees every fault at once."""
    faulty = MID.replace(LIMIT, LIMIT.replace("4", "6")).replace("hops = true", "hop = true")

    problems = check_protocol(faulty)

    lines = [problem.line for problem in problems]
    assert len(problems) == 3
    assert lines == sorted(lines)


def test_a_text_that_is_no_toml_is_refused_with_its_line() -> None:
    """The first line that cannot be read is named."""
    problems = check_protocol('name = "a"\ntitle = \n')

    assert [problem.line for problem in problems] == [2]


def test_doses_are_read_with_sets_amount_and_weight() -> None:
    """What is written 3 x 15 + 5 kg is a dose of three sets of fifteen with five kilograms."""
    doses = shipped_protocol("mid-portion-ladder").levels[6].doses

    assert doses[-1] == Dose(3, 15, DoseUnit.REPETITIONS, 5.0)


@pytest.mark.parametrize("name", SHIPPED)
def test_each_number_of_a_shipped_protocol_is_cited(name: str) -> None:
    """Every setting, dose, tempo and level number names its unit and source."""
    protocol = shipped_protocol(name)
    cited = {one.key for one in protocol.cited}

    asked = {f"settings.{key}" for key in SETTINGS}
    for number, level in enumerate(protocol.levels, start=1):
        keys = ["tempo", "doses", "days_min", "spacing_hours"]
        keys += ["heel_raises_min"] if level.heel_raises_min is not None else []
        asked |= {f"levels.{number}.{key}" for key in keys}
    assert cited == asked


def words_of(protocol: Protocol) -> list[str]:
    """What of a protocol a patient may come to read."""
    levels = [(level.name, level.exercise, level.tempo) for level in protocol.levels]
    return [protocol.title, *(word for words in levels for word in words)]


@pytest.mark.parametrize("name", SHIPPED)
def test_the_words_of_a_shipped_protocol_are_short_and_plain(name: str) -> None:
    """Names, exercises and tempos keep to the short alphabet and leave room in one SMS."""
    words = words_of(shipped_protocol(name))

    assert [word for word in words if not smsutil.is_valid_gsm(word)] == []
    assert [word for word in words if len(word) > 90] == []


def test_the_insertional_ladder_stays_on_the_floor() -> None:
    """No level of it goes below the floor or off the edge of a step (jonsson-2008)."""
    protocol = shipped_protocol("insertional-ladder")

    assert protocol.tendon is Tendon.INSERTIONAL
    assert not any(level.deficit for level in protocol.levels)
    assert not any("step" in word.lower() for word in words_of(protocol))


@pytest.mark.parametrize("name", ["", "mid-portion", "../errors", "heavy-slow.toml"])
def test_an_unknown_name_is_refused(name: str) -> None:
    """Only the shipped names lead to a file."""
    with pytest.raises(ProtocolError, match="was expected"):
        shipped_protocol(name)
