"""What a clinic that writes its own protocol is told: each fault in one whole sentence.

One fault is put into the shipped mid-portion file, and the sentence is compared to the letter.
"""

from __future__ import annotations

import re

import pytest

from rules.errors import ProtocolError
from rules.protocol import Dose, DoseUnit, Tendon
from rules.protocol_keys import LEVEL_NUMBERS, LEVEL_WORDS, SETTINGS
from rules.protocol_lines import line_of, lines_of_keys
from rules.protocol_reader import check_protocol, read_protocol, shipped_text

MID = shipped_text("mid-portion-ladder")
LIMIT = 'pain_limit = { value = 4, unit = "points", source = "common-practice"'
TEMPO = 'tempo = { text = "rise in 2 seconds, hold, lower in 2", source = "common-practice" }'
STEPS = 'steps = ["3 x 40", "3 x 50"]'
STEP_EXPECTED = 'a step like "3 x 15" or "3 x 15 + 5 kg" was expected; found '
SOURCE_EXPECTED = (
    "needs the key of a known source, or one of common-practice, convention, own-simulation; found"
)
RISE_EXPECTED = "each dose above the one before was expected; found "


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        pytest.param(
            LIMIT,
            LIMIT.replace("4", "6"),
            "pain_limit is a whole number from 0 to 5 points; found 6",
            id="limit over the ceiling",
        ),
        pytest.param(
            "week_pain_rise = { value = 2.0",
            'week_pain_rise = { value = "2"',
            "week_pain_rise is a number from 1 to 3 points; found '2'",
            id="a text for a number",
        ),
        pytest.param(
            LIMIT,
            "pain_limit = 4 # {",
            "pain_limit = { value, unit, source } was expected; found 4",
            id="bare number",
        ),
        pytest.param(
            LIMIT,
            LIMIT.replace("points", "stars"),
            "unit of pain_limit is 'points'; found 'stars'",
            id="wrong unit",
        ),
        pytest.param(
            LIMIT,
            LIMIT.replace(', source = "common-practice"', ""),
            f"pain_limit {SOURCE_EXPECTED} None",
            id="no source",
        ),
        pytest.param(
            LIMIT,
            LIMIT.replace("common-practice", "hearsay-1999"),
            f"pain_limit {SOURCE_EXPECTED} 'hearsay-1999'",
            id="unknown source",
        ),
        pytest.param(
            LIMIT,
            LIMIT.replace("value = 4", "value = 4, worth = 4"),
            "a key of value, unit, source, note was expected; found 'worth'",
            id="unknown key in a number",
        ),
        pytest.param(
            "hops = true",
            "hop = true",
            f"a key of {', '.join((*LEVEL_WORDS, *LEVEL_NUMBERS))} was expected; found 'hop'",
            id="unknown key of a level",
        ),
        pytest.param(
            'tendon = "mid-portion"',
            'tendon = "mid-portion"\ntendons = 2',
            "a key of name, title, version, tendon, settings, levels was expected; found 'tendons'",
            id="unknown key of the file",
        ),
        pytest.param(
            "[settings]",
            "[settings]\npain_limits = 4",
            f"a key of {', '.join(SETTINGS)} was expected; found 'pain_limits'",
            id="unknown setting",
        ),
        pytest.param(
            STEPS,
            f"{STEPS}, step = 1",
            "a key of unit, source, note, steps was expected; found 'step'",
            id="unknown key of the doses",
        ),
        pytest.param(
            'tendon = "mid-portion"',
            'tendon = "left"',
            "tendon is one of mid-portion, insertional, either; found 'left'",
            id="unknown tendon",
        ),
        pytest.param(
            'title = "Mid-portion ladder"',
            'title = " "',
            "title is a text that says something; found ' '",
            id="empty title",
        ),
        pytest.param(
            'exercise = "Rise on the toes of both feet. Hold. Stay on the floor."',
            "exercise = 3",
            "exercise is a text that says something; found 3",
            id="an exercise that is no text",
        ),
        pytest.param(
            "hops = true", 'hops = "yes"', "hops is true or false; found 'yes'", id="no flag"
        ),
        pytest.param(
            "deficit = true",
            "deficit = 1",
            "deficit is true or false; found 1",
            id="one is no truth value",
        ),
        pytest.param(
            TEMPO,
            'tempo = "slow"',
            'tempo = { text = "...", source = "..." } was expected',
            id="tempo without a source",
        ),
        pytest.param(
            TEMPO,
            TEMPO.replace("common-practice", "hearsay"),
            f"tempo {SOURCE_EXPECTED} 'hearsay'",
            id="tempo with an unknown source",
        ),
        pytest.param(
            TEMPO,
            'tempo = { text = "", source = "common-practice" }',
            "text is a text that says something; found ''",
            id="tempo that says nothing",
        ),
        pytest.param(
            TEMPO,
            'tempo = { text = "slow", seconds = 2, source = "common-practice" }',
            "a key of text, source, note was expected; found 'seconds'",
            id="unknown key of the tempo",
        ),
        pytest.param(
            'doses = { unit = "seconds", source = "common-practice"',
            'doses = { unit = "seconds", source = "hearsay"',
            f"doses {SOURCE_EXPECTED} 'hearsay'",
            id="doses with an unknown source",
        ),
        pytest.param(
            'doses = { unit = "seconds"',
            'doses = { unit = "minutes"',
            "unit of doses is one of repetitions, seconds; found 'minutes'",
            id="unit of doses",
        ),
        pytest.param(
            STEPS,
            "steps = []",
            "at least one step of doses was expected; found none",
            id="no step",
        ),
        pytest.param(
            STEPS,
            'steps = "3 x 40"',
            "at least one step of doses was expected; found none",
            id="steps that are no list",
        ),
        pytest.param(STEPS, "steps = [3]", f"{STEP_EXPECTED}3", id="a step that is no text"),
        pytest.param(STEPS, 'steps = ["0 x 40"]', f"{STEP_EXPECTED}'0 x 40'", id="no set"),
        pytest.param(STEPS, 'steps = ["3 x 0"]', f"{STEP_EXPECTED}'3 x 0'", id="empty sets"),
        pytest.param(
            STEPS,
            'steps = ["3 x 50", "3 x 40"]',
            f"{RISE_EXPECTED}3 x 40 after 3 x 50",
            id="dose that falls",
        ),
        pytest.param(
            STEPS,
            'steps = ["3 x 40 + 2.5 kg", "3 x 50"]',
            f"{RISE_EXPECTED}3 x 50 after 3 x 40 + 2.5 kg",
            id="weight taken off",
        ),
        pytest.param(
            "comfort_max = { value = 3",
            "comfort_max = { value = 5",
            "comfort_max at or under pain_limit was expected; found 5 and 4",
            id="comfortable over the limit",
        ),
        pytest.param(
            "pain_same_day = { value = 10",
            "pain_same_day = { value = 7",
            "pain_questioned at or under pain_same_day was expected; found 8 and 7",
            id="asked about above what is told",
        ),
        pytest.param(
            "usual_answers_min = { value = 5",
            "usual_answers_min = { value = 14",
            None,
            id="as many answers as mornings",
        ),
        pytest.param(
            "above_usual_margin = { value = 2",
            "above_usual_margin = { value = 1",
            "settled_margin under above_usual_margin was expected; found 1 and 1",
            id="settled not under above usual",
        ),
        pytest.param(
            '\ndays_min = { value = 7, unit = "days"',
            '\ndays_min = { value = 1, unit = "days"',
            "days_min that leaves time for one session, 2 days, was expected; found 1",
            id="days for no session",
        ),
        pytest.param(
            "spacing_hours = { value = 72",
            "spacing_hours = { value = 47",
            "heavy and hop sessions at least 48 hours apart were expected; found 47",
            id="hops too close",
        ),
    ],
)
def test_one_fault_is_one_sentence(old: str, new: str, message: str | None) -> None:
    """The sentence names what was expected and what was found; without a fault there is none."""
    assert old in MID
    faulty = MID.replace(old, new, 1)

    problems = [str(problem).partition(": ")[2] for problem in check_protocol(faulty)]

    assert problems == ([] if message is None else [message])


