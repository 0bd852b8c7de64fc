"""Promise: one odd message keeps nobody else from being heard, and no echo goes on for ever."""

from __future__ import annotations

from pathlib import Path

from world import MONDAY, World

from bot.delivery.receive import TEXT_MAX, receive
from bot.ports import Incoming
from bot.rehearsal.stage import CHAT
from bot.store import inbox
from bot.store.database import Store
from bot.store.migrations import migrate


def test_an_odd_message_does_not_hold_up_its_batch(tmp_path: Path) -> None:
    """Half a character pair, a NUL, a text without end: kept as far as it can be."""
    store = Store(tmp_path / "clinic.db")
    migrate(store)
    odd = ("my heel \ud83d snapped", "nul \0 here", "x" * 10 * TEXT_MAX)
    batch = [Incoming(CHAT, f"{n}", "ana", text) for n, text in enumerate((*odd, "2 10"))]

    new = store.do(receive, batch, CHAT, "7", MONDAY)

    kept = [row["text"] for row in store.rows("SELECT text FROM inbox ORDER BY id")]
    assert new == 4
    assert kept == ["my heel ? snapped", "nul ? here", "x" * TEXT_MAX, "2 10"]
    assert store.do(inbox.cursor, CHAT) == "7"


async def test_a_telephone_that_replies_by_itself_is_not_answered_for_ever(world: World) -> None:
    """Sixty times within an hour: three replies; a worry and numbers are heard all the same."""
    await world.clinician("Ilse")
    ana = await world.patient()
    await ana.says("2 10")

    replies = [await ana.says("Auto reply: in a meeting, back at five") for _ in range(60)]
    worried = await ana.says("I heard a snap in my heel")

    assert sum(bool(one) for one in replies) == 3
    assert "112" in worried[0]


async def test_who_declined_and_starts_again_is_asked_to_agree_first(world: World) -> None:
    """No question about the tendon comes before a yes, and no number alarms."""
    await world.clinician("Ilse")
    ana, code = await world.invited("Ana")
    await ana.says(code)
    await ana.says("no")

    asked = await ana.says("start")
    numbers = await ana.says("2 10")
    agreed = await ana.says("yes")

    assert "Do you agree?" in asked[-1]
    assert "YES or NO" in numbers[-1]
    assert "city" in agreed[-1]
    assert [one.sign for one in await world.escalations(ana)] == ["opted-out"]
