"""Spanish: what a patient writes is read, what is said reads as Spanish, SMS in plain letters."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from datetime import date, time
from pathlib import Path

import pytest
from talks.talking import RAISES, SITUATION, TODAY, Conversation

import dialogs
from dialogs.advising import (
    DayNumbers,
    EscalationNotice,
    numbers_line,
    say_advice,
    say_escalation,
    say_plan_changed,
)
from dialogs.clinician import read_command
from dialogs.clinician_commands import (
    Acknowledge,
    AllowHops,
    CloseEscalation,
    Command,
    Done,
    Enrol,
    LiftStop,
    ListNeeds,
    Outcome,
    PausePatient,
    ResumePatient,
    SetLevel,
    ShowPatient,
)
from dialogs.reading import command
from dialogs.reading_places import read_place
from dialogs.reading_times import read_time, read_until
from dialogs.rendering import day, day_word, gsm, instant, number, plural, render, segments
from dialogs.turn import Answer, Enrolled, OptedOut, Question
from dialogs.wishes import PersonAsked
from dialogs.words import shipped_words
from rules.history import Tier
from rules.protocol import Position, Tendon
from rules.protocol_reader import shipped_protocol
from rules.reasons import Action, Advice, Finding, Reason

WORDS = shipped_words("es")
SPANISH = replace(SITUATION, language="es")
MORNING = (Question.FIRST_STEP_PAIN, Question.STIFFNESS)


def talk() -> Conversation:
    """A conversation in Spanish."""
    return Conversation(situation=SPANISH)


KEYWORDS = {
    "PARAR": "stop", "Alto": "stop", "BAJA": "stop", "stop": "stop", "Darme de baja.": "stop",
    "ALTA": "start", "AYUDA": "help", "¿Quién eres?": "help", "LISTO": "done", "¡Hecho!": "done",
    "ya terminé": "done", "ya termine": "done", "SALTAR": "skip", "pausa": "pause",
    "Seguir": "resume", "¿Por qué?": "why", "por que": "why", "PLAN": "plan",
    "¿qué hago hoy?": "plan", "Hablar con alguien": "person", "gracias": "thanks",
    "Buenos días": "hello",
}  # fmt: skip


@pytest.mark.parametrize(("text", "meaning"), KEYWORDS.items())
def test_a_keyword_is_understood(text: str, meaning: str) -> None:
    """Keywords are read with and without accents, capitals and turned marks."""
    found = command(text, WORDS)

    assert found == meaning


NO_KEYWORDS = [
    "¿debo parar?", "paré después de 2 series", "al fin del día me dolió 4", "dolor alto",
    "cancela el martes", "la hinchazón baja",
]  # fmt: skip


@pytest.mark.parametrize("text", NO_KEYWORDS)
def test_a_keyword_inside_a_sentence_is_none(text: str) -> None:
    """An opt-out word counts only as the whole message."""
    found = command(text, WORDS)

    assert found == ""


# What is written to "pain and stiffness this morning", and the two numbers it means.
REPLIES = {
    "a decimal comma, for else there are too many": ("2,5 10", 3, 10),
    "two numbers": ("3 10", 3, 10),
    "with y": ("3 y 10 minutos", 3, 10),
    "number words": ("tres y diez", 3, 10),
    "labels the other way round": ("rigidez 10 dolor 3", 3, 10),
    "half an hour": ("3 y media hora", 3, 30),
    "an hour and a half": ("4, hora y media", 4, 90),
    "an hour": ("5 1h", 5, 60),
    "nought in words": ("cero y cero", 0, 0),
    "out of ten": ("3 sobre 10, 20 min", 3, 20),
    "a range": ("de 2 a 3, 10 min", 3, 10),
}


@pytest.mark.parametrize(("text", "pain", "minutes"), REPLIES.values(), ids=REPLIES)
def test_a_morning_reply_is_read(text: str, pain: int, minutes: int) -> None:
    """Numbers in figures and words, in either order, with what people write around them."""
    heard = talk().prompt("morning", *MORNING).says(text)

    assert heard.answers == {"first-step-pain": pain, "stiffness": minutes}


UNREAD = {
    "over the scale": "15 10",
    "no number": "no muy bien hoy la verdad",
}


@pytest.mark.parametrize("text", UNREAD.values(), ids=UNREAD)
def test_what_may_mean_two_things_is_asked_about(text: str) -> None:
    """Nothing is guessed: the question is put again."""
    heard = talk().prompt("morning", *MORNING).says(text)

    assert heard.answers == {}
    assert "first-step-pain" in heard.waits_for


def test_a_correction_is_read() -> None:
    """Perdon and a number replace the answer before, and are said back."""
    heard = talk().prompt("morning", *MORNING).says("3 10").says("perdón, 4 10")

    assert heard.answers == {"first-step-pain": 4, "stiffness": 10}
    assert "Cambiado: dolor de los primeros pasos es ahora 4." in heard.hears


def test_a_whole_session_report() -> None:
    """Done, sets and pains, effort, painkiller and activity, each in its own words."""
    heard = talk().says("listo")
    heard.says("todas 2 1 4")
    first = dict(heard.answers)
    heard.says("no, media hora")

    assert first == {"sets-done": 3, "pain-during": 2, "pain-after": 1, "effort": 4}
    assert heard.answers == {"painkiller": 0, "activity-minutes": 30}


def test_enrolment_from_consent_to_welcome() -> None:
    """A patient is enrolled in Spanish, with the city under its Spanish name."""
    heard = talk().knows(enrolled=False)
    heard.says("alta").says("Sí").says("Nueva York").says("sí").says("las 7 y media")
    heard.says("izquierda").says("3").says("media hora").says("bailar en la boda")

    enrolled, goal = heard.recorded
    assert enrolled == Enrolled("America/New_York", time(7, 30), "left", 3, 30)
    assert goal == Answer(Question.GOAL, TODAY, "bailar en la boda")
    assert "a las 07:30" in heard.hears


PLACES = {
    "its Spanish name": ("Londres", "Europe/London"),
    "an accent": ("Bogotá", "America/Bogota"),
    "an article of its own": ("La Habana", "America/Havana"),
    "a country with an accent": ("Perú", "America/Lima"),
    "from the list": ("Sevilla", "Europe/Madrid"),
    "mistyped": ("Montevidoe", "America/Montevideo"),
}


@pytest.mark.parametrize(("text", "zone"), PLACES.values(), ids=PLACES)
def test_a_place_is_found(text: str, zone: str) -> None:
    """Cities and countries are known by their Spanish names."""
    found = read_place(text, WORDS)

    assert found is not None
    assert found.zone == zone


TIMES = {
    "7": time(7), "7:30": time(7, 30), "a las 7": time(7), "las siete y media": time(7, 30),
    "7 y cuarto": time(7, 15), "ocho menos cuarto": time(7, 45), "7 de la mañana": time(7),
    "9 de la noche": None,
}  # fmt: skip


@pytest.mark.parametrize(("text", "clock"), TIMES.items())
def test_a_time_is_read(text: str, clock: time | None) -> None:
    """Clock times as people say them."""
    found = read_time(text, WORDS)

    assert found == clock


UNTIL = {
    "una semana": date(2026, 3, 10), "10 días": date(2026, 3, 13), "2 semanas": date(2026, 3, 17),
    "hasta el 3 de mayo": date(2026, 5, 3), "hasta el lunes": date(2026, 3, 9),
    "hasta el miércoles": date(2026, 3, 11), "hasta mañana": date(2026, 3, 5),
    "hasta ayer": None,
}  # fmt: skip


@pytest.mark.parametrize(("text", "on"), UNTIL.items())
def test_the_end_of_a_pause_is_read(text: str, on: date | None) -> None:
    """Spans, weekdays and dates."""
    found = read_until(text, TODAY, WORDS)

    assert found == on


def test_stop_and_a_wish_to_talk() -> None:
    """Opting out and asking for a person are recorded as in English."""
    left = talk().says("BAJA")
    person = talk().says("quiero hablar con alguien")

    assert OptedOut() in left.recorded
    assert PersonAsked() in person.recorded


COMMANDS: Mapping[str, Command] = {
    "Lo tengo": Acknowledge(),
    "LO TENGO 12": Acknowledge(12),
    "i have it 12": Acknowledge(12),
    "cerrado 12 visto": CloseEscalation(12, done=Done.SEEN),
    "cerrado 12 sin importancia, nada nuevo": CloseEscalation(
        12, Outcome.NOT_WORRYING, "nada nuevo"
    ),
    "cerrado 12 derivado, sin preguntas": CloseEscalation(
        12, Outcome.SENT_ON, "sin preguntas", questions=False
    ),
    "levantar Ana": LiftStop("Ana"),
    "alta Ana insercional +44 7700 900101": Enrol(
        "Ana", Tendon.INSERTIONAL, "sms", "+447700900101"
    ),
    "alta Ana María porción media": Enrol("Ana María", Tendon.MID_PORTION),
    "nivel Ana 2 1": SetLevel("Ana", 2, 1),
    "Nivel Ana María a nivel 5 dosis 2": SetLevel("Ana María", 5, 2),
    "pausa Ana de la Cruz hasta el 3 de mayo": PausePatient("Ana de la Cruz", date(2026, 5, 3)),
    "seguir Ana": ResumePatient("Ana"),
    "saltos Ana sí": AllowHops("Ana", True),
    "¿Quién me necesita?": ListNeeds(),
    "ver Ana": ShowPatient("Ana"),
}


@pytest.mark.parametrize(("text", "meant"), COMMANDS.items())
def test_a_clinician_is_understood(text: str, meant: Command) -> None:
    """Each command with the names as they were written."""
    found = read_command(text, today=TODAY, words=WORDS)

    assert found == meant


def test_what_is_kept_for_the_clinician_keeps_its_accents() -> None:
    """Words beside an answer reach the clinician as Spanish: an accent may change a word."""
    heard = talk().prompt("morning", *MORNING).says("3 10 pero hace un año me caí")

    kept = " ".join(str(recorded) for recorded in heard.recorded)
    assert "hace un año me caí" in kept


def test_plurals_of_a_language_with_more_forms() -> None:
    """A language with more forms than two needs no new code; rules of CLDR for Polish."""
    forms = {"one": "dzien", "few": "dni (2-4)", "many": "dni (5)", "other": "dnia"}

    found = [plural(count, "pl", **forms) for count in (1, 3, 5)]

    assert found == ["dzien", "dni (2-4)", "dni (5)"]


def test_numbers_and_days_in_words() -> None:
    """A decimal comma, and days as they are said."""
    when = SITUATION.now

    assert number(2.5, "es") == "2,5"
    assert number(3.0, "es") == "3"
    assert day("2026-05-04", "es") == "lunes 4 de mayo"
    assert day_word("2026-03-03", TODAY, language="es") == "ayer"
    assert day_word("2026-03-05", TODAY, ahead=True, language="es") == "mañana"
    assert instant(when, "es") == "mié 04 mar 08:00"


def test_a_session_is_said_in_spanish() -> None:
    """Level, exercise and tempo of a shipped protocol are translated; a clinic's own stand."""
    own = replace(RAISES, level=replace(RAISES.level, name="mi ejercicio"))

    shipped = render(say_plan_changed(RAISES, SPANISH), SPANISH)
    theirs = render(say_plan_changed(own, SPANISH), SPANISH)

    assert "Elevación con una pierna, 3 series de 12" in shipped
    assert "2 segundos para subir" in shipped
    assert "Mi ejercicio, 3 series de 12" in theirs


