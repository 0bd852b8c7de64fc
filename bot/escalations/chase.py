"""Chases what nobody has acknowledged, and closed questions nobody has answered.

A matter whose holder has left the clinic is chased again. Every wait is a row with a due time, so
a restart forgets none. Read next: `notify`, `list_matters`.
"""

from __future__ import annotations

from datetime import datetime

from bot.clinic import Clinic
from bot.escalations.daily_list import list_matters
from bot.escalations.notify import notify
from bot.escalations.open import raise_concern
from bot.escalations.unreached import tell_unreached
from bot.escalations.unread_list import show_words
from bot.store import escalations, people, sign_questions
from bot.store.database import Store
from dialogs.lines import line
from rules.escalation import raise_one_tier
from rules.screening import SEVERE_PAIN, tier_asked


def chase(store: Store, clinic: Clinic, now: datetime) -> int:
    """Take every step that is due; gives how many matters were looked at."""
    for question in sign_questions.overdue(store, now):
        _escalate_unanswered(store, clinic, question, now)
    for number in escalations.without_holder(store):
        escalations.give_back(store, number, "whoever had it has left", now)
    due = escalations.due(store, now)
    for number in due:
        notify(store, clinic, number, now)
    list_matters(store, clinic, now)
    tell_unreached(store, clinic, now)
    show_words(store, clinic, now)
    return len(due)


def _escalate_unanswered(
    store: Store, clinic: Clinic, question: sign_questions.SignQuestion, now: datetime
) -> None:
    """Silence is not a no: the matter goes to a clinician one tier more urgent. Where the same
    message has raised a matter already, the silence joins it; but not where that was a very high
    pain, which says nothing of what it is part of."""
    patient = people.person(store, question.patient)
    sign_questions.settle(store, patient.id, question.sign, "not answered", now)
    asked = clinic.lexicon.sign(question.sign).closed_question
    silence = line("no-reply", clinic.language, question=asked)
    for raised in escalations.of_patient(store, patient.id):
        same = raised.message is not None and raised.message == question.message
        if same and raised.sign != SEVERE_PAIN:
            escalations.add_words(store, raised.id, "", now, silence)
            return
    lexicon = clinic.lexicon_in(patient.language)
    raise_concern(
        store,
        patient,
        sign=question.sign,
        tier=raise_one_tier(tier_asked(question.sign, question.words, lexicon)),
        words=question.words,
        now=now,
        remarks=silence,
        message=question.message,
    )
