"""Text to octets and back, as short messages carry it: GSM-7 where it fits, UCS-2 where not, long
texts in parts with a header that says which part of what.

Never: splits an escaped character or a surrogate pair, fails on octets that make no text.
Source: 3GPP TS 23.038 (alphabets, data coding scheme), 3GPP TS 23.040 section 9.2.3.24 (headers),
SMPP v3.4 section 5.2.19 (data_coding). Read next: `smpp_inbound`.
"""

from __future__ import annotations

from dataclasses import dataclass

import smsutil

from bot.channels.smpp_pdu import Deliver, Tag

DEFAULT_CODING, UCS2_CODING = 0x00, 0x08

GSM = "gsm"
"""The alphabet of 3GPP TS 23.038, one octet a septet, as SMPP carries it (common practice)."""

CODINGS = {
    0x01: "latin-1",  # IA5, of which it is a superset
    0x03: "latin-1",
    0x05: "iso2022_jp",
    0x06: "iso8859_5",
    0x07: "iso8859_8",
    0x08: "utf_16_be",
    0x0A: "iso2022_jp",
    0x0E: "euc_kr",
}
"""data_coding to Python's codec. 0 is the carrier's default alphabet; others are not text."""

NOT_TEXT = "[not text]"
"""Stands for octets that are no text, such as a picture or a ring tone."""

# Information elements of a header: number, then length of what follows.
EIGHT_BIT_REFERENCE, SIXTEEN_BIT_REFERENCE = (0x00, 3), (0x08, 4)


@dataclass(frozen=True)
class Encoded:
    """A text as octets: one body a part, each with its header where there are several."""

    data_coding: int
    headed: bool
    bodies: tuple[bytes, ...]


@dataclass(frozen=True)
class Place:
    """Which part of which long message: `number` of `total`, counted from 1."""

    reference: int
    total: int
    number: int


def encoded(text: str, reference: int) -> Encoded:
    """A text in as few parts as it takes. `reference` [0-255]: common to the parts, and another
    one for the next long message."""
    split = smsutil.split(text)
    gsm = split.encoding.startswith("gsm")
    contents = [part.content for part in split.parts] or [""]
    bodies = [smsutil.encode(c) if gsm else c.encode("utf-16-be") for c in contents]
    total = len(bodies)
    if total > 1:
        head = bytes((5, *EIGHT_BIT_REFERENCE, reference, total))
        bodies = [head + bytes((number,)) + body for number, body in enumerate(bodies, 1)]
    return Encoded(DEFAULT_CODING if gsm else UCS2_CODING, total > 1, tuple(bodies))


def decoded(octets: bytes, data_coding: int, default: str = GSM) -> str:
    """The text that octets stand for; what cannot be read becomes a replacement character."""
    codec = _codec(data_coding, default)
    if codec is None:
        return NOT_TEXT
    if codec != GSM:
        return octets.decode(codec, "replace")
    if any(octet > 0x7F for octet in octets):
        return octets.decode("latin-1")  # no GSM-7 has such octets; this is what it mostly is
    return str(smsutil.decode(octets))


def _codec(coding: int, default: str) -> str | None:
    """The codec of a data_coding, None for what is not text."""
    if coding == DEFAULT_CODING:
        return default
    group = coding >> 4
    if group == 0:
        return CODINGS.get(coding)
    if group in (0x1, 0x2, 0x3):  # general groups with a message class
        return (GSM, None, "utf_16_be", None)[coding >> 2 & 3]
    if group == 0xE:  # message waiting, UCS-2
        return "utf_16_be"
    if group == 0xF and coding & 0x04:
        return None
    return GSM if group in (0xC, 0xD, 0xF) else None


def place_and_octets(deliver: Deliver) -> tuple[Place | None, bytes]:
    """Which part of a long message this is, and its octets without header. None: a whole one."""
    octets = deliver.message
    if deliver.headed and octets and 1 + octets[0] <= len(octets):
        header, octets = octets[1 : 1 + octets[0]], octets[1 + octets[0] :]
        return _place_in(header), octets
    reference = deliver.number(Tag.SAR_MSG_REF_NUM)
    total = deliver.number(Tag.SAR_TOTAL_SEGMENTS)
    number = deliver.number(Tag.SAR_SEGMENT_SEQNUM)
    if reference is None or total is None or number is None:
        return None, octets
    return _sound(Place(reference, total, number)), octets


def _place_in(header: bytes) -> Place | None:
    while len(header) >= 2 and len(header) >= 2 + header[1]:
        element, value = (header[0], header[1]), header[2 : 2 + header[1]]
        if element == EIGHT_BIT_REFERENCE:
            return _sound(Place(value[0], value[1], value[2]))
        if element == SIXTEEN_BIT_REFERENCE:
            return _sound(Place(int.from_bytes(value[:2], "big"), value[2], value[3]))
        header = header[2 + header[1] :]
    return None


def _sound(place: Place) -> Place | None:
    """A place that cannot be is ignored, and so is "1 of 1". Source: TS 23.040, 9.2.3.24.1."""
    return place if 1 <= place.number <= place.total and place.total > 1 else None
