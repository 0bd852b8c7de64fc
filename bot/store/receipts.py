"""What channels say became of messages that they accepted, each receipt kept once and as it came.

A receipt may come before the acceptance is written down, twice, or for a message nobody knows: it
waits until its message is known, and does no harm if that never happens.
"""

from __future__ import annotations

from datetime import datetime

from bot.ports import Receipt, ReceiptState
from bot.store import instants
from bot.store.database import Row, Store


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
    SELECT * FROM receipts
    WHERE channel = :channel AND address = :address AND reference = :reference
    AND reference != '' AND outbox IS NULL
    ORDER BY id
    """
    values = {key: message[key] for key in ("channel", "address", "reference")}
    found = []
    for row in store.rows(sql, values):
        _settle(store, row["id"], message["id"])
        state = ReceiptState(row["state"])
        found.append(Receipt(row["channel"], row["reference"], row["address"], state, row["raw"]))
    return found


def _settle(store: Store, receipt_id: int | None, message_id: int) -> None:
    sql = "UPDATE receipts SET outbox = :message WHERE id = :id"
    store.change(sql, {"id": receipt_id, "message": message_id})


def _message(store: Store, receipt: Receipt) -> Row | None:
    """The latest message to this address that was accepted with this reference."""
    sql = """
    SELECT * FROM outbox
    WHERE channel = :channel AND address = :address
    AND reference = :reference AND reference != ''
    ORDER BY id DESC LIMIT 1
    """
    values = {
        "channel": receipt.channel,
        "address": receipt.address,
        "reference": receipt.reference,
    }
    return next(iter(store.rows(sql, values)), None)
