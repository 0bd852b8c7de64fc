"""A patient's record as a diary that `nextmorning replay` reads back to the same advice.

The replay's advice on a row is that of its morning, and it can differ from the bot's where a diary
does not tell what the bot knew:
- a dose that a clinician set: a diary tells the level alone, and replays its lowest dose;
- a pause: a diary shows days on which sessions were missed;
- a warning sign: it stops its own row only, where the bot waits until a clinician has closed it;
- what came after the morning: words, a clinician's move, a correction, a late answer stand on the
  row of their day, and the replay knows them from its morning on.
Read next: `bot.replay.diary`.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from datetime import date, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from bot.patient_record.record import PatientRecord
from bot.replay.diary import COLUMNS, escaped
from bot.store import instants, plans
from bot.store.answers import SessionRow
from dialogs.questions import COLUMNS as ASKED
from dialogs.questions import Kind, Question
from rules.history import Move
from rules.protocol import Tendon

DAY = timedelta(days=1)


def diary_of(case: PatientRecord) -> str:
    """The diary, with a header and one row for each local day from enrolment until today."""
    written = io.StringIO()
    table = csv.DictWriter(written, COLUMNS, lineterminator="\n")
    table.writeheader()
    first = case.episode.enrolled_on
    if first is not None:
        known = _Known(case)
        for index in range((case.today - first).days + 1):
            table.writerow(known.row(first + index * DAY))
    return written.getvalue()


def options_of(case: PatientRecord) -> dict[str, Any]:
    """What a diary does not tell, as `nextmorning replay` takes it: the options by name."""
    episode = case.episode
    moves = plans.moves(case.store, episode.id)
    told: dict[str, Any] = {
        "protocol": episode.protocol,
        "tendon": Tendon(episode.tendon).value,
        "usual-pain": episode.usual_pain,
        "usual-stiffness": episode.usual_stiffness,
    }
    if moves:
        told["start-level"] = moves[0].position.level
    if episode.pain_limit is not None:
        told["pain-limit"] = episode.pain_limit
    flags = {"hops-allowed": episode.hops_allowed, "slower": episode.slower}
    return told | {name: True for name, is_set in flags.items() if is_set}


class _Known:
    """All that the rows are made of, read once."""

    def __init__(self, case: PatientRecord) -> None:
        self._case = case
        self._answers: dict[date, dict[str, int | str]] = {}
        for kept in case.kept:
            self._answers.setdefault(kept.about, {})[kept.question] = kept.value
        self._sessions: Mapping[date, SessionRow] = {row.on: row for row in case.sessions}
        self._moves: tuple[Move, ...] = plans.moves(case.store, case.episode.id)
        self._words = words_by_day(case)
        self._sheets = dict(case.sheets)

    def row(self, on: date) -> dict[str, Any]:
        """One day; what was not answered is left out."""
        answered = self._answers.get(on, {})
        session = self._sessions.get(on)
        row: dict[str, Any] = {
            "date": on.isoformat(),
            "session": "no" if session is None else "yes",
            "level": self._level(on),
            "message": escaped(" / ".join(self._words.get(on, []))),
            "visa_a": self._sheets.get(on),
        }
        for column, asked in ASKED.items():
            if session is not None or not asked.row.of_session:
                row[column] = _cell(asked, answered.get(asked))
        if row["activity_min"] is None:
            row["activity_effort"] = None
        if session is not None:
            row["sets_prescribed"] = session.sets_prescribed
            row["load_kg"] = self._case.protocol.dose(session.position).added_load_kg or None
        return row

    def _level(self, on: date) -> int:
        """Where the session was done; else where the patient stood when the day was over."""
        session = self._sessions.get(on)
        if session is not None:
            return session.position.level
        until = [move for move in self._moves if move.on <= on] or list(self._moves[:1])
        return until[-1].position.level if until else 1


def _cell(asked: Question, value: int | str | None) -> int | str | None:
    if asked.row.kind is Kind.YES_NO and value is not None:
        return "yes" if value else "no"
    return escaped(value) if isinstance(value, str) else value


def words_by_day(case: PatientRecord) -> dict[date, list[str]]:
    """What the patient wrote beside answers, by the local day on which it came: what nobody could
    read, and what a warning sign was found in. Each in one line."""
    sql = """
    SELECT text, received_at FROM inbox WHERE person = :id AND text != '' AND (
        outcome = 'unread'
        OR EXISTS (SELECT 1 FROM escalations WHERE message = inbox.id AND stops_loading)
        OR EXISTS (SELECT 1 FROM sign_questions WHERE message = inbox.id)
    ) ORDER BY id
    """
    zone = ZoneInfo(case.patient.zone)
    days: dict[date, list[str]] = {}
    for row in case.store.rows(sql, {"id": case.patient.id}):
        on = instants.read(row["received_at"]).astimezone(zone).date()
        if not row["text"].strip(" 0123456789,.;"):
            continue  # numbers are answers, and stand in their own columns
        days.setdefault(on, []).append(" ".join(row["text"].split()))
    return days
