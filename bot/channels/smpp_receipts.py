"""What a carrier says became of a message: a delivery receipt, read out of a deliver_sm.

The layout is a convention, not a standard: what is not understood is handed on as it came, never
guessed. Source: SMPP v3.4, appendix B (text), sections 5.2.12 and 5.3.2.26, 5.3.2.35 (parameters).
Read next: `bot.store.receipts`, which finds the message it speaks of.
"""

from __future__ import annotations

import re

from bot.channels.smpp_pdu import Deliver, Tag
from bot.channels.smpp_text import GSM, decoded, place_and_octets
from bot.ports import Receipt, ReceiptState

MESSAGE_TYPE = 0x3C
"""esm_class: the bits that say what kind of message it is; 0 is one from a person."""

MARKED = re.compile(r"\bid:(\S*)", re.IGNORECASE)
STATED = re.compile(r"\bstat:\s*([A-Za-z]+)", re.IGNORECASE)
OUR_TEXT = re.compile(r"\btext:.*", re.IGNORECASE | re.DOTALL)

BY_NUMBER = {
    1: ReceiptState.ON_ITS_WAY,  # ENROUTE
    2: ReceiptState.DELIVERED,
    3: ReceiptState.FAILED,  # EXPIRED
    4: ReceiptState.FAILED,  # DELETED
    5: ReceiptState.FAILED,  # UNDELIVERABLE
    6: ReceiptState.ON_ITS_WAY,  # ACCEPTED
    8: ReceiptState.FAILED,  # REJECTED
}
"""message_state to what it means. Source: section 5.2.28; 7 is UNKNOWN."""

BY_WORD = {
    "ENROU": ReceiptState.ON_ITS_WAY,
    "ACCEP": ReceiptState.ON_ITS_WAY,
    "DELIV": ReceiptState.DELIVERED,
    "EXPIR": ReceiptState.FAILED,
    "DELET": ReceiptState.FAILED,
    "UNDEL": ReceiptState.FAILED,
    "REJEC": ReceiptState.FAILED,
}
"""The first five letters of `stat`, as some carriers write the words out."""


def receipt(deliver: Deliver, channel: str, address: str, default: str = GSM) -> Receipt | None:
    """The receipt in a delivery, or None where it is a message from a person.

    `address`: whom the receipted message went to. A receipt that is not marked as one is told by
    its id and its state together.
    """
    _, octets = place_and_octets(deliver)
    text = decoded(octets, deliver.data_coding, default)
    marked, stated = MARKED.search(text), STATED.search(text)
    if not deliver.esm_class & MESSAGE_TYPE and not (text.startswith("id:") and stated):
        return None
    told = deliver.parameters.get(Tag.RECEIPTED_MESSAGE_ID, b"").split(b"\0")[0].decode("latin-1")
    reference = told.strip() or (marked[1] if marked else "")
    number = deliver.number(Tag.MESSAGE_STATE)
    state = BY_NUMBER.get(number) if number is not None else None
    if state is None and stated:
        state = BY_WORD.get(stated[1].upper()[:5])
    # Our own text is not kept a second time.
    raw = OUR_TEXT.sub("", text).strip()
    return Receipt(channel, reference, address, state or ReceiptState.UNKNOWN, raw)
