"""`nextmorning replay`: the worked cases through the real command, and what a diary may hold."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from acts.typing_commands import Ended, typed
from acts.worked_diaries import CASES, PROTOCOL, diary_text, options_of

from bot.replay.diary import COLUMNS, DiaryError, read_diary
from bot.replay.picture import svg_text
from bot.replay.walk import DayAdvice, Options, replay
from rules.protocol import Position
from rules.protocol_reader import read_protocol, shipped_text
from rules.quantities import Pain
from rules.reasons import Action, Reason

LADDER = read_protocol(PROTOCOL.read_text("utf-8"))
ROOT = Path(__file__).resolve().parents[2]
Command = Callable[..., Ended]


@pytest.fixture
def nextmorning(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Command:
    """The command line, typed."""
    return lambda *words: typed(monkeypatch, capsys, *words)


def written(folder: Path, text: str | bytes, name: str = "diary.csv") -> str:
    """A diary in a file."""
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return str(path)


def walked(*rows: str, header: str = "date,morning_pain", **options: Any) -> tuple[DayAdvice, ...]:
    """The advice of a diary in the ladder of the worked cases."""
    return replay(read_diary("\n".join([header, *rows]), LADDER), Options(LADDER, **options))


STOPPED = {
    "C43": ("emergency", "tendon-rupture"),
    "C50": ("same day", "leg-clot"),
    "C51": ("same day", "fluoroquinolone"),
    "C56": ("next working day", "inflammatory"),
}
# Case, action, level afterwards, deciding reason.
ROWS = [
    ("C01", Action.ADVANCE, 2, Reason.READY),
    ("C04", Action.ADVANCE, 3, Reason.READY),
    ("C07", Action.ADVANCE, 4, Reason.READY),
    ("C13", Action.HOLD, 2, Reason.TOO_FEW_DAYS),
    ("C15", Action.HOLD, 1, Reason.TOO_FEW_SESSIONS),
    ("C17", Action.HOLD, 2, Reason.SORE_BUT_SETTLED),
    ("C22", Action.HOLD, 1, Reason.CRITERION_NOT_MET),
    ("C25", Action.STEP_BACK, 1, Reason.PAIN_FAR_OVER_LIMIT),
    ("C27", Action.DO_LESS, 1, Reason.PAIN_OVER_CEILING),
    ("C28", Action.DO_LESS, 2, Reason.NOT_SETTLED_BY_TWO_DAYS),
    ("C29", Action.STEP_BACK, 1, Reason.WEEK_WORSE_THAN_LAST),
    ("C37", Action.REST_DAY, 3, Reason.STILL_RECOVERING),
    ("C38", Action.REST_DAY, 2, Reason.NEXT_DAY_ABOVE_USUAL),
    ("C42", Action.REST_DAY, 2, Reason.NEXT_DAY_ABOVE_USUAL),
    ("C43", Action.STOP, 4, Reason.WARNING_SIGN),
    ("C50", Action.STOP, 2, Reason.WARNING_SIGN),
    ("C51", Action.STOP, 3, Reason.WARNING_SIGN),
    ("C56", Action.STOP, 1, Reason.WARNING_SIGN),
]
# Without the level on its rows a diary follows its own advice, which here comes before the last
# row: C07 would go on to level 4 on its 42nd day, and C51 back by one on its last but one.
LEVEL_IS_NEEDED = {"C07", "C51"}


def last_row(nextmorning: Command, folder: Path, name: str, *, level_told: bool) -> dict[str, Any]:
    """What the command says of the last row of a worked case."""
    case = CASES[name]
    diary = written(folder, diary_text(case, level_told=level_told))
    ended = nextmorning("replay", diary, "--format", "json", *options_of(case))
    assert (ended.status, ended.err) == (0, "")
    last: dict[str, Any] = json.loads(ended.out)[-1]
    return last


@pytest.mark.parametrize(("name", "action", "level", "reason"), ROWS, ids=list(CASES))
def test_a_worked_case_comes_out_on_its_last_row(
    nextmorning: Command, tmp_path: Path, name: str, action: Action, level: int, reason: Reason
) -> None:
    """Action, level and deciding reason of the last row are those of the case; what is worrying is
    told with its sign and how soon a person must look.
    """
    last = last_row(nextmorning, tmp_path, name, level_told=name in LEVEL_IS_NEEDED)

    assert (last["action"], last["level"], last["reasons"][0]) == (action, level, reason)
    assert (last["tier"], last["sign"]) == STOPPED.get(name, (None, None))


def test_every_worked_case_is_asked_about() -> None:
    """The table and the diaries hold the same cases."""
    assert [row[0] for row in ROWS] == list(CASES)


@pytest.mark.parametrize("name", ["C01", "C28", "C51"])
def test_nothing_later_is_known_on_a_day(name: str) -> None:
    """The advice of a row is the same where the diary ends with that row."""
    case = CASES[name]
    days = read_diary(diary_text(case), LADDER)
    options = Options(LADDER, start_level=case.level, hops_allowed=True)

    whole = replay(days, options)

    assert [replay(days[:n], options)[-1] for n in range(1, len(days) + 1)] == list(whole)


def test_the_installed_command_prints_a_table(tmp_path: Path) -> None:
    """Started as a program of its own, it prints one line a day within a hundred columns."""
    diary = written(tmp_path, diary_text(CASES["C01"]))
    command = [sys.executable, "-m", "bot", "replay", diary, *options_of(CASES["C01"])]

    ended = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)

    assert (ended.returncode, ended.stderr) == (0, "")
    lines = ended.stdout.splitlines()
    assert any(line.startswith("2026-05-20  advance    2") for line in lines)
    assert max(len(line) for line in lines) <= 100
    assert "single-leg raises" in lines[-1]


def test_json_holds_what_it_says(nextmorning: Command, tmp_path: Path) -> None:
    """Each row is an object with these keys, and keeps load and sets in its inputs."""
    row = "2026-05-20,2,yes,3,4,7.5"
    diary = written(tmp_path, f"date,morning_pain,session,sets_done,sets_prescribed,load_kg\n{row}")

    ended = nextmorning("replay", diary, "--format", "json", "--protocol", str(PROTOCOL))

    (day,) = json.loads(ended.out)
    assert list(day) == [
        "date", "level", "dose", "action", "reasons", "tier", "sign", "inputs", "notices",
    ]  # fmt: skip
    assert (day["date"], day["level"], day["dose"]) == ("2026-05-20", 1, "3 x 15")
    assert (day["tier"], day["sign"]) == (None, None)
    assert day["inputs"]["diary"] == {"sets_done": 3, "sets_prescribed": 4, "load_kg": 7.5}
    assert [key for key in day["inputs"] if key != "diary"] == day["reasons"]


FOLLOWED = "date,session,pain_during,pain_after,pain_24h,pain_48h"


@pytest.mark.parametrize(
    ("row", "actions"),
    [
        pytest.param("yes,7,2,2,2", "hold step hold hold", id="during far over the limit"),
        pytest.param("yes,2,7,2,2", "hold step hold hold", id="after far over the limit"),
        pytest.param("yes,2,2,4,2", "hold rest hold hold", id="next day two above usual"),
        pytest.param("yes,2,2,6,2", "hold do hold hold", id="24 h over the ceiling"),
        pytest.param("yes,2,2,4,4", "hold rest do hold", id="24 and 48 h two above usual"),
    ],
)
def test_an_answer_counts_from_the_day_it_could_be_given(row: str, actions: str) -> None:
    """Pain during and after count on the next row, at 24 h one day and at 48 h two days later."""
    days = walked(
        f"2026-05-01,{row}", "2026-05-02", "2026-05-03", "2026-05-04",
        header=FOLLOWED, usual_pain=Pain(2), start_level=2,
    )  # fmt: skip

    found = [day.advice.action.value.split()[0] for day in days]

    # Without a morning's answer a step down is followed by rest, which is not looked at here.
    wanted = actions.split()
    until = next((n for n, one in enumerate(wanted, 1) if one in ("step", "do")), 4)
    assert found[:until] == wanted[:until]


def ready_weeks() -> list[str]:
    """Sessions of two weeks, well followed up, and a last row two days after them."""
    rows = [f"2026-05-{day:02},2,yes,2,2,2,2," for day in range(4, 19)]
    return [*rows, "2026-05-19,2,no,,,,,", "2026-05-20,2,yes,2,2,2,2,"]


READY = "date,morning_pain,session,pain_during,pain_after,pain_24h,pain_48h,heel_raises"


def test_an_advance_is_taken_by_the_session_of_its_row() -> None:
    """The session of the day that advances is done at the new level."""
    rows = ready_weeks()
    rows[-2] += "12"

    days = walked(*rows, header=READY)

    assert days[-1].advice.action is Action.ADVANCE
    assert days[-1].stands == Position(2, 1)
    assert {day.stands for day in days[:-1]} == {Position(1, 1)}


@pytest.mark.parametrize(
    ("on_day", "action"),
    [
        pytest.param(-1, Action.ADVANCE, id="the same morning"),
        pytest.param(None, Action.HOLD, id="never counted"),
    ],
)
def test_heel_raises_count_from_their_row(on_day: int | None, action: Action) -> None:
    """A count on a row is known to the advice of that row."""
    rows = ready_weeks()
    if on_day is not None:
        rows[on_day] += "12"

    days = walked(*rows, header=READY)

    assert days[-1].advice.action is action


@pytest.mark.parametrize(
    ("unwritten", "action"),
    [
        pytest.param(slice(0, 0), Action.ADVANCE, id="all rows"),
        pytest.param(slice(0, 4), Action.ADVANCE, id="the first four not in the diary"),
        pytest.param(slice(5, 9), Action.HOLD, id="four days in the middle without a row"),
    ],
)
def test_a_day_without_a_row_is_a_session_missed(unwritten: slice, action: Action) -> None:
    """Inside the diary an absent day counts as missed; before its first row nothing is known."""
    rows = ready_weeks()
    rows[-1] += "12"
    del rows[unwritten]

    days = walked(*rows, header=READY, level_since=date(2026, 5, 4))

    assert days[-1].advice.action is action
    assert (days[-1].advice.reason is Reason.TOO_FEW_SESSIONS) == (action is Action.HOLD)


TOLD = "date,morning_pain,session,level,pain_during"


@pytest.mark.parametrize(
    ("level_after", "actions", "stands"),
    [
        pytest.param("", ["step back", "hold"], 1, id="not told, so taken"),
        pytest.param("2", ["step back", "step back"], 2, id="stayed, so still owed"),
    ],
)
def test_the_level_told_says_whether_advice_was_taken(
    level_after: str, actions: list[str], stands: int
) -> None:
    """A step back that the diary shows was not taken is given again."""
    days = walked(
        "2026-05-01,2,yes,2,7", f"2026-05-02,2,,{level_after},", f"2026-05-03,2,,{level_after},",
        header=TOLD, usual_pain=Pain(2),
    )  # fmt: skip

    assert [day.advice.action.value for day in days[1:]] == actions
    assert days[1].stands.level == stands


def test_a_level_nobody_advised_is_a_clinicians_move() -> None:
    """The advice of that row is already for the level told, at its lowest dose."""
    days = walked("2026-05-01,2,yes,1,2", "2026-05-04,2,yes,added load,2", header=TOLD)

    assert days[1].advice.stood == Position(3, 1)
    assert Reason.RAISED_THIS_WEEK in [finding.reason for finding in days[1].findings]


def test_a_level_that_began_inside_the_diary_is_counted_from_then() -> None:
    """Earlier rows are a level lower, and the days at the level count from the date told."""
    rows = [f"2026-05-{day:02},2" for day in range(7, 13)]

    days = walked(*rows, start_level=2, level_since=date(2026, 5, 10))

    assert [day.advice.stood.level for day in days] == [1, 1, 1, 2, 2, 2]
    held = next(one for one in days[-1].findings if one.reason is Reason.TOO_FEW_DAYS)
    assert held.evidence["days_at_level"] == 2


def test_a_warning_sign_stops_its_own_row_only() -> None:
    """The row is stopped with tier and sign, and the next one goes on by the rules."""
    days = walked(
        "2026-05-01,2,heard a pop and cannot push off", "2026-05-02,2,",
        header="date,morning_pain,message",
    )  # fmt: skip

    assert [day.advice.action for day in days] == [Action.STOP, Action.HOLD]
    assert [day.sign for day in days] == ["tendon-rupture", None]


@pytest.mark.parametrize(
    ("row", "signs"),
    [
        pytest.param("2,yes,9,9,9,9", [None, None, None, None], id="nine in all of them"),
        pytest.param("10,yes,2,2,2,2", ["severe-pain", None, None, None], id="ten at first step"),
        pytest.param("2,yes,10,2,2,2", [None, "severe-pain", None, None], id="ten during"),
        pytest.param("2,yes,2,2,2,10", [None, None, "severe-pain", None], id="ten at 48 hours"),
    ],
)
def test_the_highest_pain_is_a_sign_once(row: str, signs: list[str | None]) -> None:
    """A pain of ten stops the first row that knows it, and no other."""
    days = walked(
        f"2026-05-01,{row}", "2026-05-02,2", "2026-05-03,2", "2026-05-04,2",
        header="date,morning_pain,session,pain_during,pain_after,pain_24h,pain_48h",
    )  # fmt: skip

    assert [day.sign for day in days] == signs


@pytest.mark.parametrize(
    ("usual", "mornings", "found"),
    [
        pytest.param(None, "4 2", 4.0, id="the first answered one"),
        pytest.param(Pain(3), "4 2", 3.0, id="told"),
        pytest.param(Pain(3), "4 2 2 2 2", 2.0, id="five answers of the diary"),
    ],
)
def test_usual_is_told_until_there_are_enough_answers(
    usual: Pain | None, mornings: str, found: float
) -> None:
    """The value told at the beginning stands for fewer than five answers."""
    rows = [f"2026-05-{day:02},{pain}" for day, pain in enumerate(mornings.split(), start=1)]

    assert walked(*rows, usual_pain=usual)[-1].usual == found


BAD_CELLS = [
    ("morning_pain", "11", "a whole number from 0 to 10 points"),
    ("morning_pain", "-1", "a whole number from 0 to 10 points"),
    ("morning_pain", "3.5", "a whole number from 0 to 10 points"),
    ("morning_pain", "\u0663", "a whole number from 0 to 10 points"),
    ("morning_stiffness_min", "1441", "a whole number from 0 to 1440 minutes"),
    ("sets_done", "501", "a whole number from 0 to 500 count"),
    ("session", "maybe", "yes or no"),
    ("painkiller", "1", "yes or no"),
    ("level", "6", "a level of worked-cases, by its name or by a number from 1 to 5,"),
    ("level", "0", "a level of worked-cases, by its name or by a number from 1 to 5,"),
    ("level", "swimming", "a level of worked-cases, by its name or by a number from 1 to 5,"),
    ("visa_a", "101", "a whole number from 0 to 100 points"),
    ("visa_a", "none", "a whole number from 0 to 100 points"),
    ("load_kg", "501", "a number from 0 to 500 kg"),
    ("load_kg", "heavy", "a number from 0 to 500 kg"),
]


def test_all_bad_rows_are_told_at_once(nextmorning: Command, tmp_path: Path) -> None:
    """Each bad cell is told with line, column, what was expected and what was found."""
    columns = list(dict.fromkeys(column for column, _cell, _expected in BAD_CELLS))
    rows = [f"date,{','.join(columns)}"]
    for number, (column, cell, _expected) in enumerate(BAD_CELLS, start=1):
        cells = [cell if name == column else "" for name in columns]
        rows.append(f"2026-05-{number:02},{','.join(cells)}")
    diary = written(tmp_path, "\n".join(rows))

    ended = nextmorning("replay", diary, "--protocol", str(PROTOCOL))

    assert (ended.status, ended.out) == (2, "")
    assert ended.err.splitlines() == [
        f"{diary}: line {line}, column {column}: {expected} was expected; found {cell!r}"
        for line, (column, cell, expected) in enumerate(BAD_CELLS, start=2)
    ]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        pytest.param("", "an empty file", id="empty"),
        pytest.param("date\n", "at least one day", id="only a header"),
        pytest.param("morning_pain\n2\n", "a column date was expected", id="no date column"),
        pytest.param("date,mood\n2026-05-01,2\n", "found 'mood'", id="unknown column"),
        pytest.param("date,date\n2026-05-01,\n", "each column once", id="column twice"),
        pytest.param("date\n2026-05-02\n2026-05-01\n", "line 3, column date", id="falling dates"),
        pytest.param("date\n2026-02-30\n", "line 2, column date: a date such as", id="no such day"),
        pytest.param('date,message\n2026-05-01,"a\n', "rows of cells", id="open quote"),
        pytest.param(b"date\n\xff\xfe\n", "text in UTF-8", id="other encoding"),
        pytest.param("date,session,pain_during\n2026-05-01,no,3\n", "yes, as", id="pain of none"),
    ],
)
def test_a_diary_that_cannot_be_used_is_refused(
    nextmorning: Command, tmp_path: Path, text: str | bytes, told: str
) -> None:
    """Exit status 2, a sentence with what was expected on standard error, no advice."""
    diary = written(tmp_path, text)

    ended = nextmorning("replay", diary)

    assert (ended.status, ended.out) == (2, "")
    assert told in ended.err
    assert ended.err.startswith(f"{diary}: ")


@pytest.mark.parametrize(
    ("words", "told"),
    [
        pytest.param(["no.csv"], "a diary that can be read was expected", id="no file"),
        pytest.param(["--protocol", "no-such"], "found 'no-such'", id="no protocol"),
        pytest.param(["--level-since", "2026-06-01"], "found 2026-06-01", id="after the diary"),
        pytest.param(["--tendon", "insertional", "--protocol", "mid-portion-ladder"],
                     "is for the mid-portion tendon", id="the other tendon"),
        pytest.param(["--pain-limit", "6"], "", id="limit over the ceiling"),
    ],
)  # fmt: skip
def test_an_option_that_cannot_be_used_is_refused(
    nextmorning: Command, tmp_path: Path, words: list[str], told: str
) -> None:
    """Exit status 2 and a sentence on standard error."""
    diary = [] if words == ["no.csv"] else [written(tmp_path, "date\n2026-05-20\n")]

    ended = nextmorning("replay", *diary, *words)

    assert (ended.status, ended.out) == (2, "")
    assert told in ended.err


def test_the_help_teaches_a_row_that_can_be_read(nextmorning: Command) -> None:
    """The example row of --help has a cell for each column and is a day with a session."""
    ended = nextmorning("replay", "--help")

    row = next(line for line in ended.out.splitlines() if "For instance: " in line)
    (day,) = read_diary(f"{','.join(COLUMNS)}\n{row.split('instance: ')[1].strip()}", LADDER)

    assert row.count(",") == len(COLUMNS) - 1
    assert (day.session, day.level, day.pain_48h, day.painkiller) == (True, 2, 1, False)


PLAIN = "date,load_kg,message\n2026-05-01,2.5,fine\n\n2026-05-02,,\n"


@pytest.mark.parametrize(
    "text",
    [
        pytest.param("\ufeff" + PLAIN, id="byte order mark"),
        pytest.param(PLAIN.replace(",", ";"), id="semicolons"),
        pytest.param(PLAIN.replace(",", ";").replace("2.5", "2,5"), id="decimal comma"),
        pytest.param(PLAIN.replace("02,,", "02"), id="short row"),
        pytest.param(PLAIN.replace("date,", "Date , "), id="capitals and spaces in the header"),
    ],
)
def test_a_table_may_be_saved_in_any_usual_way(text: str) -> None:
    """The days read are the same."""
    assert read_diary(text, LADDER) == read_diary(PLAIN, LADDER)


def test_a_line_is_counted_as_an_editor_counts_it() -> None:
    """A message over two lines and a blank line do not shift what is told."""
    text = 'date,message,morning_pain\n2026-05-01,"one\ntwo",2\n\n2026-05-02,,99\n'

    with pytest.raises(DiaryError) as raised:
        read_diary(text, LADDER)

    assert [(problem.line, problem.column) for problem in raised.value.problems] == [
        (5, "morning_pain")
    ]


def test_two_protocols_are_compared_by_what_the_patient_is_told(
    nextmorning: Command, tmp_path: Path
) -> None:
    """Only the days that differ are shown, once with each protocol."""
    text = shipped_text("mid-portion-ladder").replace(
        "far_over_points = { value = 2", "far_over_points = { value = 3"
    )
    other = written(tmp_path, text, "ours.toml")
    rows = ["2026-05-01,2,yes,7", "2026-05-02,2,no,", "2026-05-03,2,no,"]
    diary = written(tmp_path, "\n".join(["date,morning_pain,session,pain_during", *rows]))

    ended = nextmorning("replay", diary, "--start-level", "3", "--against", other)
    same = nextmorning("replay", diary, "--against", "mid-portion-ladder")
    as_json = nextmorning(
        "replay", diary, "--start-level", "3", "--against", other, "--format", "json"
    )

    assert "2 of 3 days differ." in ended.out
    assert "2026-05-02  step back" in ended.out
    assert "  against   rest day" in ended.out
    assert "no difference on any of 3 days" in same.out
    assert [(day["action"], day["against"]["action"]) for day in json.loads(as_json.out)] == [
        ("step back", "rest day"), ("hold", "hold"),
    ]  # fmt: skip


def test_a_picture_is_written(nextmorning: Command, tmp_path: Path) -> None:
    """The file is a PNG, and the advice is printed as ever."""
    diary = written(tmp_path, diary_text(CASES["C28"]))
    picture = tmp_path / "weeks.png"

    ended = nextmorning("replay", diary, "--plot", str(picture), *options_of(CASES["C28"]))

    assert ended.status == 0
    assert "do less" in ended.out
    assert picture.read_bytes().startswith(b"\x89PNG\r\n\x1a\n")


def test_the_picture_says_in_words_what_each_mark_means() -> None:
    """Every word of advice and every line stands in the legend, and no colour but grey is used."""
    drawn = svg_text(walked("2026-05-01,2", "2026-05-02,3"), LADDER)

    for words in [*Action, "first-step pain", "worst pain during a session", "pain limit"]:
        assert f">{words}</text>" in drawn
    colours = {piece[:7] for piece in drawn.split('"') if piece.startswith("#")}
    assert all(colour[1:3] == colour[3:5] == colour[5:7] for colour in colours)


def test_a_picture_without_its_library_names_what_to_install(
    nextmorning: Command, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The sentence names the extra, and no file is left."""
    monkeypatch.setitem(sys.modules, "resvg_py", None)
    diary = written(tmp_path, "date\n2026-05-20\n")

    ended = nextmorning("replay", diary, "--plot", str(tmp_path / "weeks.png"))

    assert ended.status == 2
    assert "nextmorning[pictures]" in ended.err
    assert not (tmp_path / "weeks.png").exists()
