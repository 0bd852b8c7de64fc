"""Episodes (one painful tendon under treatment), moves on the ladder, pauses, words about a day.
The clinician's word and the rules' both stand here, each with who and when."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time

from bot.store import instants
from bot.store.database import Row, Store
from rules.history import DayWord, Move, MovedBy, Pause, Says
from rules.protocol import Position, Protocol, Tendon

# When the evening prompt goes out unless someone chose otherwise [wall-clock]. Convention.
EVENING_TIME = time(19, 0)

# When the morning prompt goes out until the patient chooses [wall-clock]. Convention.
MORNING_TIME = time(7, 30)


@dataclass(frozen=True)
class Episode:
    """One treatment of one patient. `enrolled_on` is None until the patient has answered all;
    `usual_known`: whether anybody has said what is usual."""

    id: int
    patient: int
    tendon: Tendon
    side: str
    protocol: str
    usual_pain: int
    usual_stiffness: int
    morning_time: time
    evening_time: time
    hops_allowed: bool
    pain_limit: int | None
    slower: bool
    enrolled_on: date | None
    discharged: bool
    usual_known: bool = False


def open_episode(
    store: Store, patient: int, tendon: Tendon, protocol: Protocol, now: datetime
) -> Episode:
    """Begin a treatment; the patient is still to answer the enrolment questions."""
    values = {
        "patient": patient,
        "tendon": tendon,
        "protocol": protocol.name,
        "morning_time": MORNING_TIME.isoformat("minutes"),
        "evening_time": EVENING_TIME.isoformat("minutes"),
        "invited_at": instants.text(now),
    }
    store.add("episodes", values)
    return of_patient(store, patient)


def of_patient(store: Store, patient: int) -> Episode:
    """The patient's episode; raises NotFoundError."""
    sql = "SELECT * FROM episodes WHERE patient = :patient"
    return _episode(store.one(sql, {"patient": patient}, f"episode of person {patient}"))


def under_treatment(store: Store) -> list[Episode]:
    """Episodes that are enrolled and not discharged."""
    sql = """
    SELECT * FROM episodes WHERE enrolled_on IS NOT NULL AND discharged_at IS NULL ORDER BY id
    """
    return [_episode(row) for row in store.rows(sql)]


def treated(store: Store) -> list[int]:
    """The patients who are enrolled and not discharged."""
    sql = "SELECT patient FROM episodes WHERE enrolled_on IS NOT NULL AND discharged_at IS NULL"
    return [row["patient"] for row in store.rows(sql)]


def is_treated(store: Store, patient: int) -> bool:
    """Whether the patient is enrolled and not discharged."""
    sql = """
    SELECT 1 FROM episodes
    WHERE patient = :patient AND enrolled_on IS NOT NULL AND discharged_at IS NULL
    """
    return store.row(sql, {"patient": patient}) is not None


def enrol(
    store: Store,
    episode: Episode,
    *,
    side: str,
    usual_pain: int,
    usual_stiffness: int,
    morning_time: time,
    on: date,
    now: datetime,
) -> None:
    """The patient has answered the enrolment questions: treatment starts where it was
    said to with the invitation, else at the lowest place."""
    sql = """
    UPDATE episodes SET side = :side, usual_pain = :pain, usual_stiffness = :stiffness,
        morning_time = :morning, enrolled_on = coalesce(enrolled_on, :on)
    WHERE id = :id
    """
    values = {"id": episode.id, "side": side, "pain": usual_pain, "stiffness": usual_stiffness}
    morning = morning_time.isoformat("minutes")
    store.change(sql, {**values, "morning": morning, "on": on.isoformat()})
    if episode.enrolled_on is None:
        sql = "UPDATE moves SET on_date = :on WHERE episode = :id"
        store.change(sql, {"id": episode.id, "on": on.isoformat()})
    if not moves(store, episode.id):
        move(store, episode.id, Move(on, Position(1, 1), MovedBy.ENROLMENT), now)


