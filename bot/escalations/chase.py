"""Chases what nobody has acknowledged, and closed questions nobody has answered.

An escalation whose holder has left the clinic is chased again. Every wait is a row with a due
time, so a restart forgets none. Read next: `notify`, `send_daily_lists`.
"""

from __future__ import annotations

from datetime import datetime

from bot.clinic import Clinic
from bot.escalations.daily_list import send_daily_lists
from bot.escalations.notify import notify
from bot.escalations.unanswered import escalate_unanswered
from bot.escalations.unreached import tell_unreached
from bot.escalations.unread_list import show_words
from bot.store import escalations, sign_questions
from bot.store.database import Store


def chase(store: Store, clinic: Clinic, now: datetime) -> int:
    """Take every step that is due; gives how many escalations were looked at."""
    for question in sign_questions.overdue(store, now):
        escalate_unanswered(store, clinic, question, now)
    for number in escalations.without_holder(store):
        escalations.give_back(store, number, "whoever had it has left", now)
    due = escalations.due(store, now)
    for number in due:
        notify(store, clinic, number, now)
    send_daily_lists(store, clinic, now)
    tell_unreached(store, clinic, now)
    show_words(store, clinic, now)
    return len(due)
