"""What a clinician reads about what the numbers alone said. Decides nothing. See `rules.alerts`."""

from __future__ import annotations

from dialogs.turn import Said
from rules.alerts import Alert


def say_alert(alert: Alert) -> Said:
    """One alert in a sentence, with the numbers that were compared."""
    return Said(f"alert/{alert.key.value}", {**alert.evidence, "since": alert.since})