def tell_before(
    store: Store, episode: int, side: str | None, usual: tuple[int, int] | None
) -> None:
    """What the clinic knows before the patient enrols: the side; usual first-step pain and
    stiffness [points, minutes]. The patient is not asked for it again."""
    sql = """
    UPDATE episodes SET side = :side, usual_pain = :pain, usual_stiffness = :stiffness
    WHERE id = :id
    """
    pain, stiffness = usual or (None, None)
    store.change(sql, {"id": episode, "side": side, "pain": pain, "stiffness": stiffness})


def begin_at(store: Store, episode: int, made: Move, now: datetime, clinician: int | None) -> None:
    """Where the ladder is to begin once the patient enrols; the last word holds."""
    sql = "UPDATE moves SET undone_at = :at WHERE episode = :episode AND undone_at IS NULL"
    store.change(sql, {"episode": episode, "at": instants.text(now)})
    move(store, episode, made, now, clinician)


def move(
    store: Store, episode: int, made: Move, now: datetime, clinician: int | None = None
) -> None:
    """Keep a move on the ladder."""
    values = {
        "episode": episode,
        "on_date": made.on.isoformat(),
        "level": made.position.level,
        "dose": made.position.dose,
        "moved_by": made.by,
        "clinician": clinician,
        "step_back": int(made.step_back),
        "do_less": int(made.do_less),
        "reason": made.reason,
        "session_on": None if made.session_on is None else made.session_on.isoformat(),
        "made_at": instants.text(now),
    }
    store.add("moves", values)


def moves(store: Store, episode: int) -> tuple[Move, ...]:
    """All moves that stand, oldest first."""
    sql = "SELECT * FROM moves WHERE episode = :episode AND undone_at IS NULL ORDER BY id"
    return tuple(
        Move(
            on=date.fromisoformat(row["on_date"]),
            position=Position(row["level"], row["dose"]),
            by=MovedBy(row["moved_by"]),
            step_back=bool(row["step_back"]),
            session_on=instants.day(row["session_on"]),
            do_less=bool(row["do_less"]),
            reason=row["reason"],
        )
        for row in store.rows(sql, {"episode": episode})
    )


def undo_moves(store: Store, episode: int, since: date, now: datetime) -> None:
    """An answer about a day was corrected: moves that the rules made since are taken back, so that
    they are made anew, or not. What a session was reported after, or a clinician has moved since,
    stays: it has been lived by. The rows stay."""
    sql = """
    UPDATE moves SET undone_at = :at
    WHERE episode = :episode AND moved_by = 'rules' AND undone_at IS NULL AND on_date >= :since
      AND NOT EXISTS (SELECT 1 FROM sessions
          WHERE sessions.episode = moves.episode AND sessions.reported_at > moves.made_at)
      AND NOT EXISTS (SELECT 1 FROM moves AS later
          WHERE later.episode = moves.episode AND later.id > moves.id
            AND later.moved_by = 'clinician')
    """
    values = {"episode": episode, "since": since.isoformat(), "at": instants.text(now)}
    store.change(sql, values)


def set_morning_time(store: Store, episode: int, at: time) -> None:
    """The patient wants the morning questions at this wall-clock time."""
    sql = "UPDATE episodes SET morning_time = :at WHERE id = :id"
    store.change(sql, {"id": episode, "at": at.isoformat("minutes")})


def pause(
    store: Store,
    episode: int,
    on: date,
    until: date | None,
    made_by: int,
    now: datetime,
    *,
    asks: bool = False,
) -> None:
    """Pause from a day to another (included), or until it is ended. `asks`: see `Pause`."""
    values = {
        "episode": episode,
        "on_date": on.isoformat(),
        "until_date": None if until is None else until.isoformat(),
        "made_by": made_by,
        "made_at": instants.text(now),
        "asks": asks,
    }
    store.add("pauses", values)


