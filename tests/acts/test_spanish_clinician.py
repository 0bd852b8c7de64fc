"""A clinician who reads Spanish reads Spanish throughout: a walk through all that reaches them."""

from __future__ import annotations

import re
from collections.abc import AsyncIterator
from dataclasses import replace
from datetime import time, timedelta
from pathlib import Path
from string import Formatter
from typing import Any

import pytest
from world import Voice, World, world_at

from bot.clinicians.invite import invite_staff
from bot.escalations.open import UNREACHABLE, raise_escalation
from bot.patients.recycled_number import SIGN as HELD
from bot.patients.warning_signs import SAYS_URGENT
from bot.rehearsal.clinic import made_up_clinic
from bot.store import people
from bot.store.people import Role
from dialogs.catalogues import languages, tables
from dialogs.lines import line, word_for
from rules.alerts import AlertKey
from rules.history import Tier
from rules.lexicon import shipped_lexicon
from rules.reasons import Action, Reason

CLINIC = replace(
    made_up_clinic(),
    language="es",
    crisis_line="la línea de crisis en el 020 7946 0199",
    digest_on=1,
    digest_at=time(8, 30),
)

WORRY = "tengo la pantorrilla muy hinchada y caliente desde ayer, me duele al tocarla"

# English words that would show at once what was left; none is a Spanish one.
ENGLISH = re.compile(
    r"\b(the|and|since|has|have|had|nobody|level|dose|open|answered|answer|mornings?|last|days?"
    r"|said|told|was|wrote|reply|pain|message|today|not|you|is|of|hold|step|rest|usual|advice"
    r"|closed|raised|acknowledged|seen|spoke|worrying|waiting|named|expected|found|there|only"
    r"|may|must|are|to|for|with|week|silent|advanced|swollen|calf|asks|sent|stop|back|nothing"
    r"|paused|until|enrolled|yet|also|owner|clinician|patients?|emergency|next|working)\b",
    re.IGNORECASE,
)

# Names of commands of the machine, and what channels are called.
NAMES = re.compile(r"nextmorning [a-z-]+|/start|on chat|chat")


@pytest.fixture
async def clinica(tmp_path: Path) -> AsyncIterator[World]:
    """A clinic that speaks Spanish and wants its week on Tuesdays."""
    made = world_at(tmp_path / "clinica.sqlite", clinic=CLINIC)
    async with made.stage:
        yield made


async def joined(world: World, name: str, role: Role) -> Voice:
    """Somebody of the clinic who has sent their code."""
    code = await world.stage.run(invite_staff, role, name, "es", world.now)
    voice = Voice(world, name)
    await voice.says(f"/start {code}")
    return voice


async def patient(world: World, name: str) -> Voice:
    """A patient who has answered the first questions in Spanish."""
    voice, code = await world.invited(name)
    for text in (f"/start {code}", "sí", "Londres", "sí", "07:30", "izquierda", "2", "10"):
        await voice.says(text)
    return voice


async def told_about(world: World, name: str, sign: str) -> None:
    """Put a matter before the clinic that the bot raises by itself."""

    def work(store: Any) -> None:
        raise_escalation(
            store,
            people.patients_named(store, name)[0],
            sign=sign,
            tier=Tier.NEXT_WORKING_DAY,
            words="palabras",
            now=world.now,
            stops_loading=False,
        )

    await world.stage.run(work)


def english(texts: list[str]) -> list[str]:
    """English words in what somebody read, each with its text."""
    return [
        f"{found[0]}: {text}" for text in texts for found in ENGLISH.finditer(NAMES.sub("", text))
    ]


SAID = [
    "hola bot",
    "¿Quién me necesita?",
    "historia",
    "historia 1",
    "historia 99",
    "ver Ana",
    "ver Zoe",
    "ver Dora",
    "lo tengo",
    "lo tengo 99",
    "lo tengo 1",
    "lo tengo 1",
    "los tengo todos",
    "historia 1",
    "nota 1 todo bien",
    "cerrado 1 visto, pantorrilla blanda",
    "cerrado 1 descanso",
    "cerrado 1 descanso hasta el 5 de marzo",
    "sí",
    "cerrado 1 visto",
    "levantar Ana",
    "sí",
    "levantar Ana",
    "historia 1",
    "nivel Ana 2 1",
    "nivel Ana 40",
    "nivel Ana 2 99",
    "pausa Ana hasta el 3 de abril",
    "ver Ana",
    "¿Quién me necesita?",
    "seguir Ana",
    "saltos Ana sí",
    "alta Carla insercional",
    "alta Carla insercional",
    "readmitir Ana",
    "lo tengo 10",
    "cerrado 10 hablado",
    "historia 10",
    "historia",
]


