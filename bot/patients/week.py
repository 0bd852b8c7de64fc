"""Shows a patient their week, unasked: one picture where the channel has them, one true sentence.

One message a week, once; in the twelfth week it sums the twelve up. Read next: `dialogs.journey`.
"""

from __future__ import annotations

from bot.charts.message_images import weeks_picture
from bot.patient_record.record import PatientRecord
from bot.patient_record.say import Say, say
from bot.store import prompts
from bot.store.outbox import Urgency
from bot.store.prompts import Prompt
from dialogs.journey import say_week
from dialogs.progress import MORNINGS_MIN
from rules.history import Tier
from rules.usual import week_to


def why_no_week(record: PatientRecord) -> str | None:
    """Why the week is not shown, or None: it would be no true picture, or beside what is worse."""
    if week_to(record.history, record.today, None).pain.count < MORNINGS_MIN:
        return "too few answers"
    worrying = any(one.tier is not Tier.NEXT_WORKING_DAY for one in record.not_closed)
    stopped = record.held in ("stopped", "asked")
    return "something worrying is open" if worrying or stopped else record.held or None


def show_week(record: PatientRecord, prompt: Prompt) -> None:
    """Put the week in line, and mark the prompt as written."""
    picture = weeks_picture(record)
    said = say_week(
        record.history, record.protocol, record.situation(), record.goal, drawn=picture is not None
    )
    message = Say(
        said,
        Urgency.PROMPT,
        once_key=f"prompt {prompt.id}",
        prompt=prompt.id,
        expires_at=prompt.expires_at,
        picture=None if picture is None else picture[0],
    )
    say(record, message)
    prompts.written(record.store, prompt.id, record.now)
