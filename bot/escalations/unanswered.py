"""A closed question that nobody answered in time: silence is not a no.

Where a wording led to it, the clinician hears one tier more urgently and the patient gets the
sign's own advice. Where only a likeness did, it is same day at most and said as "may mean". The
patient is told whom to call. Read next: `open`.
"""

from __future__ import annotations

from datetime import datetime

from bot.clinic import Clinic
from bot.escalations.open import raise_escalation
from bot.patient_record.record import record_of
from bot.patient_record.say import Say, say
from bot.store import escalations, sign_questions
from bot.store.database import Store
from bot.store.outbox import Urgency
from bot.store.sign_questions import SignQuestion
from dialogs.advising import say_sign
from dialogs.lines import line
from dialogs.turn import Said
from rules.escalation import raise_one_tier
from rules.history import Tier
from rules.screening import SEVERE_PAIN, screen, tier_asked


def escalate_unanswered(
    store: Store, clinic: Clinic, question: SignQuestion, now: datetime
) -> None:
    """Where the same message has raised an escalation already, the silence joins it; but not where
    that was a very high pain, which says nothing of what it is part of."""
    record = record_of(store, clinic, question.patient, now)
    sign_questions.settle(store, question.patient, question.sign, "not answered", now)
    sign = clinic.lexicon.sign(question.sign)
    kind = "no-reply" if sign_questions.was_put(store, question) else "not-asked"
    remarks = line(kind, clinic.language, question=sign.asked)
    for raised in escalations.of_patient(store, question.patient):
        same = raised.message is not None and raised.message == question.message
        if same and raised.sign != SEVERE_PAIN:
            escalations.add_words(store, raised.id, "", now, remarks)
            return
    own = tier_asked(question.sign, question.words, record.lexicon)
    said = Said("not-answered")
    tier = raise_one_tier(own)
    if question.sign in screen(question.words, record.lexicon).asked_by_likeness:
        tier = max(own, Tier.SAME_DAY, key=lambda one: one.urgency)
        remarks = f"{line('may-mean', clinic.language, sign=sign.title)} {remarks}"
    elif question.told:
        said = say_sign(own, question.sign, record.situation())
    told = record.patient.opted_out_at is None
    raise_escalation(
        store,
        record.patient,
        sign=question.sign,
        tier=tier,
        words=question.words,
        remarks=remarks,
        now=now,
        message=question.message,
        told_patient=record.words(said) if told else "",
    )
    if told:
        once = f"not answered {question.message} {said.template}"
        say(record, Say(said, Urgency.SAFETY, once_key=once))
