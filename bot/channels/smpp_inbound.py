"""What came in and is not done with: parts of long messages that wait for the others, and what a
carrier may deliver twice.

A carrier forgets a part as soon as it is answered, so the parts are on disk by then: `Memory` is
the channel's cursor, kept in the same transaction as the messages. Pure values; no clock, no link.
SMPP gives a delivered message no id. Whether one came before is told by what it holds, and only
where the answer to the first may have been lost: a patient may well say "3" twice.
Read next: `smpp`.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from itertools import groupby

from pydantic import TypeAdapter, ValidationError

from bot.channels.smpp_pdu import Address, Deliver, Tag, TypeOfNumber
from bot.channels.smpp_text import GSM, Place, decoded, place_and_octets
from bot.phone_numbers import international_number, number_in
from bot.ports import Incoming

REPEAT_WITHIN = timedelta(minutes=5)
"""How long after the first a second delivery may come. Convention: a carrier that lost our answer
sends again within minutes of the next link."""

SEEN_MAX = 50
"""Deliveries remembered [count]. Convention: more than a carrier leaves unanswered at once."""

MISSING = "[a part of this message did not come]"
"""Stands where a part is missing."""


@dataclass(frozen=True)
class Link:
    """Which delivery of which link this is: the link's name and the carrier's sequence number."""

    name: str
    sequence: int


@dataclass(frozen=True)
class Piece:
    """One part of a long message. `octets` in hexadecimal: half a character may end a part."""

    number: int
    octets: str
    data_coding: int
    fingerprint: str


@dataclass(frozen=True)
class Unfinished:
    """A long message of which parts are missing."""

    address: str
    reference: int
    total: int
    began_at: datetime
    message_id: str
    pieces: tuple[Piece, ...]


@dataclass(frozen=True)
class Seen:
    """A delivery that was kept. `asked`: how many requests we had sent on its link when it was
    answered; a response to a later one shows that the carrier has our answer. None: not yet."""

    fingerprint: str
    message_id: str
    at: datetime
    link: Link
    is_part: bool
    asked: int | None = None


@dataclass(frozen=True)
class Memory:
    """The channel's cursor. `count`: deliveries so far, so that no two ids are the same."""

    count: int = 0
    unfinished: tuple[Unfinished, ...] = ()
    seen: tuple[Seen, ...] = ()

    def text(self) -> str:
        """As it is kept."""
        return _KEPT.dump_json(self).decode()

    def take(
        self, deliver: Deliver, address: str, link: Link, now: datetime, default: str = GSM
    ) -> tuple[Memory, tuple[Incoming, ...]]:
        """Take a delivery in; gives what is complete by it. Channel names are filled in later."""
        place, octets = place_and_octets(deliver)
        fingerprint = fingerprint_of(deliver)
        seen = tuple(s for s in self.seen if now - s.at <= REPEAT_WITHIN)
        for known in seen:
            if _repeats(known, fingerprint, link, is_part=place is not None):
                # From here on it counts as delivered by this link: said again here, it is new.
                again = replace(known, link=link, asked=None)
                return replace(self, seen=tuple(again if s is known else s for s in seen)), ()
        count = self.count + 1
        message_id = f"{now:%Y%m%d%H%M%S}-{count}-{fingerprint[:12]}"
        kept = Seen(fingerprint, message_id, now, link, is_part=place is not None)
        memory = replace(self, count=count, seen=(*seen, kept)[-SEEN_MAX:])
        if place is None:
            text = decoded(octets, deliver.data_coding, default)
            return memory, (Incoming("", message_id, address, text),)
        piece = Piece(place.number, octets.hex(), deliver.data_coding, fingerprint)
        return memory._with_piece(piece, place, address, message_id, now, default)

    def _with_piece(
        self,
        piece: Piece,
        place: Place,
        address: str,
        message_id: str,
        now: datetime,
        default: str,
    ) -> tuple[Memory, tuple[Incoming, ...]]:
        key = (address, place.reference, place.total)
        same = [u for u in self.unfinished if (u.address, u.reference, u.total) == key]
        others = tuple(u for u in self.unfinished if u not in same)
        fresh = Unfinished(address, place.reference, place.total, now, message_id, ())
        whole = same[0] if same else fresh
        given_up: tuple[Incoming, ...] = ()
        if any(known.number == piece.number for known in whole.pieces):
            # Another text in the same place: the number was used again for the next message.
            given_up, whole = (_joined(whole, default),), fresh
        whole = replace(whole, pieces=(*whole.pieces, piece))
        if len(whole.pieces) == whole.total:
            memory = replace(self, unfinished=others)
            return memory, (*given_up, _joined(whole, default))
        return replace(self, unfinished=(*others, whole)), given_up

    def overdue(
        self, now: datetime, wait: timedelta, default: str = GSM
    ) -> tuple[Memory, tuple[Incoming, ...]]:
        """Give up waiting for parts; gives the messages as far as they came."""
        late = [u for u in self.unfinished if now - u.began_at >= wait]
        left = tuple(u for u in self.unfinished if u not in late)
        return replace(self, unfinished=left), tuple(_joined(u, default) for u in late)

    def answered(self, link: Link, asked: int) -> Memory:
        """Our answer to this delivery was written after so many requests of ours."""
        return replace(
            self, seen=tuple(replace(s, asked=asked) if s.link == link else s for s in self.seen)
        )

    def confirmed(self, link_name: str, heard: int) -> Memory:
        """Forget what the carrier has our answer to: the request with this number was responded to
        on that link, so all that we wrote before it has arrived."""
        return replace(
            self,
            seen=tuple(
                s
                for s in self.seen
                if s.is_part or s.link.name != link_name or s.asked is None or s.asked >= heard
            ),
        )