def test_a_name_that_is_not_shipped_is_told_the_names() -> None:
    """All three are listed."""
    with pytest.raises(ProtocolError) as refused:
        shipped_text("ladder")

    assert str(refused.value) == (
        "one of mid-portion-ladder, insertional-ladder, heavy-slow was expected; found 'ladder'"
    )


MISSING = "is a text that says something; found None"


@pytest.mark.parametrize(
    ("text", "messages"),
    [
        pytest.param(
            'name = "a"\ntitle = \n',
            ["line 2: a TOML file was expected; Invalid value (at line 2, column 9)"],
            id="no TOML",
        ),
        pytest.param(
            'name = """',
            ["a TOML file was expected; Unterminated string (at end of document)"],
            id="a text without end",
        ),
        pytest.param(
            "",
            [
                *(f"{name} {MISSING}" for name in ("name", "title", "version", "tendon")),
                "a table [settings] was expected; found none",
                "at least one table [[levels]] was expected; found none",
            ],
            id="nothing",
        ),
        pytest.param(
            MID.replace('tendon = "mid-portion"', 'tendon = "insertional"'),
            [
                f"line {line}: a deficit level needs a protocol for the mid-portion tendon only;"
                " found tendon insertional"
                for line in (140, 150)
            ],
            id="a deficit for an insertional tendon",
        ),
        pytest.param(
            MID.replace('tendon = "mid-portion"', 'tendon = "either"'),
            [
                f"line {line}: a deficit level needs a protocol for the mid-portion tendon only;"
                " found tendon either"
                for line in (140, 150)
            ],
            id="a deficit for either tendon",
        ),
        pytest.param(
            MID.replace("above_usual_margin = { value = 2", "above_usual_margin = { value = 1"),
            ["line 14: settled_margin under above_usual_margin was expected; found 1 and 1"],
            id="settled not under above usual",
        ),
        pytest.param(
            MID.replace('name = "hold on two legs"\n', ""),
            ["line 91: name is a text that says something; found None"],
            id="a level without a name",
        ),
        pytest.param(
            re.sub(r"doses = \{.*\}\n", "", MID, count=1),
            ["line 91: doses = { unit, source, steps } was expected; found none"],
            id="a level without doses",
        ),
        pytest.param(
            MID.replace(LIMIT, LIMIT.replace("4", "6"))
            .replace('title = "Mid-portion ladder"', "title = 1")
            .replace('version = "2"\n', ""),
            [
                f"version {MISSING}",
                "line 5: title is a text that says something; found 1",
                "line 10: pain_limit is a whole number from 0 to 5 points; found 6",
            ],
            id="several, in the order of their lines",
        ),
    ],
)
def test_a_file_is_told_all_its_faults(text: str, messages: list[str]) -> None:
    """Those of no line come first."""
    problems = check_protocol(text)

    assert [str(problem) for problem in problems] == messages
    with pytest.raises(ProtocolError) as refused:
        read_protocol(text)
    assert str(refused.value) == messages[0]


