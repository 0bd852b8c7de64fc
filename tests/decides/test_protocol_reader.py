"""What a protocol file must hold: each fault is refused at its line; shipped files are sound."""

from __future__ import annotations

import re
from dataclasses import fields

import pytest
import smsutil

from rules.errors import ProtocolError
from rules.protocol import Dose, DoseUnit, Protocol, Settings, Tendon
from rules.protocol_keys import LEVEL_NUMBERS, LEVEL_WORDS, SETTINGS
from rules.protocol_lines import line_of, lines_of_keys
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
TEMPO = 'tempo = { text = "rise in 2 seconds, stay up, lower in 2", source = "common-practice" }'
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


STEP_EXPECTED = 'a step like "3 x 15" or "3 x 15 + 5 kg" was expected; found '
RISE_EXPECTED = "each dose above the one before was expected; found "
SOURCE_EXPECTED = (
    "needs the key of a known source, or one of common-practice, convention, own-simulation; found"
)
FROM_0_TO_5 = "pain_limit is a whole number from 0 to 5 points; found"
APART = "heavy and hop sessions at least 48 hours apart were expected; found 47"
MOST_EXPECTED = "at most 10 sets of 180 seconds with 200 kg were expected; found "
FAULTS = {
    # The published ceiling: silbernagel-2007.
    "limit over the ceiling": (MID, LIMIT, LIMIT.replace("4", "6"), f"{FROM_0_TO_5} 6"),
    "half a point": (MID, LIMIT, LIMIT.replace("4", "4.5"), f"{FROM_0_TO_5} 4.5"),
    "no number": (MID, LIMIT, LIMIT.replace("4", "true"), f"{FROM_0_TO_5} True"),
    "a text for a number": (
        MID, "week_pain_rise = { value = 2.0", 'week_pain_rise = { value = "2"',
        "week_pain_rise is a number from 1 to 3 points; found '2'",
    ),
    "bare number": (
        MID, LIMIT, "pain_limit = 4 # {",
        "pain_limit = { value, unit, source } was expected; found 4",
    ),
    "wrong unit": (
        MID, LIMIT, LIMIT.replace("points", "stars"),
        "unit of pain_limit is 'points'; found 'stars'",
    ),
    "no source": (
        MID, LIMIT, LIMIT.replace(', source = "common-practice"', ""),
        f"pain_limit {SOURCE_EXPECTED} None",
    ),
    "unknown source": (
        MID, LIMIT, LIMIT.replace("common-practice", "hearsay-1999"),
        f"pain_limit {SOURCE_EXPECTED} 'hearsay-1999'",
    ),
    "unknown key in a number": (
        MID, LIMIT, LIMIT.replace("value = 4", "value = 4, worth = 4"),
        "a key of value, unit, source, note was expected; found 'worth'",
    ),
    "unknown key of a level": (
        MID, "hops = true", "hop = true",
        f"a key of {', '.join((*LEVEL_WORDS, *LEVEL_NUMBERS))} was expected; found 'hop'",
    ),
    "unknown key of the doses": (
        MID, STEPS, f"{STEPS}, step = 1",
        "a key of unit, source, note, steps was expected; found 'step'",
    ),
    "unknown tendon": (
        MID, HEAD, 'tendon = "left"',
        "tendon is one of mid-portion, insertional, either; found 'left'",
    ),
    "empty title": (
        MID, 'title = "Mid-portion ladder"', 'title = " "',
        "title is a text that says something; found ' '",
    ),
    "no flag": (MID, "hops = true", 'hops = "yes"', "hops is true or false; found 'yes'"),
    "a number as flag": (HEAVY, "heavy = true", "heavy = 1", "heavy is true or false; found 1"),
    "tempo without a source": (
        MID, TEMPO, 'tempo = "slow"', 'tempo = { text = "...", source = "..." } was expected'
    ),
    "tempo that says nothing": (
        MID, TEMPO, 'tempo = { text = "", source = "common-practice" }',
        "text is a text that says something; found ''",
    ),
    "unit of doses": (
        MID, 'doses = { unit = "seconds"', 'doses = { unit = "minutes"',
        "unit of doses is one of repetitions, seconds; found 'minutes'",
    ),
    "no step": (
        MID, STEPS, "steps = []", "at least one step of doses was expected; found none"
    ),
    "a step that is no text": (MID, STEPS, "steps = [3]", f"{STEP_EXPECTED}3"),
    "no set": (MID, STEPS, 'steps = ["0 x 40"]', f"{STEP_EXPECTED}'0 x 40'"),
    "dose that stays": (
        MID, STEPS, 'steps = ["3 x 40", "3 x 40"]', f"{RISE_EXPECTED}3 x 40 after 3 x 40"
    ),
    "more of less": (
        MID, STEPS, 'steps = ["3 x 40", "4 x 30"]', f"{RISE_EXPECTED}4 x 30 after 3 x 40"
    ),
    "weight taken off": (
        MID, STEPS, 'steps = ["3 x 40 + 2.5 kg", "3 x 50"]',
        f"{RISE_EXPECTED}3 x 50 after 3 x 40 + 2.5 kg",
    ),
    "comfortable over the limit": (
        MID, COMFORT, COMFORT.replace("3", "5"),
        "comfort_max at or under pain_limit was expected; found 5 and 4",
    ),
    "asked about above what is told": (
        MID, "pain_same_day = { value = 10", "pain_same_day = { value = 7",
        "pain_questioned at or under pain_same_day was expected; found 8 and 7",
    ),
    "days for no session": (
        MID, DAYS, DAYS.replace("7", "1"),
        "days_min that leaves time for one session, 2 days, was expected; found 1",
    ),
    "two of a name": (
        MID, 'name = "two up, one down"', 'name = "Heel raise on two legs"',
        "a name of its own was expected for each level; found 'Heel raise on two legs' twice",
    ),
    "hops without a gate": (
        MID, "hops = true", "hops = false",
        "hops = true was expected where a level speaks of hops or jumps: without it no gate holds"
        " them back",
    ),
    "too many sets": (MID, STEPS, 'steps = ["11 x 40"]', f"{MOST_EXPECTED}11 x 40"),
    "too much weight": (
        MID, STEPS, 'steps = ["3 x 40 + 201 kg"]', f"{MOST_EXPECTED}3 x 40 + 201 kg"
    ),
    "hops too close": (MID, HOPS_SPACING, HOPS_SPACING.replace("72", "47"), APART),
    "heavy too close": (HEAVY, HEAVY_SPACING, HEAVY_SPACING.replace("48", "47"), APART),
}  # fmt: skip