_KEPT = TypeAdapter(Memory)


def remembered(cursor: str | None) -> Memory:
    """The memory that was kept, empty where there is none or it cannot be read."""
    if not cursor:
        return Memory()
    try:
        return _KEPT.validate_json(cursor)
    except ValidationError:
        return Memory()


def _repeats(seen: Seen, fingerprint: str, link: Link, *, is_part: bool) -> bool:
    """A delivery of the same once more. A part is told by its place, so any second one repeats;
    a whole message only on another link, or under the same sequence number."""
    if seen.fingerprint != fingerprint:
        return False
    return is_part or seen.link.name != link.name or seen.link.sequence == link.sequence


def fingerprint_of(deliver: Deliver) -> str:
    """What is the same in two deliveries of one message."""
    parts = [deliver.source.text, deliver.destination.text, f"{deliver.esm_class}"]
    parts += [f"{deliver.data_coding}", deliver.message.hex()]
    told = (Tag.RECEIPTED_MESSAGE_ID, Tag.SAR_MSG_REF_NUM, Tag.SAR_SEGMENT_SEQNUM)
    parts += [deliver.parameters.get(tag, b"").hex() for tag in told]
    return hashlib.sha256("|".join(parts).encode()).hexdigest()[:24]


def _joined(whole: Unfinished, default: str) -> Incoming:
    """The text in order. Parts that follow one another are read as one, since a character may
    begin in one part and end in the next."""
    pieces = {piece.number: piece for piece in whole.pieces}
    places = [(n, pieces.get(n)) for n in range(1, whole.total + 1)]
    texts = []
    for coding, run in groupby(places, key=lambda p: None if p[1] is None else p[1].data_coding):
        if coding is None:
            texts.append(MISSING)
            continue
        octets = b"".join(bytes.fromhex(piece.octets) for _, piece in run if piece is not None)
        texts.append(decoded(octets, coding, default))
    complete = len(pieces) == whole.total
    return Incoming("", whole.message_id, whole.address, ("" if complete else " ").join(texts))


def phone_number(address: Address, region: str | None) -> str:
    """An address as we keep it: E.164 where it is a telephone number, else as it came.

    `region`: country of numbers written without country code, such as "GB"; None: unknown.
    """
    text = address.text.strip()
    abroad = international_number(text)
    if text.startswith(("+", "00")) or address.ton == TypeOfNumber.INTERNATIONAL:
        return abroad or text
    at_home = number_in(text, region) if region else None
    # Not said which: carriers mostly leave out the "+" (common practice, no source).
    first, second = (at_home, None) if address.ton == TypeOfNumber.NATIONAL else (abroad, at_home)
    return first or second or text