def test_hops_first_and_a_level_behind_the_gate_are_told() -> None:
    """Both faults of a gate in whole sentences, at the level they are about."""
    first = MID.index("[[levels]]")
    hops = MID.index('[[levels]]\nname = "hops on two legs"')
    turned = MID[:first] + MID[hops:] + MID[first:hops]

    problems = [str(problem) for problem in check_protocol(turned)]

    lines = turned.splitlines()
    second = [number for number, line in enumerate(lines, 1) if line == "[[levels]]"][2]
    assert problems == [
        f"line {lines.index('hops = true') + 1}: a level before the gate to hops was expected;"
        " found hops at the first",
        f"line {second}: only hops above the gate to hops were expected: behind a closed gate"
        " 'hold on two legs' can never be reached",
    ]


def test_a_protocol_is_read_whole() -> None:
    """Head, a level with all its parts, and where its numbers come from."""
    read = read_protocol(MID)

    assert (read.name, read.title, read.version, read.tendon) == (
        "mid-portion-ladder",
        "Mid-portion ladder",
        "2",
        Tendon.MID_PORTION,
    )
    first, last = read.levels[0], read.levels[-1]
    assert (first.name, first.tempo, first.days_min, first.spacing_hours) == (
        "hold on two legs",
        "rise in 2 seconds, hold, lower in 2",
        7,
        48,
    )
    assert first.exercise == "Rise on the toes of both feet. Hold. Stay on the floor."
    assert first.doses == (Dose(3, 40, DoseUnit.SECONDS), Dose(3, 50, DoseUnit.SECONDS))
    assert (first.heel_raises_min, first.deficit, first.hops, first.heavy) == (
        None,
        False,
        False,
        False,
    )
    assert last.hops
    assert [one.heel_raises_min for one in read.levels if one.heel_raises_min] == [10, 15, 15]
    cited = {one.key: (one.unit, one.source, one.note) for one in read.cited}
    assert cited["settings.settled_margin"] == (
        "points",
        "convention",
        "half the change that matters (farrar-2001)",
    )
    assert cited["levels.1.tempo"] == ("text", "common-practice", "")
    assert cited["levels.1.doses"][:2] == ("seconds", "common-practice")
    assert cited["levels.1.days_min"][:2] == ("days", "common-practice")


FILE = """# a comment
name = "a"
[settings]
pain_limit = 4
[[levels]]
name = "one"
[levels.doses]
unit = "seconds"
[[ levels ]]
  name = "two"
  name = "twice"
[[levels]]
"""


@pytest.mark.parametrize(
    ("key", "line"),
    [
        pytest.param(("name",), 2, id="of the head"),
        pytest.param(("settings",), 3, id="a table"),
        pytest.param(("settings", "pain_limit"), 4, id="in a table"),
        pytest.param(("settings", "comfort_max"), 3, id="not there: the table around it"),
        pytest.param(("levels", 1), 5, id="the first of a list"),
        pytest.param(("levels", 1, "name"), 6, id="in the first of a list"),
        pytest.param(("levels", 1, "doses", "unit"), 8, id="in a table of the first"),
        pytest.param(("levels", 1, "tempo", "text"), 5, id="two deep and not there"),
        pytest.param(("levels", 2), 9, id="the second, with spaces in the brackets"),
        pytest.param(("levels", 2, "name"), 10, id="written twice: the first line"),
        pytest.param(("levels", 3, "name"), 12, id="the third, empty"),
        pytest.param(("levels",), None, id="the list as a whole"),
        pytest.param(("title",), None, id="nowhere"),
    ],
)
def test_a_key_is_found_at_its_line(key: tuple[str | int, ...], line: int | None) -> None:
    """Its own line, or that of the nearest table around it."""
    assert line_of(lines_of_keys(FILE), key) == line