@pytest.mark.parametrize(("text", "old", "new", "says"), FAULTS.values(), ids=FAULTS)
def test_one_fault_is_one_sentence_at_its_line(text: str, old: str, new: str, says: str) -> None:
    """It names what was expected and what was found, to the letter; such a file is refused."""
    faulty, line = changed(text, old, new)

    told = check_protocol(faulty)

    assert [str(problem) for problem in told] == [f"line {told[0].line}: {says}"]
    assert abs(told[0].line - line) <= 1  # two keys of one fault stand side by side
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
    ],
)
def test_what_stands_at_a_limit_is_allowed(text: str, old: str, new: str) -> None:
    """Both ends of a range are included."""
    assert check_protocol(changed(text, old, new)[0]) == []


@pytest.mark.parametrize(
    "levels",
    [
        pytest.param("", id="none"),
        pytest.param("levels = []\n", id="an empty list"),
    ],
)
def test_a_ladder_without_levels_is_refused(levels: str) -> None:
    """A protocol has at least one level."""
    faulty = levels + MID[: MID.index("[[levels]]")]

    told = [problem for problem in check_protocol(faulty) if "[[levels]]" in str(problem)]
    assert [problem.line for problem in told] == [1 if levels else None]


def test_each_setting_is_needed() -> None:
    """No setting has a default: a file without it is refused, with the line to put there."""
    for name in SETTINGS:
        (shipped,) = re.findall(rf"^{name} = .*$", MID, flags=re.MULTILINE)

        (problem,) = check_protocol(MID.replace(shipped + "\n", "\n"))

        assert str(problem).endswith(f"[settings] needs {name}; mid-portion-ladder has: {shipped}")


