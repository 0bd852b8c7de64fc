"""Turns what a dialog says into an outbox row: rendered text, buttons with payloads."""

from __future__ import annotations

from datetime import datetime

from bot.clinic import Clinic
from bot.ports import Button
from bot.store import outbox
from bot.store.database import Store
from bot.store.outbox import Draft, Urgency
from dialogs.memory import payload
from dialogs.rendering import render
from dialogs.turn import Said, Situation


def say(
    store: Store,
    clinic: Clinic,
    person: int,
    said: Said,
    situation: Situation,
    urgency: Urgency,
    now: datetime,
    *,
    once_key: str | None = None,
    prompt: int | None = None,
    expires_at: datetime | None = None,
    picture: int | None = None,
) -> int | None:
    """Write one message to a person; None if it was written before or nobody can be reached.

    picture: the number of a kept picture, shown where the channel shows pictures.
    """
    draft = Draft(
        person=person,
        text=words_of(clinic, said, situation),
        urgency=urgency,
        choices=tuple(
            tuple(Button(choice.label, payload(choice.asked, choice.answer)) for choice in row)
            for row in said.choices
        ),
        once_key=once_key,
        prompt=prompt,
        expires_at=expires_at,
        picture=picture,
    )
    return outbox.write(store, draft, now)


def words_of(clinic: Clinic, said: Said, situation: Situation) -> str:
    """The text alone, in the clinic's own wording where it has one."""
    return render(said, situation, overrides=clinic.wording_in(situation.language))