def test_a_step_back_names_the_lower_session_in_spanish() -> None:
    """The dose line is in the patient's language too."""
    evidence = {"next_day_pain": 6, "limit": 4, "session_on": "2026-03-02"}
    finding = Finding(Action.STEP_BACK, Reason.NEXT_DAY_OVER_LIMIT, evidence)
    advice = Advice(TODAY, finding, (), Position(2, 3), Position(1, 1))

    text = render(say_advice(advice, shipped_protocol("mid-portion-ladder"), SPANISH), SPANISH)

    assert "baja un paso: elevación mantenida con dos piernas, 3 x 40 s." in text


def test_a_notice_to_a_clinician_is_in_spanish() -> None:
    """Tier, time and numbers of an escalation are Spanish."""
    notice = EscalationNotice(
        number=12,
        patient="Ana",
        tier=Tier.SAME_DAY,
        title="pantorrilla hinchada",
        wrote="me duele",
        since=SITUATION.now,
        numbers=numbers_line((DayNumbers(TODAY, 3, 10, 4, 2),), "es"),
    )

    text = render(say_escalation(notice), SPANISH)

    assert text.startswith("HOY MISMO. Ana: pantorrilla hinchada.")
    assert "mié 04 mar 08:00" in text
    assert "mié mañana 3, rigidez 10 min sesión 4, después 2" in text


