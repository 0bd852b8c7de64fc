"""Shows the clinic what patients wrote and nothing was made of: once a working day, with the list.

Nothing has to be taken or closed; each message is shown once, as it was written. What worries is
not left for this: a warning sign was found or asked about when it came, and a patient who says it
is urgent is heard at once. Read next: `send_daily_lists`.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from bot.clinic import Clinic
from bot.escalations.rota import next_list_at, rota
from bot.patient_record.record import PatientRecord
from bot.patient_record.say import situation_at, words_of
from bot.store import inbox, outbox, people, sign_questions
from bot.store.database import Store
from bot.store.inbox import UnreadWords
from bot.store.outbox import Draft, Urgency
from bot.store.people import Person
from dialogs.lines import line
from dialogs.turn import Said, Situation, Value

# How far back one patient's words are shown when they are asked for [days]. Convention.
WORDS_DAYS = 28

# Messages shown at once [count, at most]; the rest follow the next day. Convention.
SHOWN_MAX = 30


def show_words(store: Store, clinic: Clinic, now: datetime) -> None:
    """Send the words that are due to whoever is on duty first; with nobody to tell, they wait."""
    hours = clinic.pace.working_hours
    due = [words for words in inbox.unshown(store) if next_list_at(words.received_at, hours) <= now]
    on_call = [one for one in rota(store, clinic, now) if one.channels] if due else []
    if not on_call:
        return
    reader = next((one for one in on_call if one.on_duty), on_call[0])
    person = people.person(store, int(reader.clinician))
    situation = situation_at(clinic, person.language, now)
    shown = due[:SHOWN_MAX]
    lines = [_line(store, clinic, words, situation) for words in shown]
    values: dict[str, Value] = {
        "lines": "\n".join(lines),
        "count": len(lines),
        "more": len(due) - len(shown),
    }
    text = words_of(clinic, Said("clinician/words", values), situation)
    outbox.write(store, Draft(person.id, text, Urgency.REPLY), now)
    for words in shown:
        inbox.mark_shown(store, words.id, now)


def words_lines(case: PatientRecord, reader: Person) -> list[str]:
    """The latest words of one patient that nothing was made of, oldest first. They count as
    shown."""
    unread = inbox.unread_since(case.store, case.patient.id, case.now - timedelta(days=WORDS_DAYS))
    situation = situation_at(case.clinic, reader.language, case.now)
    for words in unread:
        inbox.mark_shown(case.store, words.id, case.now)
    lines = [_line(case.store, case.clinic, words, situation) for words in unread[-SHOWN_MAX:]]
    return lines or [line("no-words", reader.language, days=WORDS_DAYS)]


def _line(store: Store, clinic: Clinic, words: UnreadWords, situation: Situation) -> str:
    values: dict[str, Value] = {
        "patient": people.person(store, words.person).name,
        "at": words.received_at.astimezone(clinic.zone_info),
        "wrote": " ".join(words.text.split()),
        "asked": _denied(store, clinic, words.id),
    }
    return words_of(clinic, Said("clinician/words-line", values), situation)


def _denied(store: Store, clinic: Clinic, message: int) -> str:
    """The closed questions that the words led to, each with its no; empty where there was none."""
    signs = [clinic.lexicon.sign(key) for key in sign_questions.denied(store, message)]
    asked = (line("asked-no", clinic.language, question=one.asked) for one in signs)
    return " ".join(asked)
