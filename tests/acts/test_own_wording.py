"""A clinic's own wording, and a clinic in Spanish: read, checked, listed and sent."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from acts.typing_commands import Ended, typed
from world import CLINIC_TABLE

from bot.clinic import Clinic
from bot.commands.serve import problems_of
from bot.patient_record.say import words_of
from bot.settings import clinic_of, read_settings
from dialogs.samples import NOW
from dialogs.turn import Said, Situation

CONFIG = (
    CLINIC_TABLE
    + """\
language = "{language}"

[wording]
folder = "{folder}"

[store]
path = "{store}"
"""
)


class Folder:
    """A clinic's configuration with a folder of its own messages."""

    def __init__(self, base: Path, language: str = "en") -> None:
        self.own = base / "our-wording"
        self.own.mkdir()
        self.config = base / "clinic.toml"
        text = CONFIG.format(language=language, folder=self.own, store=base / "store.sqlite")
        self.config.write_text(text, encoding="utf-8")

    def says(self, name: str, text: str) -> Folder:
        """The clinic words a message itself. name: with its language, such as "en/skipped"."""
        language, _, key = name.partition("/")
        file = self.own / language / "ours.toml"
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(f"{key} = {json.dumps(text, ensure_ascii=False)}\n", encoding="utf-8")
        return self

    @property
    def problems(self) -> list[str]:
        """What `serve --check` says about the wording."""
        found = problems_of(read_settings(self.config))
        return [problem for problem in found if "our-wording" in problem]

    @property
    def clinic(self) -> Clinic:
        """The clinic as it runs."""
        return clinic_of(read_settings(self.config))


WRONG = {
    "an unknown name": ("en/skiped", "Fine.", "there is no message of this name"),
    "a broken template": ("en/skipped", "Fine {% if", "cannot be read"),
    "a value it is never given": ("en/skipped", "Fine, {{ pain }}.", "asks for pain"),
    "a value that may be missing": (
        "en/advice.week-worse-than-last", "Pain is {{ pain_mean }} now.", "cannot be read",
    ),
    "a letter no text message has": ("es/skipped", "Vale \U0001f642", "plain alphabet"),
    "an unknown language": ("fr/skipped", "Bien.", "expected a folder for each language"),
    "over one part": (
        "en/question.first-step-pain.short",
        "How much did your very first steps of this morning hurt, from bed to bath, in points from "
        "0 to 10, on the side that is worse if there are two?",
        "over one segment",
    ),
}  # fmt: skip


@pytest.mark.parametrize(("name", "text", "problem"), WRONG.values(), ids=WRONG)
def test_what_is_wrong_is_said_with_its_file(
    tmp_path: Path, name: str, text: str, problem: str
) -> None:
    """Each mistake is one sentence that names the file."""
    folder = Folder(tmp_path).says(name, text)

    found = folder.problems

    assert len(found) == 1
    assert problem in found[0]
    assert str(folder.own / name.partition("/")[0]) in found[0]


def test_a_missing_folder_is_said(tmp_path: Path) -> None:
    """A folder that is not there is named."""
    folder = Folder(tmp_path)
    folder.own.rmdir()

    assert folder.problems == [f"wording.folder: there is no folder {folder.own}"]


def test_accents_are_no_mistake(tmp_path: Path) -> None:
    """Spanish is written with its accents; plain letters are made of them for SMS."""
    folder = Folder(tmp_path).says("es/skipped", "Está bien, así lo dejamos. «Más» mañana.")

    assert folder.problems == []


def test_own_words_are_sent_in_their_language_only(tmp_path: Path) -> None:
    """The clinic's wording stands in for one message of one language, and for no other."""
    clinic = Folder(tmp_path).says("es/skipped", "Vale, {{ name }}.").clinic
    spanish = Situation(now=NOW, language="es", patient_name="Ana")
    english = Situation(now=NOW, patient_name="Ana")

    assert words_of(clinic, Said("skipped"), spanish) == "Vale, Ana."
    assert words_of(clinic, Said("skipped"), english).startswith("That is fine")
    assert words_of(clinic, Said("noted"), spanish) == "Lo tengo, gracias."


def test_a_spanish_clinic_looks_for_signs_in_spanish(tmp_path: Path) -> None:
    """Screening follows the patient's language, which may be another than the clinic's."""
    clinic = Folder(tmp_path, language="es").clinic

    assert clinic.language == "es"
    assert clinic.lexicon.sign("lung-clot").closed_question.startswith("\u00bf")
    assert clinic.lexicon_in("en").sign("lung-clot").closed_question.startswith("Do you")


def listed(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], *words: str
) -> Ended:
    """What `nextmorning wording` prints."""
    return typed(monkeypatch, capsys, "wording", *words)


def test_the_list_shows_each_message_with_its_size(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Name, encoding, units and parts, and the text below; one language where one is asked for."""
    ended = listed(monkeypatch, capsys, "--list", "--language", "es")

    assert ended.status == 0
    assert "es/noted  GSM-7, 18 units, 1 part\n    Lo tengo, gracias." in ended.out
    assert "en/" not in ended.out
    assert "UCS-2" not in ended.out


def test_changed_shows_only_the_clinics_own(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """What the clinic words itself is marked, and nothing else is shown."""
    folder = Folder(tmp_path).says("es/skipped", "Vale, {{ name }}.")

    ended = listed(monkeypatch, capsys, "--changed", "--config", str(folder.config))

    assert "es/skipped  GSM-7, 10 units, 1 part, own\n    Vale, Ana." in ended.out
    assert ended.out.count(" GSM-7, ") == 1


def test_an_unknown_language_is_refused(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A language that does not ship is named, with those that do."""
    ended = listed(monkeypatch, capsys, "--language", "fr")

    assert ended.status == 2
    assert "en, es" in ended.err
