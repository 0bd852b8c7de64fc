"""Raises what the numbers alone say to a clinician: silence, two steps back, no progress."""

from __future__ import annotations

from dataclasses import replace

from bot.escalations.open import raise_escalation
from bot.patient_record.record import PatientRecord
from bot.patient_record.say import words_of
from bot.store import escalations
from dialogs.alerting import say_alert
from rules.alerts import AlertKey, alerts, is_due

# Alerts that stop loading until a clinician answers; the others only tell. Convention.
STOPPING = frozenset({AlertKey.STEPPED_BACK_TWICE})

# A very high pain is raised by the screen the moment it is answered, with closed questions.
RAISED_ELSEWHERE = frozenset({AlertKey.PAIN_VERY_HIGH})


def raise_alerts(case: PatientRecord) -> None:
    """Raise each alert that applies today, each occurrence once, a notice once in weeks."""
    if case.episode.enrolled_on is None or case.episode.discharged:
        return
    if case.patient.opted_out_at is not None:
        return
    situation = replace(case.situation(), language=case.clinic.language)
    told_on = {
        one.sign: one.raised_at.astimezone(case.local_now.tzinfo).date()
        for one in escalations.of_patient(case.store, case.patient.id)
    }
    for alert in alerts(case.history, case.protocol, case.today):
        told = told_on.get(alert.key)
        if alert.key in RAISED_ELSEWHERE or not is_due(alert, told, case.protocol, case.today):
            continue
        raise_escalation(
            case.store,
            case.patient,
            sign=alert.key,
            tier=alert.tier,
            words=words_of(case.clinic, say_alert(alert, situation), situation),
            now=case.now,
            stops_loading=alert.key in STOPPING,
            once_key=f"{alert.key} {case.patient.id} {alert.since}",
        )