def end_pauses(store: Store, episode: int, on: date, now: datetime) -> None:
    """End what pauses there are: the day before `on` is the last paused one."""
    sql = """
    UPDATE pauses SET ended_at = :at,
        until_date = min(coalesce(until_date, :last), :last)
    WHERE episode = :episode AND (until_date IS NULL OR until_date >= :on)
    """
    last = date.fromordinal(on.toordinal() - 1).isoformat()
    values = {"episode": episode, "on": on.isoformat(), "last": last}
    store.change(sql, {**values, "at": instants.text(now)})


def pauses(store: Store, episode: int) -> tuple[Pause, ...]:
    """All pauses, oldest first."""
    sql = "SELECT * FROM pauses WHERE episode = :episode ORDER BY on_date, id"
    return tuple(
        Pause(
            date.fromisoformat(row["on_date"]), instants.day(row["until_date"]), bool(row["asks"])
        )
        for row in store.rows(sql, {"episode": episode})
    )


def say_of_day(
    store: Store, episode: int, on: date, says: Says, clinician: int, now: datetime
) -> None:
    """Keep what a clinician says about one local date; an earlier word about it stays on record."""
    values = {"episode": episode, "on_date": on.isoformat(), "says": says, "clinician": clinician}
    store.add("day_words", {**values, "made_at": instants.text(now)})


def day_words(store: Store, episode: int) -> tuple[DayWord, ...]:
    """All words about a day, in the order in which they were said."""
    sql = """
    SELECT day_words.*, people.name FROM day_words JOIN people ON people.id = clinician
    WHERE episode = :episode ORDER BY day_words.id
    """
    return tuple(
        DayWord(date.fromisoformat(row["on_date"]), Says(row["says"]), row["name"])
        for row in store.rows(sql, {"episode": episode})
    )


def limit_pain(store: Store, episode: int, limit: int) -> None:
    """The patient's own pain limit from now on [points, 0-5]."""
    store.change(
        "UPDATE episodes SET pain_limit = :limit WHERE id = :id", {"id": episode, "limit": limit}
    )


def set_pace(store: Store, episode: int, *, slower: bool) -> None:
    """Whether the days between raises are lengthened for this patient."""
    sql = "UPDATE episodes SET slower = :slower WHERE id = :id"
    store.change(sql, {"id": episode, "slower": int(slower)})


def allow_hops(store: Store, episode: int, allowed: bool, now: datetime) -> None:
    """Open or close the gate to hops."""
    at = instants.text(now) if allowed else None
    sql = "UPDATE episodes SET hops_allowed_at = :at WHERE id = :id"
    store.change(sql, {"id": episode, "at": at})


def discharge(store: Store, episode: int, by: int, summary: str, now: datetime) -> None:
    """The treatment ends; what the patient was told of it is kept with who and when."""
    sql = """
    UPDATE episodes SET discharged_at = :at, discharged_by = :by, discharge_summary = :summary
    WHERE id = :id
    """
    values = {"id": episode, "by": by, "summary": summary, "at": instants.text(now)}
    store.change(sql, values)


def undo_discharge(store: Store, episode: int) -> None:
    """The treatment goes on."""
    sql = "UPDATE episodes SET discharged_at = NULL WHERE id = :id"
    store.change(sql, {"id": episode})


def _episode(row: Row) -> Episode:
    return Episode(
        id=row["id"],
        patient=row["patient"],
        tendon=Tendon(row["tendon"]),
        side=row["side"] or "",
        protocol=row["protocol"],
        usual_pain=row["usual_pain"] or 0,
        usual_stiffness=row["usual_stiffness"] or 0,
        morning_time=time.fromisoformat(row["morning_time"]),
        evening_time=time.fromisoformat(row["evening_time"]),
        hops_allowed=row["hops_allowed_at"] is not None,
        pain_limit=row["pain_limit"],
        slower=bool(row["slower"]),
        enrolled_on=instants.day(row["enrolled_on"]),
        discharged=row["discharged_at"] is not None,
        usual_known=row["usual_pain"] is not None,
    )
