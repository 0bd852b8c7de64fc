"""All that happened to an escalation, in short lines: raised, told, taken, closed. Reads only."""

from __future__ import annotations

from bot.clinic import Clinic
from bot.store import escalations, notices, people
from bot.store.database import Row, Store
from bot.store.escalations import CAME_BACK, CORRECTED, Escalation
from bot.store.notices import NoticeKind
from dialogs.clinician_commands import Done, Outcome
from dialogs.lines import line, moment, word_for

# Escalations of a list without a number [count, at most].
LINES_MAX = 20

# What an escalation may be closed with, as it stands in the store.
OUTCOMES = (*map(str, Outcome), *map(str, Done), CORRECTED, CAME_BACK)


def history_lines(
    store: Store, clinic: Clinic, number: int | None, language: str = "en"
) -> list[str]:
    """One escalation from the beginning, oldest first; None: the latest escalations, a line each,
    newest first. Raises NotFoundError."""
    if number is None:
        latest = escalations.latest(store, LINES_MAX)
        lines = [_line(store, clinic, one, language) for one in latest]
        return lines or [line("nothing-raised", language)]
    escalation = escalations.get(store, number)
    rows = notices.history(store, number)
    first = _line(store, clinic, escalation, language)
    return [first, *(_happened(clinic, row, language) for row in rows)]


def history_table(store: Store, number: int | None) -> list[dict[str, object]]:
    """The same for a script, with codes and UTC times: the latest escalations, or the steps of one.
    Raises NotFoundError."""
    if number is None:
        return [
            {
                "number": one.id,
                "tier": one.tier.value,
                "patient": people.person(store, one.patient).name,
                "sign": one.sign,
                "raised_at": one.raised_at.isoformat(),
                "acknowledged": one.acknowledged_at is not None,
                "closed": one.closed_at is not None,
            }
            for one in escalations.latest(store, LINES_MAX)
        ]
    escalations.get(store, number)
    return [
        {
            "at": notices.happened_at(row).isoformat(),
            "what": row["kind"],
            "who": row["name"],
            "channel": row["channel"],
            "arrived": _arrived(row),
            "note": row["note"],
        }
        for row in notices.history(store, number)
    ]


def _line(store: Store, clinic: Clinic, escalation: Escalation, language: str) -> str:
    if escalation.closed_at is not None:
        state = line("is-closed", language)
    elif escalation.acknowledged_by is None:
        state = line("nobody-has-it", language)
    else:
        by = people.person(store, escalation.acknowledged_by).name
        state = line("somebody-has-it", language, by=by)
    return line(
        "escalation",
        language,
        number=escalation.id,
        tier=word_for("tier", escalation.tier, language),
        patient=people.person(store, escalation.patient).name,
        sign=word_for("sign", escalation.sign, language),
        at=escalation.raised_at.astimezone(clinic.zone_info),
        state=state,
    )


def _happened(clinic: Clinic, row: Row, language: str) -> str:
    at = notices.happened_at(row).astimezone(clinic.zone_info)
    parts = [f"{moment(at, language)} {word_for('happened', row['kind'], language)}"]
    if row["name"]:
        parts.append(row["name"])
    if row["channel"]:
        parts.append(line("on-channel", language, channel=row["channel"]))
    if not _arrived(row):
        parts.append(line("not-arrived", language))
    happened = " ".join(parts)
    note = _note(row, language)
    return f"{happened}: {note}" if note else happened


def _arrived(row: Row) -> bool:
    """Whether a channel accepted it, and did not say since that it failed; true of no message."""
    is_message = row["kind"] == NoticeKind.TOLD or row["outbox"] is not None
    return row["failed_at"] is None and (not is_message or row["accepted_at"] is not None)


def _note(row: Row, language: str) -> str:
    """The words kept with a step: our own in the reader's language, a person's as they stand."""
    note = str(row["note"])
    if row["kind"] == NoticeKind.GIVEN_BACK:
        return word_for("note", note, language)
    codes = {NoticeKind.CLOSED: OUTCOMES, NoticeKind.NOTE: tuple(Done)}.get(row["kind"])
    if codes is not None:
        outcome = next((str(one) for one in codes if note.startswith(one)), "")
        return word_for("outcome", outcome, language) + note.removeprefix(outcome)
    return note
