"""A refusal that a clinician reads in their own language: a reason of the dialogs with its values.

As an exception's text, and in the audit, it is the English sentence. Read next: `message`.
"""

from __future__ import annotations

from datetime import UTC, datetime

from bot.errors import RefusedError
from dialogs.clinician_commands import WhyNot
from dialogs.rendering import render
from dialogs.turn import Said, Situation, Value


class NotDoneError(RefusedError):
    """A clinician's command cannot be carried out. `said`: why, without "not done"."""

    def __init__(self, why: WhyNot, **values: Value) -> None:
        self.why = why
        self.said = Said("clinician/why-not", {"reason": why.value, **values})
        super().__init__(self.in_language("en"))

    def in_language(self, language: str) -> str:
        """The sentence. It belongs to nobody, so no one's situation goes into it."""
        situation = Situation(now=datetime(2000, 1, 1, tzinfo=UTC), language=language)
        return render(self.said, situation)
