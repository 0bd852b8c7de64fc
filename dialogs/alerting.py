"""What a clinician reads about what the numbers alone said. Decides nothing. See `rules.alerts`."""

from __future__ import annotations

from dialogs.lines import word_for
from dialogs.turn import Said, Situation
from rules.alerts import Alert


def say_alert(alert: Alert, situation: Situation) -> Said:
    """One alert in a sentence, with the numbers that were compared, in the situation's language."""
    evidence = dict(alert.evidence)
    if "reason" in evidence:
        evidence["reason"] = word_for("reason", str(evidence["reason"]), situation.language)
    return Said(f"alert/{alert.key.value}", {**evidence, "since": alert.since})
