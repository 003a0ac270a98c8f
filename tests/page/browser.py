"""Phones with a browser: Debian's chromium, which trusts the machine's authority as a phone would be told to."""

from __future__ import annotations

import shutil
import subprocess
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from page.machine import Machine
from playwright.sync_api import BrowserContext, Page, Playwright

CHROMIUM = shutil.which("chromium")

SIZES = {"upright": (360, 740), "sideways": (740, 360), "tablet": (820, 1180)}

HEARD = """
const made = AudioContext.prototype.createBufferSource;
window.played = [];
AudioContext.prototype.createBufferSource = function () {
  const source = made.call(this), start = source.start.bind(source);
  source.start = (...given) => {
    const data = source.buffer.getChannelData(0);
    let sum = 0;
    for (const sample of data) sum += sample * sample;
    window.played.push({ seconds: source.buffer.duration, level: Math.sqrt(sum / data.length), at: performance.now() });
    return start(...given);
  };
  return source;
};
navigator.vibrate = (beats) => { (window.shaken ||= []).push(beats); return true; };
"""
"""Notes what the page plays: length in seconds and level, and when."""


NOTED = """
const open = navigator.mediaDevices.getUserMedia.bind(navigator.mediaDevices);
navigator.mediaDevices.getUserMedia = async (wish) => {
  const got = await open(wish);
  window.opened = performance.now();
  return got;
};
"""
"""Notes when the microphone was opened."""


@contextmanager
def phone(
    playwright: Playwright, machine: Machine, folder: Path, *, sound: Path | None = None, size: str = "upright",
    dark: bool = False,
) -> Iterator[BrowserContext]:  # fmt: skip
    """A browser of its own, with `sound` as what its microphone hears from its opening on."""
    if CHROMIUM is None:
        pytest.skip("chromium is not installed")
    home = folder / "home"
    trust(home, machine)
    width, height = SIZES[size]
    arguments = ["--use-fake-ui-for-media-stream", "--use-fake-device-for-media-stream"]
    if sound is not None:
        arguments.append(f"--use-file-for-fake-audio-capture={sound}%noloop")
    context = playwright.chromium.launch_persistent_context(
        str(folder / "profile"), executable_path=CHROMIUM, args=arguments, env={"HOME": str(home)},
        viewport={"width": width, "height": height}, device_scale_factor=2, has_touch=True,
        color_scheme="dark" if dark else "light",
    )  # fmt: skip
    context.add_init_script(HEARD)
    try:
        yield context
    finally:
        context.close()


def trust(home: Path, machine: Machine) -> None:
    """Trust the authority, as the landing page tells the owner of a phone to."""
    certutil = shutil.which("certutil")
    if certutil is None:
        pytest.skip("certutil (libnss3-tools) is not installed")
    store = home / ".pki" / "nssdb"
    store.mkdir(parents=True)
    root = machine.folder / "state" / "certificates" / "authority.pem"
    subprocess.run([certutil, "-d", f"sql:{store}", "-N", "--empty-password"], check=True)
    command = [certutil, "-d", f"sql:{store}", "-A", "-n", "crew", "-t", "C,,", "-i", root]
    subprocess.run(list(map(str, command)), check=True)


def paired(context: BrowserContext, machine: Machine, rights: str = "log", name: str = "phone") -> Page:
    """The page, after pairing by its form."""
    page = context.pages[0] if context.pages else context.new_page()
    page.goto(f"{machine.url}/pair?code={machine.code(rights).replace(' ', '')}")
    page.fill("#name", name)
    page.click("button")
    page.wait_for_selector("body[data-connected=true]")
    return page


def typed(page: Page, words: str) -> str:
    """Type, and give what is then shown."""
    page.click("#type")
    page.fill("#text", words)
    page.press("#text", "Enter")
    page.wait_for_selector("body[data-waiting='0']")
    return shown(page)


def until(page: Page, condition: str, seconds: float = 15) -> None:
    """Wait until an expression is true. (The page's own policy forbids what Playwright has for that.)"""
    ends = time.monotonic() + seconds
    while not page.evaluate(condition):
        assert time.monotonic() < ends, f"{condition}: {page.inner_text('body')}"
        page.wait_for_timeout(30)


def state_is(page: Page, words: str) -> None:
    """Wait until the line of state begins so."""
    until(page, f"document.getElementById('state').textContent.startsWith('{words}')")


def shown(page: Page) -> str:
    return page.inner_text("#shown").replace("\xa0", " ")


def problems(page: Page) -> list[dict[str, Any]]:
    """Targets under 20 mm, at the 163 px an inch of the finest unit that a phone's system makes."""
    found: list[dict[str, Any]] = page.evaluate(
        """() => [...document.querySelectorAll('button, input')].filter(e => e.checkVisibility())
        .map(e => ({id: e.id || e.textContent, box: e.getBoundingClientRect()}))
        .filter(({box}) => box.width < 128.3 || box.height < 128.3 || box.left < 0 || box.top < 0
          || box.right > innerWidth || box.bottom > innerHeight)
        .map(({id, box}) => ({id, width: box.width, height: box.height, bottom: box.bottom}))"""
    )
    return found
