"""Takes the documents' pictures of the rehearsal clinic: the week's digest, and a patient's report.

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
from bot.report.gather import report_of
from bot.report.page import page_of
from bot.store.database import Store

PICTURES = Path(__file__).parents[1] / "deploy" / "pictures"
CHROMIUM = "/usr/bin/chromium"
WINDOWS = {"report.png": (1000, 1400), "report-on-a-phone.png": (390, 844)}


async def main() -> None:
    """Live the rehearsal's weeks, and take each picture anew."""
    with tempfile.TemporaryDirectory(prefix="nextmorning-") as folder:
        path = Path(folder) / "rehearsal.sqlite"
        async with open_rehearsal(path) as rehearsal:
            drawn = await rehearsal.run(_digest, rehearsal)
            page = await rehearsal.run(_report, rehearsal)
        (PICTURES / "digest.png").write_bytes(drawn)
        (Path(folder) / "report.html").write_text(page)
        await _photograph((Path(folder) / "report.html").as_uri())


def _digest(store: Store, rehearsal: Rehearsal) -> bytes:
    drawn, *_ = write_digest(store, rehearsal.clinic, ["en"], rehearsal.now).pngs["en"]
    return drawn


def _report(store: Store, rehearsal: Rehearsal) -> str:
    """Of the patient about whom most was raised."""
    counted = store.one("SELECT patient FROM escalations GROUP BY 1 ORDER BY count(*) DESC", {}, "")
    case = record_of(store, rehearsal.clinic, counted["patient"], rehearsal.now)
    return page_of(report_of(case))


async def _photograph(address: str) -> None:
    async with async_playwright() as playwright:
        browser = await playwright.chromium.launch(
            executable_path=CHROMIUM, args=["--no-sandbox", "--disable-gpu"]
        )
        for name, (width, height) in WINDOWS.items():
            window = await browser.new_page(viewport={"width": width, "height": height})
            await window.goto(address)
            await window.locator("figure").first.scroll_into_view_if_needed()
            if width < 600:
                await window.evaluate("scrollTo(0, document.querySelector('figure').offsetTop)")
            else:
                await window.evaluate("scrollTo(0, 0)")
            await window.screenshot(path=str(PICTURES / name))
        await browser.close()


if __name__ == "__main__":
    asyncio.run(main())
