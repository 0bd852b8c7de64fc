"""Takes the documents' pictures of the rehearsal clinic: the week's digest, a report, an exercise
sheet.

Run it with `PYTHONPATH=.:tests python tests/pictures.py`. The others are taken by the tests that
look at them, with NEXTMORNING_PICTURES=1.
"""

from __future__ import annotations

import asyncio
import tempfile
from pathlib import Path

from playwright.async_api import async_playwright

from bot.clinicians.weekly_digest import write_digest
from bot.patient_record.record import record_of
from bot.rehearsal.history import Rehearsal, open_rehearsal
from bot.report.exercises import exercise_page
from bot.report.gather import report_of
from bot.report.page import page_of
from bot.store import people
from bot.store.database import Store

PICTURES = Path(__file__).parents[1] / "deploy" / "pictures"
CHROMIUM = "/usr/bin/chromium"
WINDOWS = {
    "report.png": ("report", 1000, 1400),
    "report-on-a-phone.png": ("report", 390, 844),
    "exercises.png": ("exercises", 700, 1000),
}


async def main() -> None:
    """Live the rehearsal's weeks, and take each picture anew."""
    with tempfile.TemporaryDirectory(prefix="nextmorning-") as folder:
        path = Path(folder) / "rehearsal.sqlite"
        async with open_rehearsal(path) as rehearsal:
            drawn = await rehearsal.run(_digest, rehearsal)
            pages = await rehearsal.run(_pages, rehearsal)
        (PICTURES / "digest.png").write_bytes(drawn)
        for name, page in pages.items():
            (Path(folder) / f"{name}.html").write_text(page)
        await _photograph(Path(folder))


def _digest(store: Store, rehearsal: Rehearsal) -> bytes:
    drawn, *_ = write_digest(store, rehearsal.clinic, ["en"], rehearsal.now).pngs["en"]
    return drawn


def _pages(store: Store, rehearsal: Rehearsal) -> dict[str, str]:
    """The report on the patient about whom most was raised, and the exercise sheet of the first."""
    counted = store.one("SELECT patient FROM escalations GROUP BY 1 ORDER BY count(*) DESC", {}, "")
    case = record_of(store, rehearsal.clinic, counted["patient"], rehearsal.now)
    (first, *_) = people.by_role(store, people.Role.PATIENT)
    sheet = exercise_page(record_of(store, rehearsal.clinic, first.id, rehearsal.now))
    return {"report": page_of(report_of(case)), "exercises": sheet}


async def _photograph(folder: Path) -> None:
    async with async_playwright() as playwright:
        browser = await playwright.chromium.launch(
            executable_path=CHROMIUM, args=["--no-sandbox", "--disable-gpu"]
        )
        for name, (page, width, height) in WINDOWS.items():
            window = await browser.new_page(viewport={"width": width, "height": height})
            await window.goto((folder / f"{page}.html").as_uri())
            await window.screenshot(path=str(PICTURES / name))
        await browser.close()


if __name__ == "__main__":
    asyncio.run(main())