async def test_everything_that_a_clinician_reads_is_spanish(clinica: World) -> None:
    """Alarm, answers, lists, histories, refusals, the week, the daily word; no word of English."""
    ines = await joined(clinica, "Ines", Role.LEAD_CLINICIAN)
    bruno = await joined(clinica, "Bruno", Role.CLINICIAN)
    ana = await patient(clinica, "Ana")
    bea = await patient(clinica, "Bea")
    await clinica.invited("Dora")
    for sign in (HELD, UNREACHABLE, SAYS_URGENT, *AlertKey):
        await told_about(clinica, "Bea", sign)
    await bea.says("borra mis datos")
    await bea.says("la luna verde canta al escalón")
    heard = [*ines.hears(), *bruno.hears()]
    await ana.says("2 10")
    await clinica.at("19:00")
    for text in ("3 7 3 4", "no 0"):
        await ana.says(text)
    await ana.says(WORRY)
    await clinica.at("20:40")
    await clinica.at("08:40")
    for text in SAID:
        heard += await ines.says(text)
    for text in ("BAJA", "ver Ana", "ALTA"):
        heard += await ines.says(text)
    for day in range(3):
        await clinica.at("09:00")
        heard += [*ines.hears(), *bruno.hears(), str(day)]
    heard += await bruno.says("¿Quién me necesita?")

    assert len(heard) > 50
    assert english(heard) == []


async def test_an_owner_reads_spanish(clinica: World) -> None:
    """Welcome, refusal, the daily word, and that nobody hears alarms."""
    oda = await joined(clinica, "Oda", Role.OWNER)
    ines = await joined(clinica, "Ines", Role.CLINICIAN)
    await patient(clinica, "Ana")
    heard = [*oda.hears()]

    for text in ("ver Ana", "nivel Ana 2", "hola", "lo tengo"):
        heard += await oda.says(text)
    await ines.says("BAJA")
    await clinica.goes_to(clinica.now + timedelta(days=1))
    heard += oda.hears()
    for text in ("BAJA", "hola", "ALTA"):
        heard += await oda.says(text)

    assert len(heard) >= 9
    assert english(heard) == []


def _fields(kept: Any) -> set[str]:
    forms = kept.values() if isinstance(kept, dict) else [kept]
    return {name for form in forms for _, name, _, _ in Formatter().parse(form) if name}


@pytest.mark.parametrize("name", ["lines", "charts"])
@pytest.mark.parametrize("language", languages())
def test_every_language_has_the_same_lines_with_the_same_values(language: str, name: str) -> None:
    """A line that lacks a value would leave something untold."""
    english_lines, own = tables("en", name)[name], tables(language, name)[name]

    assert own.keys() == english_lines.keys()
    assert {n: _fields(kept) for n, kept in own.items()} == {
        n: _fields(kept) for n, kept in english_lines.items()
    }


CODES = [
    *[("tier", tier.value) for tier in Tier],
    *[("action", action.value) for action in Action],
    *[("reason", reason.value) for reason in Reason],
    *[("sign", sign) for sign in (*shipped_lexicon("es").signs, *AlertKey)],
    *[("sign", sign) for sign in (HELD, UNREACHABLE, SAYS_URGENT, "opted-out", "not-handled")],
    *[("sign", sign) for sign in ("asks-for-a-person", "asks-for-erasure", "asks-for-a-copy")],
]


def test_every_code_has_its_spanish_words() -> None:
    """None is said as it stands in the store."""
    kept = tables("es", "lines")

    assert [one for one in CODES if one[1] not in kept[one[0]]] == []
    assert [one for one in CODES if word_for(*one, "es") == one[1]] == []


def test_a_code_without_words_is_said_with_spaces() -> None:
    """English codes are plain words already."""
    assert word_for("sign", "leg-clot", "en") == "leg clot"


def test_a_line_follows_the_plural_and_the_language() -> None:
    """One day, several days, and a decimal comma."""
    said = [line("silent", "es", count=count) for count in (1, 3)]

    assert said == ["sin respuesta desde hace 1 día", "sin respuesta desde hace 3 días"]
    assert line("varies", "es", by=1.25) == ", varía en 1,2"
