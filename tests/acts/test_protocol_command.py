"""`nextmorning protocol`: list, show, copy and check, with what each refuses."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from acts.typing_commands import Ended, typed
from acts.worked_diaries import PROTOCOL

from rules.protocol_reader import SHIPPED, shipped_protocol, shipped_text
from rules.sources import MARKS

Command = Callable[..., Ended]


@pytest.fixture
def nextmorning(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Command:
    """The command line, typed."""
    return lambda *words: typed(monkeypatch, capsys, *words)


def test_list_names_what_is_shipped(nextmorning: Command) -> None:
    """One line a protocol, beginning with the name that other commands take."""
    ended = nextmorning("protocol", "list")

    assert [line.split()[0] for line in ended.out.splitlines()] == list(SHIPPED)


@pytest.mark.parametrize("name", [*SHIPPED, str(PROTOCOL)])
def test_show_prints_the_ladder_with_units_and_sources(nextmorning: Command, name: str) -> None:
    """Levels, doses, limits and sources stand there, in lines of at most a hundred characters."""
    ended = nextmorning("protocol", "show", name)

    assert ended.status == 0
    assert "1. " in ended.out
    assert "hours between sessions, at least" in ended.out
    assert "pain_limit" in ended.out
    assert "common-practice" in ended.out
    assert max(len(line) for line in ended.out.splitlines()) <= 100


def test_show_names_each_source_that_the_numbers_rest_on(nextmorning: Command) -> None:
    """Each key beside a number has its entry below."""
    ended = nextmorning("protocol", "show", "mid-portion-ladder")

    keys = {one.source for one in shipped_protocol("mid-portion-ladder").cited}
    register = ended.out.split("\nSources")[1]
    for key in keys - set(MARKS):
        assert f"   {key}: " in register


@pytest.mark.parametrize("name", SHIPPED)
def test_a_copy_is_the_shipped_file_and_passes_the_check(
    nextmorning: Command, tmp_path: Path, name: str
) -> None:
    """One's own protocol starts as the shipped text, and nothing is wrong with it."""
    file = tmp_path / "ours.toml"

    copied = nextmorning("protocol", "copy", name, str(file))
    checked = nextmorning("protocol", "check", str(file))

    assert (copied.status, checked.status) == (0, 0)
    assert file.read_text("utf-8") == shipped_text(name)
    assert "nothing is wrong" in checked.out
    assert f"({name}), version 2" in checked.out


def test_other_numbers_need_a_name_or_version_of_their_own(
    nextmorning: Command, tmp_path: Path
) -> None:
    """Two ladders under one name and version could not be told apart in any record."""
    file = tmp_path / "ours.toml"
    changed = shipped_text(SHIPPED[0]).replace(
        "pain_limit = { value = 4", "pain_limit = { value = 5"
    )
    file.write_text(changed)
    refused = nextmorning("protocol", "check", str(file))
    file.write_text(changed.replace('version = "2"', 'version = "2-ours"'))

    assert (refused.status, "of its own was expected" in refused.err) == (2, True)
    assert nextmorning("protocol", "check", str(file)).status == 0


def test_a_copy_writes_over_nothing(nextmorning: Command, tmp_path: Path) -> None:
    """A file that exists is left as it is."""
    file = tmp_path / "ours.toml"
    file.write_text("ours", encoding="utf-8")

    ended = nextmorning("protocol", "copy", SHIPPED[0], str(file))

    assert ended.status == 2
    assert "a new file was expected" in ended.err
    assert file.read_text("utf-8") == "ours"


def test_check_tells_all_problems_with_their_lines(nextmorning: Command, tmp_path: Path) -> None:
    """Each problem is one line on standard error, in the order of the file."""
    text = (
        shipped_text("mid-portion-ladder")
        .replace("pain_limit = { value = 4", "pain_limit = { value = 6")
        .replace(
            'unit = "answers", source = "convention" }', 'unit = "answers", source = "hearsay" }'
        )
    )
    file = tmp_path / "ours.toml"
    file.write_text(text, encoding="utf-8")
    lines = text.splitlines()
    expected = [
        1 + next(n for n, line in enumerate(lines) if line.startswith(key))
        for key in ("pain_limit", "usual_answers_min")
    ]

    ended = nextmorning("protocol", "check", str(file))

    assert (ended.status, ended.out) == (2, "")
    assert [line.split(": ")[1] for line in ended.err.splitlines()] == [
        f"line {number}" for number in expected
    ]


@pytest.mark.parametrize(
    ("words", "told"),
    [
        pytest.param(["show", "no-such"], "found 'no-such'", id="show nothing"),
        pytest.param(["copy", "no-such", "new.toml"], "found 'no-such'", id="copy nothing"),
        pytest.param(["copy", "heavy-slow", "no/such/x.toml"], "cannot be written", id="nowhere"),
        pytest.param(["check", "no-such.toml"], "a protocol file was expected", id="check nothing"),
    ],
)
def test_what_is_not_there_is_refused(nextmorning: Command, words: list[str], told: str) -> None:
    """Exit status 2 and a sentence with what was expected."""
    ended = nextmorning("protocol", *words)

    assert ended.status == 2
    assert told in ended.err


def test_a_file_with_problems_is_not_shown(nextmorning: Command, tmp_path: Path) -> None:
    """The first problem is told, with the command that tells all of them."""
    file = tmp_path / "ours.toml"
    file.write_text("name = 1\n", encoding="utf-8")

    ended = nextmorning("protocol", "show", str(file))

    assert ended.status == 2
    assert f"nextmorning protocol check {file}" in ended.err
