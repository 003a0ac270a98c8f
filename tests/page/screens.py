"""Makes the pictures of `assistant/page/docs` again: `PYTHONPATH=.:tests python -m page.screens`. Needs pillow."""

from __future__ import annotations

import re
import tempfile
from pathlib import Path

from fixtures import ROOT
from page.browser import SIZES, paired, phone, state_is, typed
from page.machine import DRAIN, Machine
from playwright.sync_api import Page, sync_playwright

PLACE = ROOT / "assistant" / "page" / "docs"

WANTED = set(re.findall(r"\((\S+)\.png\)", (PLACE / "README.md").read_text("utf-8")))

READINGS = (
    "three foot nine at station zero", "four foot three and a half at twenty", "four foot six and a half at forty",
    "four foot nine at sixty", "five foot four at eighty", "five foot one and a quarter at one hundred",
)  # fmt: skip
SHOWN = "reading three foot nine and a quarter at station forty"


def main() -> None:
    """One machine, a small job, and every screen in every size, by day and at night."""
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        machine = Machine(Path(folder), "--quiet")
        machine.start()
        for number, (size, dark) in enumerate((size, dark) for size in SIZES for dark in (False, True)):
            place = Path(folder) / str(number)
            with phone(playwright, machine, place, size=size, dark=dark) as context:
                page = paired(context, machine, name=str(number))
                for words in [*DRAIN, *(f"reading {one}" for one in READINGS)] if number == 0 else []:
                    typed(page, words)
                _every_screen(page, machine, f"{size}-{'night' if dark else 'light'}")
        machine.stop()


def _every_screen(page: Page, machine: Machine, name: str) -> None:
    typed(page, SHOWN)
    _picture(page, f"{name}-cut")
    typed(page, "scratch that")
    for way, word in (("#open-book", "book"), ("#open-choices", "choices")):
        page.click(way)
        _picture(page, f"{name}-{word}")
    page.click("#choices .back")
    page.click("#type")
    _picture(page, f"{name}-type")
    page.click("#typing .back")
    typed(page, "baseline four foot two at station zero")
    _picture(page, f"{name}-question")
    typed(page, "never mind")
    if name == "upright-light":
        machine.stop()
        state_is(page, "Not connected")
        page.click("#type")
        page.fill("#text", "reading three foot nine at station ten")
        page.press("#text", "Enter")
        page.click("#scratch")
        _picture(page, f"{name}-offline")
        page.evaluate("localStorage.clear()")
        machine.start()
        page.wait_for_selector("body[data-connected=true][data-waiting='0']")


def _picture(page: Page, name: str) -> None:
    from io import BytesIO

    from PIL import Image

    if name not in WANTED:
        return
    page.wait_for_timeout(150)
    whole = Image.open(BytesIO(page.screenshot())).convert("L")
    small = whole.resize((whole.width // 2, whole.height // 2), Image.Resampling.LANCZOS)
    small.quantize(8).save(PLACE / f"{name}.png", optimize=True)


if __name__ == "__main__":
    main()
