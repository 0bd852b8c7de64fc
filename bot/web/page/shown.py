"""What a form of the page is answered."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from bot.patient_record.say import Buttons


@dataclass(frozen=True)
class Letter:
    """What one patient is handed. `number`: the telephone to text it to, empty for none."""

    patient: str
    words: str
    number: str


@dataclass(frozen=True)
class Shown:
    """The bot's reply, word for word, with its buttons. `asked`: as it could be typed in chat.
    `problems`: what was wrong, a sentence each, with the fields as they were sent (`kept`).
    `letters`: what was made to be handed over."""

    asked: str
    words: str
    buttons: Buttons = ()
    problems: tuple[str, ...] = ()
    kept: Mapping[str, str] = field(default_factory=dict)
    letters: tuple[Letter, ...] = ()
