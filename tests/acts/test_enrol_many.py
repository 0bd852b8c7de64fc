"""`nextmorning enrol-many`: a list of patients, all or none, with every bad cell told at once."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from acts.typing_commands import Ended, typed

from bot.clinicians.invite_many import ListError, read_list
from bot.store import people, plans
from bot.store.database import Store
from bot.store.people import Role

Command = Callable[..., Ended]


@pytest.fixture
def nextmorning(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Command:
    """The command line of a clinic without patients, typed in its folder."""
    monkeypatch.chdir(tmp_path)
    lines = (
        '[clinic]\nname = "Riverside"\nphone = "020 7946 0000"\nzone = "Europe/London"',
        'emergency_number = "999"\ncrisis_line = "116 123"',
        '[sms]\nregion = "GB"',
        '[store]\npath = "clinic.db"',
    )
    (tmp_path / "clinic.toml").write_text("\n".join(lines))
    return lambda *words: typed(monkeypatch, capsys, *words)


def patients(folder: Path) -> list[tuple[str, str, str, str]]:
    """Name, language, tendon and morning time of each patient kept."""
    store = Store(folder / "clinic.db")
    found = [(p, plans.of_patient(store, p.id)) for p in people.by_role(store, Role.PATIENT)]
    store.close()
    return [(p.name, p.language, str(e.tendon), f"{e.morning_time:%H:%M}") for p, e in found]


def test_a_list_is_invited_with_a_letter_for_each(nextmorning: Command, tmp_path: Path) -> None:
    """Each is kept as the list says; the letters are the owner's only, each with its own code."""
    rows = (
        "name;tendon;channel;address;language;morning_time;level",
        "Ana B;mid-portion;sms;020 7946 0018;;6:45;3 2",
        "Luz;insertional;telegram;;es;;",
    )
    (tmp_path / "list.csv").write_text("\n".join(rows))

    ended = nextmorning("enrol-many", "list.csv", "--codes", "letters.txt")

    letters = (tmp_path / "letters.txt").read_text()
    assert (ended.status, ended.out) == (0, "2 patients invited; their codes are in letters.txt\n")
    assert patients(tmp_path) == [
        ("Ana B", "en", "mid-portion", "06:45"),
        ("Luz", "es", "insertional", "07:30"),
    ]
    assert (tmp_path / "letters.txt").stat().st_mode & 0o777 == 0o600
    assert "Hello Ana B," in letters
    assert "Hola, Luz:" in letters
    assert "as a text message" in letters


def test_every_bad_cell_is_told_and_nobody_is_invited(nextmorning: Command, tmp_path: Path) -> None:
    """One bad row among good ones undoes all; each problem has line, column, expected, found."""
    rows = (
        "name,tendon,language,morning_time,channel,address",
        "Ana,mid-portion,en,07:30,,",
        "ana,midpart,fr,7.30,pigeon,",
        "",
        ",insertional,,,sms,12",
        "Ben,insertional,,,,020 7946 0018",
    )
    (tmp_path / "list.csv").write_text("\n".join(rows))

    ended = nextmorning("enrol-many", "list.csv", "--codes", "letters.txt")

    told = [line.removeprefix("list.csv: ") for line in ended.err.splitlines()]
    places = [line.split(": ")[0] for line in told]
    assert ended.status == 2
    assert places == [
        "line 3, column name", "line 3, column tendon", "line 3, column language",
        "line 3, column morning_time", "line 3, column channel", "line 5, column name",
        "line 5, column address", "line 6, column channel", "Nobody was invited.",
    ]  # fmt: skip
    assert "expected one of mid-portion, insertional; found 'midpart'" in told[1]
    assert patients(tmp_path) == []
    assert not (tmp_path / "letters.txt").exists()


def test_where_the_letters_cannot_be_kept_nobody_is_invited(
    nextmorning: Command, tmp_path: Path
) -> None:
    """A code that nobody can read again must not exist."""
    (tmp_path / "list.csv").write_text("name,tendon\nAna,mid-portion\n")
    (tmp_path / "letters.txt").write_text("somebody's")

    ended = nextmorning("enrol-many", "list.csv", "--codes", "letters.txt")

    assert (ended.status, "nothing is overwritten" in ended.err) == (2, True)
    assert patients(tmp_path) == []
    assert (tmp_path / "letters.txt").read_text() == "somebody's"


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        pytest.param("", "a header with the column name", id="an empty file"),
        pytest.param("name\nAna", "a header with the column tendon", id="no tendon"),
        pytest.param("name,tendon,name\n", "at most once", id="a column twice"),
        pytest.param("name,tendon,age\n", "at most once", id="an unknown column"),
        pytest.param("name,tendon\n", "at least one patient", id="no rows"),
        pytest.param("name,tendon\nA,insertional,x\n", "2 cells", id="a cell too many"),
        pytest.param("name,tendon\nBen,insertional\n", "an initial", id="a name that is taken"),
        pytest.param(f"name,tendon\n{'a' * 31},insertional\n", "1 to 30", id="a name of 31"),
    ],
)
def test_a_list_that_cannot_be_read_says_what_was_expected(text: str, problem: str) -> None:
    """Each way of being wrong has its sentence."""
    with pytest.raises(ListError, match=problem):
        read_list(text, ("en", "es"), "GB", frozenset({"ben"}))


@pytest.mark.parametrize(
    ("cell", "region", "number"),
    [
        ("020 7946 0018", "GB", "+442079460018"),
        ("+44 20 7946 0018", None, "+442079460018"),
        ("@ana", None, None),
    ],
)
def test_a_number_is_read_as_its_region_writes_it(
    cell: str, region: str | None, number: str | None
) -> None:
    """With a region or a country code it is kept in one form; what is no number is told."""
    text = f"name,tendon,channel,address\n{'a' * 30},insertional,sms,{cell}\n"

    try:
        found = read_list(text, ("en",), region, frozenset())[0].address
    except ListError:
        found = None

    assert found == number