@pytest.mark.parametrize("text", [MID, INSERTIONAL, HEAVY], ids=list(SHIPPED))
def test_a_file_of_before_is_mended_by_the_lines_that_its_refusal_names(text: str) -> None:
    """A clinic's copy that lacks many settings, put right by what it is told and nothing else."""
    lost = re.findall(r"^(?:weeks|brake|habits|hard)_\w+ = .*\n", text, flags=re.MULTILINE)
    before = "".join(line for line in text.splitlines(keepends=True) if line not in lost)
    told = [str(problem).partition(" has: ")[2] for problem in check_protocol(before)]

    mended = before.replace("[settings]\n", "[settings]\n" + "\n".join(told) + "\n")

    assert len(told) == len(lost) > 9
    assert read_protocol(mended) == read_protocol(text)


def test_each_setting_keeps_to_its_range() -> None:
    """Each end of what a clinic may choose is taken, and one beyond it is refused with the range.
    The ceiling of pain is the published one: silbernagel-2007.
    """
    assert (SETTINGS["pain_limit"].highest, SETTINGS["comfort_max"].highest) == (5, 5)
    wrong = [
        (name, value)
        for name, asked in SETTINGS.items()
        for end, beyond in ((asked.lowest, asked.lowest - 1), (asked.highest, asked.highest + 1))
        for value in (end, beyond)
        if (
            f"from {asked.lowest} to {asked.highest}"
            in " ".join(str(problem) for problem in check_protocol(with_value(name, value)))
        )
        is not (value == beyond)
    ]

    assert wrong == []


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


@pytest.mark.parametrize("name", SHIPPED)
def test_each_number_of_a_shipped_protocol_is_cited(name: str) -> None:
    """Every setting, dose, tempo and level number names its unit and source."""
    protocol = shipped_protocol(name)
    cited = {one.key for one in protocol.cited}

    asked = {f"settings.{key}" for key in SETTINGS}
    for number, level in enumerate(protocol.levels, start=1):
        keys = ["tempo", "doses", "days_min", "spacing_hours"]
        may_lack = ("heel_raises_min", "begins_from_raises")
        keys += [one for one in may_lack if getattr(level, one) is not None]
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
            "",
            [
                *(f"{name} {MISSING}" for name in ("name", "title", "version", "tendon")),
                "a table [settings] was expected; found none",
                "at least one table [[levels]] was expected; found none",
            ],
            id="nothing",
        ),
        *(
            pytest.param(
                MID.replace(HEAD, f'tendon = "{tendon}"'),
                [
                    f"line {line}: a deficit level needs a protocol for the mid-portion tendon"
                    f" only; found tendon {tendon}"
                    for line in (143, 153)
                ],
                id=f"a deficit, {tendon}",
            )
            for tendon in ("insertional", "either")
        ),
        pytest.param(
            MID.replace('name = "heel-raise hold on two legs"\n', ""),
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
        " 'heel-raise hold on two legs' can never be reached",
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
        "heel-raise hold on two legs",
        "rise in 2 seconds, stay up, lower in 2",
        7,
        48,
    )
    assert first.exercise == "On the floor, rise on the toes of both feet and stay up."
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
        pytest.param(("settings", "pain_limit"), 4, id="in a table"),
        pytest.param(("settings", "comfort_max"), 3, id="not there: the table around it"),
        pytest.param(("levels", 1, "doses", "unit"), 8, id="in a table of the first"),
        pytest.param(("levels", 2, "name"), 10, id="written twice: the first line"),
        pytest.param(("levels", 3, "name"), 12, id="the third, empty"),
        pytest.param(("levels",), None, id="the list as a whole"),
        pytest.param(("title",), None, id="nowhere"),
    ],
)
def test_a_key_is_found_at_its_line(key: tuple[str | int, ...], line: int | None) -> None:
    """Its own line, or that of the nearest table around it."""
    assert line_of(lines_of_keys(FILE), key) == line
