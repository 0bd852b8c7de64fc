"""Closed questions about warning signs, from when they are put until they are settled.

One that is not answered in time becomes an escalation; see `bot.escalations.chase`.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from bot.store import instants
from bot.store.database import Row, Store

_QUESTIONS = """
SELECT *, (
    SELECT text = substr(words, -length(text)) FROM inbox WHERE id = message
) AS told FROM sign_questions
"""


@dataclass(frozen=True)
class SignQuestion:
    """A closed question about a warning sign that the patient has not answered yet.

    `told`: it was put because of the patient's own words, not of a number. They stand last in
    `words`, after what was typed just before where both were read as one.
    """

    id: int
    patient: int
    sign: str
    words: str
    message: int | None
    asked_at: datetime
    told: bool


def ask(
    store: Store,
    patient: int,
    sign: str,
    words: str,
    message: int | None,
    answer_by: datetime,
    now: datetime,
) -> None:
    """Keep that a closed question was put, and by when it must be answered."""
    values = {"patient": patient, "sign": sign, "words": words, "message": message}
    times = {"asked_at": instants.text(now), "answer_by": instants.text(answer_by)}
    store.add("sign_questions", {**values, **times})


def settle(store: Store, patient: int, sign: str, how: str, now: datetime) -> None:
    """The question about this sign is answered, or given up."""
    sql = """
    UPDATE sign_questions SET settled_at = :at, settled_how = :how
    WHERE patient = :patient AND sign = :sign AND settled_at IS NULL
    """
    values = {"patient": patient, "sign": sign, "how": how, "at": instants.text(now)}
    store.change(sql, values)


def waiting(store: Store, patient: int) -> list[SignQuestion]:
    """The closed questions that wait for this patient's answer, oldest first."""
    sql = f"{_QUESTIONS} WHERE patient = :patient AND settled_at IS NULL ORDER BY id"
    return [_question(row) for row in store.rows(sql, {"patient": patient})]


def last(store: Store, patient: int, sign: str) -> SignQuestion | None:
    """The latest closed question about a sign, answered or not."""
    sql = f"{_QUESTIONS} WHERE patient = :patient AND sign = :sign ORDER BY id DESC LIMIT 1"
    row = store.row(sql, {"patient": patient, "sign": sign})
    return None if row is None else _question(row)


def unanswered(store: Store, patient: int, since: datetime) -> SignQuestion | None:
    """The latest closed question that ran out at or after an instant."""
    sql = f"""
    {_QUESTIONS} WHERE patient = :patient AND settled_how = 'not answered'
      AND settled_at >= :since ORDER BY id DESC LIMIT 1
    """
    row = store.row(sql, {"patient": patient, "since": instants.text(since)})
    return None if row is None else _question(row)


def was_put(store: Store, question: SignQuestion) -> bool:
    """Whether it was shown: one at a time is, so not while an earlier one went unanswered."""
    sql = """
    SELECT count(*) AS n FROM sign_questions WHERE patient = :patient AND id < :id
      AND settled_how = 'not answered' AND settled_at >= :asked
    """
    asked = {"id": question.id, "asked": instants.text(question.asked_at)}
    return not store.one(sql, {"patient": question.patient, **asked}, "count")["n"]


def settled_about(store: Store, patient: int, words: str, since: datetime) -> set[str]:
    """The signs that were asked about because of the same words since an instant, and answered with
    no, or closed by a clinician when no answer came."""
    sql = """
    SELECT sign FROM sign_questions AS q
    WHERE patient = :patient AND settled_at >= :since AND lower(trim(words)) = lower(trim(:words))
      AND (settled_how = 'no' OR (settled_how = 'not answered' AND EXISTS (
        SELECT 1 FROM escalations WHERE message = q.message AND closed_at IS NOT NULL)))
    """
    values = {"patient": patient, "words": words, "since": instants.text(since)}
    return {str(row["sign"]) for row in store.rows(sql, values)}


def denied(store: Store, message: int) -> list[str]:
    """The signs asked about because of this message and answered with no, in that order."""
    sql = """
    SELECT sign FROM sign_questions WHERE message = :message AND settled_how = 'no' ORDER BY id
    """
    return [str(row["sign"]) for row in store.rows(sql, {"message": message})]


def overdue(store: Store, now: datetime) -> list[SignQuestion]:
    """Closed questions whose time to be answered has run out."""
    sql = f"{_QUESTIONS} WHERE settled_at IS NULL AND answer_by <= :now ORDER BY answer_by"
    return [_question(row) for row in store.rows(sql, {"now": instants.text(now)})]


def _question(row: Row) -> SignQuestion:
    return SignQuestion(
        id=row["id"],
        patient=row["patient"],
        sign=row["sign"],
        words=row["words"],
        message=row["message"],
        asked_at=instants.read(row["asked_at"]),
        told=bool(row["told"]),
    )
