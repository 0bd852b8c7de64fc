"""What a change may touch: a question is a row and an entry a language, a language is a folder.

Each change is made in a copy of the house, which then lives a day by itself.
"""

from __future__ import annotations

from pathlib import Path

from promises.changed_copy import Copy

SIGNS = "rules/warning_signs"

A_ROW = """\
    CALF_TIGHTNESS = "calf-tightness", Row(
        Kind.SCALE, "session", quantity=Effort, highest=10, column="calf_tightness",
        title="How tight the calf felt in the evening, 0-10", report="Calf tightness, mean")
"""
ENTRIES = {
    "en": ("How tight is your calf this evening, 0-10?", "calf tightness"),
    "es": ("¿Qué tensión notas en la pantorrilla esta tarde, 0-10?", "tensión"),
}


def test_a_question_is_a_row_and_an_entry_a_language(tmp_path: Path) -> None:
    """It is asked, read, asked again, corrected, kept, exported, replayed and reported."""
    house = Copy(tmp_path)
    house.puts("dialogs/questions.py", A_ROW, before='    ACTIVITY_EFFORT = "activity-effort"')
    for language, (ask, name) in ENTRIES.items():
        entry = f'[question.calf-tightness]\nask = "{ask}"\nname = "{name}"\n\n'
        file = f"dialogs/wording/{language}/asking.toml"
        house.puts(file, entry, before="[question.activity-effort]")

    told = house.runs("one_more_question.py")

    english, spanish = (ask for ask, _ in ENTRIES.values())
    assert told["said"][1] == [english]
    assert told["said"][2] == [f"Sorry, I could not read that. {english} Reply like: 3"]
    assert told["said"][3][0].startswith("That was your session for today")
    assert told["corrected"][0] == "Changed: calf tightness is now 5."
    assert told["spanish"] == [spanish]
    assert told["answers"] == [5]
    assert "calf_tightness" in told["diary"].partition("\n")[0].split(",")
    assert told["read again"] == [{"calf_tightness": 5}]
    assert sorted(told["observed"]) == [4, 5]
    assert '<td data-head="Calf tightness, mean">5.0 (1)</td>' in told["weeks"]
    assert len(house.touched) == 1 + len(ENTRIES)


def test_a_language_is_a_folder_and_its_words_of_warning_signs(tmp_path: Path) -> None:
    """Enrolment, a morning, an alarm and the menu in a third language, and no Python touched."""
    house = Copy(tmp_path)
    house.copies("dialogs/wording/es", "dialogs/wording/pt")
    house.copies(f"{SIGNS}/labelled/es", f"{SIGNS}/labelled/pt")
    for file in sorted((tmp_path / SIGNS).glob("es*")):
        house.copies(f"{SIGNS}/{file.name}", f"{SIGNS}/pt{file.name[2:]}")
    house.replaces("dialogs/wording/pt/asking.toml", "Buenos días", "Bom dia")
    house.replaces("dialogs/wording/pt/words.toml", 'yes = ["', 'yes = ["sim", "')
    house.replaces("dialogs/wording/pt/alarms.toml", "Por favor, que te vea un médico hoy",
                   "Por favor, seja visto por um médico hoje")  # fmt: skip

    told = house.runs("one_more_language.py")

    assert told["languages"] == ["en", "es", "pt"]
    assert told["prompt"][-1].startswith("Bom dia, Ana. 1)")
    assert told["answered"][0].startswith(
        "Hoy haz tu primera sesión: Elevación mantenida con dos piernas"
    )
    assert told["alarmed"][0].startswith("Por favor, seja visto por um médico hoje")
    assert "swollen, tender or warm calf" in told["told"][0]
    assert told["menu"][0] == ["listo", "He hecho mi sesión"]
    assert told["problems"] == []
    assert {Path(file).parts[:2] for file in house.touched} == {
        ("dialogs", "wording"), ("rules", "warning_signs"),
    }  # fmt: skip
    assert not any(file.endswith(".py") for file in house.touched)
