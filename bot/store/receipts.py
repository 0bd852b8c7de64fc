"""What channels say became of messages that they accepted, each receipt kept once and as it came.

A receipt may come before the acceptance is written down, twice, or for a message nobody knows: it
waits until its message is known, and does no harm if that never happens.
"""

from __future__ import annotations

from datetime import datetime

from bot.ports import Receipt, ReceiptState
from bot.store import instants
from bot.store.database import Row, Store

# Messages to one address among which a receipt's is looked for [messages]. Convention: more than a
# patient is sent in a month, and carriers tell nothing after a few days.
LOOKED_AT = 200


def keep(store: Store, receipt: Receipt, now: datetime) -> Row | None:
    """Keep a receipt; gives the row of the outbox that it speaks of. None: it came before, or its
    message is not known, not yet or not at all."""
    receipt_id = store.add_once(
        "receipts",
        {
            "channel": receipt.channel,
            "reference": receipt.reference,
            "address": receipt.address,
            "state": receipt.state,
            "raw": receipt.raw,
            "received_at": instants.text(now),
        },
    )
    message = None if receipt_id is None else _message(store, receipt)
    if message is not None:
        _settle(store, receipt_id, message["id"])
    return message


def waiting_for(store: Store, message: Row) -> list[Receipt]:
    """Receipts that came before their message was written down as accepted; each given once."""
    sql = """
    SELECT * FROM receipts WHERE channel = :channel AND address = :address AND outbox IS NULL
    ORDER BY id
    """
    values = {"channel": message["channel"], "address": message["address"]}
    found = []
    for row in store.rows(sql, values):
        if speaks_of(row["reference"], message["reference"] or ""):
            _settle(store, row["id"], message["id"])
            state = ReceiptState(row["state"])
            found.append(
                Receipt(row["channel"], row["reference"], row["address"], state, row["raw"])
            )
    return found


def _settle(store: Store, receipt_id: int | None, message_id: int) -> None:
    sql = "UPDATE receipts SET outbox = :message WHERE id = :id"
    store.change(sql, {"id": receipt_id, "message": message_id})


def _message(store: Store, receipt: Receipt) -> Row | None:
    """The latest message to this address with this reference; one written the same way first."""
    sql = """
    SELECT * FROM outbox
    WHERE channel = :channel AND address = :address AND reference IS NOT NULL
    ORDER BY id DESC LIMIT :limit
    """
    values = {"channel": receipt.channel, "address": receipt.address, "limit": LOOKED_AT}
    rows = store.rows(sql, values)
    same = [row for row in rows if receipt.reference in row["reference"].split()]
    alike = [row for row in rows if speaks_of(receipt.reference, row["reference"])]
    return next(iter(same or alike), None)


def speaks_of(told: str, accepted: str) -> bool:
    """Whether a receipt's reference is one of those that a message was accepted with.

    The same number may be written with zeros before it or without, in either case of letters, or
    in hexadecimal when accepted and in decimal in the receipt (common practice, no source).
    """
    return any(_plain(told) in (_plain(part), _decimal(part)) for part in accepted.split() if told)


def _plain(reference: str) -> str:
    return reference.strip().lstrip("0").casefold()


def _decimal(reference: str) -> str | None:
    try:
        return str(int(reference, 16))
    except ValueError:
        return None
