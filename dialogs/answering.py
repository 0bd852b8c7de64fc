"""Takes the answers out of a reply: what is recorded, what still waits, what is asked next.

Reads nothing itself (`reading`) and words nothing (`templates`). Read next: `patient`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

from dialogs.asking import ask, item_values
from dialogs.questions import SESSION, Kind
from dialogs.reading import TOO_MANY, Read, Reading, read_answers, sentence
from dialogs.turn import (
    Answer,
    Asked,
    Completed,
    Question,
    Recorded,
    Remark,
    Said,
    SignAnswered,
    Situation,
    State,
    Turn,
    Unread,
)
from dialogs.waiting import (
    TOLD_WORDS,
    TRIES_BEFORE_CHOICES,
    TRIES_BEFORE_UNREAD,
    batch,
    belongs_to,
    signs_of,
    without,
)
from dialogs.words import Words

COMPLETING = ("morning", "follow-up", "session", "weekly", "visa-a")

# Stiffness longer than this is read back [minutes]: it may be two numbers run together. Convention.
STIFF_READ_BACK = 180

# Where one leg alone is sore, the other can be compared with it.
ONE_SIDE = ("left", "right")


@dataclass(frozen=True)
class Talk:
    """One step's whole input, handed down."""

    state: State
    text: str
    situation: Situation
    words: Words


def answer_typed(talk: Talk) -> Turn:
    """A typed reply with questions waiting. What cannot be read is asked again, never guessed."""
    asked = batch(talk.state.waiting)
    reading = _read(talk.text, asked, talk.situation, talk.words)
    if not reading.reads and asked[0].question is Question.SIGN:
        # "3 10" under a yes-or-no question answers the morning behind it. Keep it, ask again.
        behind = batch(without(talk.state.waiting, _signs(talk.state)))
        second = read_answers(talk.text, behind, talk.words) if behind else Reading()
        if second.reads and not second.problem:
            return accept(talk, second)
    if reading.problem and not reading.reads:
        return not_understood(talk, reading)
    return accept(talk, reading)


def only_answers(state: State, text: str, situation: Situation, words: Words) -> bool:
    """Whether a text is nothing but numbers for the questions that are open: no word beside them.

    Such a text is looked at by its numbers; "it was 10" about heel raises tells of no pain.
    """
    asked = tuple(
        a for a in batch(state.waiting) if a.closes_at is None or a.closes_at > situation.now
    )
    if not asked or asked[0].question.row.group not in (*COMPLETING, "what-about"):
        return False
    reading = _read(text, asked, situation, words)
    return bool(reading.reads) and not reading.problem and not reading.rest and not reading.friendly


def accept(talk: Talk, reading: Reading) -> Turn:
    """Record what was read, drop it from the queue, and ask what comes next."""
    before = talk.state.waiting
    answered = tuple(read.asked for read in reading.reads)
    waiting = followed(reading.reads, without(before, answered), talk.situation)
    recorded: list[Recorded] = [_recorded(read) for read in reading.reads]
    said = [said for read in reading.reads if (said := read_back(read))]
    if reading.guessed or any(_is_long(read) for read in reading.reads):
        said.append(_all_read_back(reading.reads))
    if reading.rest:
        recorded.append(Remark(reading.rest))
        said.append(Said("passed-on"))
    said += [Said("sign-no") for read in reading.reads if _is_sign(read) and not read.value]
    said += [Said("no-session") for read in reading.reads if _no_session(read)]
    done, held = completed(talk.state, waiting, reading.reads)
    recorded += done
    said += [_counted(reading.reads, one.about, talk.situation) for one in done if _weekly(one)]
    last = answered or talk.state.last
    state = replace(talk.state, waiting=waiting, last=last, held=held)
    talk = replace(talk, state=state)
    if reading.problem:
        turn = not_understood(talk, reading)
        return replace(turn, recorded=(*recorded, *turn.recorded), said=(*said, *turn.said))
    following = (ask(state, talk.situation, talk.words),) if waiting else ()
    behind = bool(done) or any(_is_sign(read) and read.value for read in reading.reads)
    if behind:
        return Turn(state, tuple(recorded), tuple(said), following)
    return Turn(state, tuple(recorded), (*said, *following))


def _is_long(read: Read) -> bool:
    """Stiffness that may be numbers run together: "310" for "3 10"."""
    return read.asked.question is Question.STIFFNESS and int(read.value) > STIFF_READ_BACK


def not_understood(talk: Talk, reading: Reading) -> Turn:
    """Ask again, clearer each time; from the third time on the clinician sees the words too."""
    first = reading.at or talk.state.waiting[0]
    tries = first.tries + 1
    waiting = tuple(
        replace(a, tries=tries) if a.key == first.key else a for a in talk.state.waiting
    )
    state = replace(talk.state, waiting=waiting)
    told = not reading.reads and sentence(talk.text, talk.words, TOLD_WORDS)
    unread = told or tries >= TRIES_BEFORE_UNREAD or _in_words(talk.text)
    template = "unclear/" + _unclear_template(reading.problem, tries, told)
    # Of a sheet another item than the one that waits first may be the one that cannot be.
    wrong = item_values((first,), first) if first.question.row.item else {}
    wrong.pop("items", None)
    said = ask(state, talk.situation, talk.words, template, **wrong)
    return Turn(state, (Unread(talk.text),) if unread else (), (said,))


