"""What a warning sign leads to: the patient's own reply, which waits for nobody, and an escalation;
or a closed question, with the time by which it must be answered. Pure: gives consequences.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import timedelta

from bot.patient_record.record import PatientRecord
from bot.patient_record.say import Say
from bot.patients.consequence_values import (
    AddWords,
    AskSigns,
    Consequence,
    Escalate,
    KeepWords,
    SettleSign,
    ShowUnread,
    TakeBack,
)
from bot.patients.slips import SLIP, pains_of, taken_back
from bot.store.outbox import Urgency
from bot.store.sign_questions import SignQuestion
from dialogs.advising import say_sign
from dialogs.lines import line
from dialogs.patient import ask_sign, drop_signs
from dialogs.turn import Question, Said, SignAnswered, State, Turn
from dialogs.waiting import TOLD_WORDS
from rules.history import Tier
from rules.quantities import Pain
from rules.screening import screen_pain, tier_asked
from rules.warning_sign import Match, Screening, Sign

SAYS_URGENT = "says-it-is-urgent"

# Asked about, and denied: a person looks the same day all the same, because a no may be said out of
# shame or fear. The patient may go on training.
CRISIS, CRISIS_DENIED = "crisis", "crisis-denied"

# Of the same kind as a crisis and weaker: where there is one, nothing is asked or said of this.
LOW_MOOD = "low-mood"


# How long after an alarm what nothing was made of belongs to it. Convention.
MORE_WORDS_WITHIN = timedelta(hours=1)


@dataclass
class Alarms:
    """The consequences of what is worrying, as they are found, and where the conversation stands
    after them. `severe`: a sign is found or asked about, so no advice is said yet. `after_no`: what
    a no to a closed question is answered with; "" where the escalation has said it. `dropped`:
    closed questions wait no more, and not because they were answered."""

    record: PatientRecord
    state: State
    severe: bool = False
    after_no: str = "sign-no"
    dropped: bool = False
    come: list[Consequence] = field(default_factory=list)

    @property
    def raised(self) -> bool:
        """Whether loading stops."""
        return any(isinstance(one, Escalate) and one.stops_loading for one in self.come)

    @property
    def emergency(self) -> bool:
        """Whether the patient is told to call for help now, and so is asked nothing more."""
        return any(isinstance(one, Escalate) and one.tier is Tier.EMERGENCY for one in self.come)

    def of_words(self, screening: Screening, words: str) -> None:
        """One message is one escalation, of its most urgent sign, whatever else its words show.
        What may need a person sooner than that is asked about."""
        self.severe |= bool(screening.found or screening.ask)
        screening = self._beside_a_crisis(screening, words)
        if screening.found:
            first, *others = screening.found
            self._raise(first, words, self._remarks(first, others))
            self._told_outright(screening)
        self._ask(screening.sooner if screening.found else screening.ask, words)

    def _beside_a_crisis(self, screening: Screening, words: str) -> Screening:
        """While a crisis is open, low mood belongs to it: the patient hears of the crisis again."""
        crisis = next((one for one in self.record.not_closed if one.sign == CRISIS), None)
        shown = {match.sign.key for match in screening.found} | {one.key for one in screening.ask}
        if crisis is None or LOW_MOOD not in shown or CRISIS in shown:
            return screening
        self.come.append(AddWords(crisis.id, words))
        if shown == {LOW_MOOD}:
            said = say_sign(crisis.tier, CRISIS, self.record.situation())
            self.come.append(Say(said, Urgency.SAFETY))
        found = tuple(one for one in screening.found if one.sign.key != LOW_MOOD)
        ask = tuple(one for one in screening.ask if one.key != LOW_MOOD)
        return replace(screening, found=found, ask=ask)

    def _told_outright(self, screening: Screening) -> None:
        """What is told now need not be asked about any more, nor what is weaker; the words that
        led to the question are kept, unless they were read as one with these."""
        told = {match.sign.key for match in screening.found}
        self._settle(told | ({LOW_MOOD} if CRISIS in told else set()), screening.with_before)

    def _settle(self, told: set[str], read_as_one: bool = False) -> None:
        asked = [one for one in self.record.asked_signs if one.sign in told]
        self.come += [SettleSign(one.sign, "told") for one in asked]
        if not read_as_one:
            self._keep_words(asked)
        waiting = tuple(one for one in self.state.waiting if one.sign not in told)
        self.state = replace(self.state, waiting=waiting)

    def of_pain(self, worst: int, *, silent: bool = False) -> None:
        """A very high pain answer [points, 0-10]. Who was silent when it was asked back is told
        what to do and asked no more."""
        screening = screen_pain(Pain(worst), self.record.protocol.settings, self.record.lexicon)
        self.severe |= bool(screening.found or screening.ask)
        words = line("pain", self.record.clinic.language, worst=worst)
        for match in screening.found:
            self._raise(match, words)
        if not silent:
            self._ask(screening.ask, words)

    def of_urgent_words(self, text: str) -> None:
        """The patient says it cannot wait. Nothing that the rules know was found in the words, so a
        person has to read them: the last hour's, and of the last day those not understood."""
        told = [before for before in self.record.typed_lately if len(before.split()) >= TOLD_WORDS]
        words = " / ".join((*told, text))
        said = Said("urgent")
        escalation = Escalate(SAYS_URGENT, Tier.SAME_DAY, words, said, stops_loading=True)
        self.come += [escalation, ShowUnread()]

    def of_more_words(self, text: str) -> None:
        """What nothing was made of, soon after an alarm, is read by whoever is told of that."""
        raised = [one for one in self.record.not_closed if one.message is not None]
        latest = max(raised, key=lambda one: one.raised_at, default=None)
        if latest is not None and self.record.now - latest.raised_at <= MORE_WORDS_WITHIN:
            self.come.append(AddWords(latest.id, text))

    def of_slip(self, ended: str, asked: Sign | None) -> None:
        """A number that was asked back is answered for, or is asked back now."""
        if ended:
            self.come.append(SettleSign(SLIP, ended))
        if asked is not None:
            self.come.append(AskSigns((asked,), asked.closed_question))

    def take_back(self, turn: Turn) -> None:
        """What rests on numbers that are corrected now."""
        back = taken_back(self.record, turn)
        self.come += [SettleSign(one.sign, "corrected") for one in back.asked]
        gone = {one.sign for one in back.raised} | {one.sign for one in back.asked}
        waiting = tuple(one for one in self.state.waiting if one.sign not in gone)
        self.dropped |= waiting != self.state.waiting
        self.state = replace(self.state, waiting=waiting)
        now = ", ".join(map(str, pains_of(turn)))
        self.come += [TakeBack(one.id, now) for one in back.raised]
        if back.raised:
            self.come.append(Say(Said("number-taken-back", {"worst": back.highest})))

    def of_answer(self, answer: SignAnswered) -> None:
        """A closed question was answered. Yes is the sign; the others then need no answer."""
        sign = self.record.lexicon.sign(answer.sign)
        asked = next((one for one in self.record.asked_signs if one.sign == answer.sign), None)
        self.come.append(SettleSign(answer.sign, "yes" if answer.yes else "no"))
        language = self.record.clinic.language
        if asked is None and self._is_over(sign, answer):
            # It went to a clinician when no answer came; the late answer goes there as well.
            late = line(
                "answered-late-yes" if answer.yes else "answered-late",
                language,
                question=sign.asked,
            )
            self.come += [AddWords(one.id, remarks=late) for one in self.record.led_to(sign.key)]
            if answer.yes:
                self.come.append(Say(Said("sign-yes-closed"), Urgency.SAFETY))
        elif answer.yes:
            others = [one for one in self.state.waiting if one.question is Question.SIGN]
            self.come += [SettleSign(one.sign, "another was yes") for one in others]
            self._keep_words([one for one in self.record.asked_signs if one != asked], asked)
            self.state, self.dropped = drop_signs(self.state), True
            remarks = line("asked-yes", language, question=sign.asked)
            words, tier = "", sign.tier
            told = asked or self.record.last_asked(answer.sign)
            if told is not None:
                words = told.words
                tier = tier_asked(sign.key, told.words, self.record.lexicon)
            self._raise(Match(sign, tier, words), words, remarks)
        elif asked is not None:
            self._deny(sign, asked)

    def _is_over(self, sign: Sign, answer: SignAnswered) -> bool:
        """Whether a late answer is only shown to whoever was told: a no always; a yes where a
        clinician has closed what the question led to, but never to an emergency."""
        led_to = self.record.led_to(sign.key)
        closed = bool(led_to) and all(one.closed_at is not None for one in led_to)
        asked = self.record.last_asked(sign.key)
        words = "" if asked is None else asked.words
        tier = tier_asked(sign.key, words, self.record.lexicon)
        return not answer.yes or (closed and tier is not Tier.EMERGENCY)

    def _deny(self, sign: Sign, asked: SignQuestion) -> None:
        """A no is never the end of the words, nor of a question about ending one's life."""
        if sign.key == CRISIS:
            language = self.record.clinic.language
            no = line("asked-no", language, question=sign.asked)
            said = Said(CRISIS_DENIED)
            self.come.append(Escalate(CRISIS_DENIED, Tier.SAME_DAY, asked.words, said, remarks=no))
            self.after_no = ""
            return
        others = [one for one in self.record.asked_signs if one != asked]
        if asked.told and all(one.message != asked.message for one in others):
            self._keep_words([asked])
            self.after_no = "sign-no-words"

    def _keep_words(self, asked: list[SignQuestion], heard: SignQuestion | None = None) -> None:
        """A clinician is shown the words that led to these questions and to nothing else."""
        heard_with = None if heard is None else heard.message
        kept = {one.message for one in asked if one.told and one.message is not None}
        self.come += [KeepWords(number) for number in sorted(kept - {heard_with})]

    def answering_no(self, said: Said) -> Said | None:
        """What the dialog says, where that is the reply to a no as it is now; None: nothing."""
        if said.template != "sign-no":
            return said
        return Said(self.after_no) if self.after_no else None

    def say_with_it(self, said: Said) -> bool:
        """Say this too in the last message that was alarming; False where there is none."""
        for place in reversed(range(len(self.come))):
            match self.come[place]:
                case (Say() | Escalate()) as message if message.said is not None:
                    both = together(self.record, message.said, said)
                    self.come[place] = replace(message, said=both)
                    return True
        return False

    def _raise(self, match: Match, words: str, remarks: str = "") -> None:
        said = say_sign(match.tier, match, self.record.situation())
        escalation = Escalate(
            match.sign.key, match.tier, words, said, stops_loading=True, remarks=remarks
        )
        self.come.append(escalation)

    def _remarks(self, first: Match, others: list[Match]) -> str:
        """Our own words on what was written, in the clinic's language: what else it shows, and
        where likeness alone found the sign, that it may mean that."""
        clinic = self.record.clinic
        known = clinic.lexicon.signs
        titles = [
            (known[one.sign.key].sign if one.sign.key in known else one.sign).title
            for one in (first, *others)
        ]
        remarks = []
        if first.by_likeness:
            remarks.append(line("may-mean", clinic.language, sign=titles[0]))
        if others:
            remarks.append(line("also", clinic.language, others=", ".join(titles[1:])))
        return " ".join(remarks)

    def _ask(self, signs: tuple[Sign, ...], words: str) -> None:
        if not signs:
            return
        if any(one.key == CRISIS for one in signs):
            self._settle({LOW_MOOD})
            signs = tuple(one for one in signs if one.key != LOW_MOOD)
        turn = ask_sign(self.state, signs, self.record.situation())
        self.state = turn.state
        self.come.append(AskSigns(signs, words))
        self.come += [Say(said, Urgency.SAFETY) for said in turn.said]


def together(record: PatientRecord, first: Said, second: Said) -> Said:
    """Two things in one message, with the buttons of the first."""
    both = {"text": record.words(first), "tip": record.words(second)}
    return Said("with-tip", both, first.choices)