PLAIN_LETTERS = {
    "dropped accents": ("Pásame más, aquí, última", "Pasame mas, aqui, ultima"),
    "what the alphabet has": ("¿Mañana? ¡Sí! é ü ñ à Ñ", "¿Mañana? ¡Si! é ü ñ à Ñ"),
    "curly double quotes and a dash": ("\u201chola\u201d \u2014", '"hola" -'),
    "a cedilla": ("Gonçalo", "Goncalo"),
    "another script stays": ("Иван", "Иван"),
}  # fmt: skip


@pytest.mark.parametrize(("text", "expected"), PLAIN_LETTERS.values(), ids=PLAIN_LETTERS)
def test_plain_letters_for_sms(text: str, expected: str) -> None:
    """Accents that the SMS alphabet lacks are dropped; what has no plain form stays."""
    found = gsm(text)

    assert found == expected


WORDING = Path(dialogs.__file__).parent / "wording/es"
TO_PATIENTS = (
    "advice", "alarms", "answers", "asked", "asking", "enrolment", "leaving", "pictures",
    "preferences", "tips",
)  # fmt: skip

# Words that are others without their accent, from memory: "this", "cost", "late", "serious".
# "MAS" and, in capitals or beside "no", "SI" are read as what they are meant to be.
OTHER_WORDS = re.compile(
    r"\b(est[áÁ]s?|están|estaba|tú|mí|aún|costó|tardó|sería|cálculo|tomó|pasó|sí(?! o no))\b",
    re.IGNORECASE,
)


@pytest.mark.parametrize("catalogue", TO_PATIENTS)
def test_no_word_is_another_one_without_its_accent(catalogue: str) -> None:
    """In SMS "está" would be "esta" and "costó" "costo": patients read other words."""
    texts = (WORDING / f"{catalogue}.toml").read_text(encoding="utf-8")

    found = [match[0] for match in OTHER_WORDS.finditer(texts) if match[0] not in ("SÍ", "Sí")]

    assert found == []


def test_plain_letters_more_than_double_what_fits() -> None:
    """160 letters fit where accents would leave room for 70."""
    text = "Dos días después del próximo miércoles, " * 4

    plain_count, accented = segments(gsm(text)), segments(text)

    assert (plain_count.encoding, plain_count.count) == ("GSM-7", 1)
    assert (accented.encoding, accented.count) == ("UCS-2", 3)