def _in_words(text: str) -> bool:
    """Whether a text is written in words, whatever they are about: it may tell more than a number
    does, and the answer that follows does not say it again."""
    return sum(part.isalpha() for part in text.split()) >= TOLD_WORDS


def completed(
    state: State, waiting: tuple[Asked, ...], reads: tuple[Read, ...]
) -> tuple[list[Completed], tuple[Completed, ...]]:
    """Groups that these answers complete, and those held back.

    A morning is held until the follow-up asked in the same message is answered, so that one
    advice stands on both.
    """
    done = list(state.held)
    for read in reads:
        group, about = read.asked.question.row.group, read.asked.about
        complete = Completed(group, about)
        if group not in COMPLETING or complete in done or _no_session(read):
            continue
        if not any(belongs_to(asked, group, about) for asked in waiting):
            done.append(complete)
    if any(belongs_to(asked, "follow-up") for asked in waiting):
        held = tuple(c for c in done if c.group == "morning")
        return [c for c in done if c not in held], held
    return done, ()


def followed(
    reads: tuple[Read, ...], waiting: tuple[Asked, ...], situation: Situation | None = None
) -> tuple[Asked, ...]:
    """The queue after what these answers bring about.

    No sets end the session's questions; sets bring them back where a correction undoes that. Of an
    activity that is a spike the effort is asked. A count of heel raises has one on the other leg.

    situation: None where nothing more is asked, as after a correction.
    """
    known = {read.asked.key for read in reads}
    for read in reads:
        about = read.asked.about
        if read.asked.question is Question.SETS_DONE:
            session = any(belongs_to(asked, "session", about) for asked in waiting)
            if not read.value:
                waiting = tuple(a for a in waiting if not belongs_to(a, "session", about))
            elif not session and len(reads) == 1:
                waiting = tuple(Asked(q, about) for q in SESSION[1:]) + waiting
        if read.asked.question is Question.ACTIVITY_MINUTES:
            effort = Asked(Question.ACTIVITY_EFFORT, about)
            waiting = tuple(a for a in waiting if a.key != effort.key)
            waiting = (effort, *waiting) if _is_spike(read, situation) else waiting
        other = _other_leg(read.asked, situation.side if situation else "")
        if other is not None and other.key not in known:
            waiting = (other, *without(waiting, (other,)))
    return waiting


def _is_spike(read: Read, situation: Situation | None) -> bool:
    over = situation.spike_over if situation else None
    return over is not None and int(read.value) > over


def _other_leg(asked: Asked, side: str) -> Asked | None:
    """The same count on the leg that is not sore, open for as long; None where there is none."""
    if asked.question is not Question.HEEL_RAISES or side not in ONE_SIDE:
        return None
    return replace(asked, question=Question.OTHER_HEEL_RAISES, tries=0)


def _read(text: str, asked: tuple[Asked, ...], situation: Situation, words: Words) -> Reading:
    """What a text answers of what is asked. Two counts of heel raises are those of both legs, read
    back where the first, of the sore leg, is the higher: they may stand the other way round."""
    reading = read_answers(text, asked, words)
    other = _other_leg(asked[0], situation.side)
    if reading.problem != TOO_MANY or other is None:
        return reading
    both = read_answers(text, (replace(asked[0], tries=0), other), words)
    counts = [int(read.value) for read in both.reads]
    guessed = both.guessed or counts != sorted(counts)
    return replace(both, guessed=guessed) if len(counts) == 2 else reading


def _recorded(read: Read) -> Recorded:
    if _is_sign(read):
        return SignAnswered(read.asked.sign, bool(read.value))
    return Answer(read.asked.question, read.asked.about, read.value)


def read_back(read: Read) -> Said | None:
    """What was rounded, or chosen from a range, said back; None where nothing was."""
    if not read.note:
        return None
    values = {"question": read.asked.question.value, "value": read.value, "note": read.note}
    minutes = read.asked.question.row.kind is Kind.MINUTES
    return Said("read-back", {**values, "minutes": minutes})


def _all_read_back(reads: tuple[Read, ...]) -> Said:
    """All that was made of a sentence, in one line."""
    codes = " ".join(read.asked.question.value for read in reads)
    return Said("read-as", {"asks": codes, "values": " ".join(str(read.value) for read in reads)})


def _weekly(done: Completed) -> bool:
    return done.group == "weekly"


def _counted(reads: tuple[Read, ...], on: date, situation: Situation) -> Said:
    """Thanks for a count of heel raises, with the one of the week before."""
    known = {(one.question, one.about): one.value for one in situation.answered}
    known |= {(read.asked.question, read.asked.about): read.value for read in reads}
    before = [known[one] for one in sorted(known) if one[0] is Question.HEEL_RAISES and one[1] < on]
    return Said(
        "counted",
        {
            "count": known.get((Question.HEEL_RAISES, on)),
            "other": known.get((Question.OTHER_HEEL_RAISES, on)),
            "before": before[-1] if before else None,
        },
    )


def _no_session(read: Read) -> bool:
    return read.asked.question is Question.SETS_DONE and read.value == 0


def _is_sign(read: Read) -> bool:
    return read.asked.question is Question.SIGN


def _signs(state: State) -> tuple[Asked, ...]:
    return signs_of(state.waiting)


def _unclear_template(problem: str, tries: int, told: bool) -> str:
    if tries >= TRIES_BEFORE_UNREAD or told:
        return "unread"
    return "choices" if tries >= TRIES_BEFORE_CHOICES else problem
