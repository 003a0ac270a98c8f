"""The page in a real browser: a spoken day, bad links, two phones, and what a stranger gets."""

from __future__ import annotations

import shutil
import signal
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
import soundfile
from fixtures import AUDIO
from page.machine import DRAIN, Machine, free_port
from page.proxy import Proxy

pytest.importorskip("playwright", reason="playwright is not installed")
if shutil.which("chromium") is None or shutil.which("certutil") is None:
    pytest.skip("chromium or certutil (libnss3-tools) is not installed", allow_module_level=True)

from page.browser import NOTED, SIZES, paired, phone, problems, shown, state_is, typed, until
from playwright.sync_api import Page, Playwright, sync_playwright

from assistant.hearing.port import SAMPLE_RATE
from assistant.hearing.sources import blocks

RATE = 48_000
GAP = 1.8


@pytest.fixture(scope="module")
def playwright() -> Iterator[Playwright]:
    with sync_playwright() as one:
        yield one


@dataclass(frozen=True)
class Spoken:
    """When, in seconds from the opening of the microphone, something is said."""

    start: float
    end: float


def day(path: Path, names: list[str], gaps: Callable[[int], float] = lambda number: GAP) -> list[Spoken]:
    """One WAV of 48 kHz, as the microphone of a phone would give, with the bundled recordings one after another."""
    noise = np.random.default_rng(0)
    parts, spoken, at = [noise.normal(0, 20, 3 * RATE)], [], 3.0
    for number, name in enumerate(names):
        sound = np.repeat(np.concatenate(list(blocks(AUDIO / name))), RATE // SAMPLE_RATE)
        length = len(sound) / RATE
        spoken.append(Spoken(at, at + length))
        parts += [sound, noise.normal(0, 20, int(gaps(number) * RATE))]
        at += length + gaps(number)
    soundfile.write(path, np.concatenate(parts).astype(np.int16), RATE)
    return spoken


def open_microphone(page: Page) -> float:
    """Press once; returns when the microphone began to hear, by our own clock."""
    page.click("#button")
    state_is(page, "Connected. Microphone ready.")
    heard = page.evaluate("performance.now() - window.opened") / 1000
    return time.monotonic() - heard


def hold(page: Page, began: float, spoken: Spoken) -> None:
    """Hold the button around what is said."""
    page.wait_for_timeout(max(0.0, began + spoken.start - 0.5 - time.monotonic()) * 1000)
    page.hover("#button")
    page.mouse.down()
    page.wait_for_timeout(max(0.0, began + spoken.end + 0.3 - time.monotonic()) * 1000)
    page.mouse.up()


STRANGER = """async () => {
  const link = new WebSocket(`wss://${location.host}/link?life=${'a'.repeat(16)}`);
  const closed = await new Promise((done) => {
    link.onclose = () => done('closed');
    link.onmessage = () => done('let in');
  });
  const files = ['/app.js', '/link.js', '/sw.js'].map((file) => fetch(file).then((r) => r.status));
  return [closed, ...await Promise.all(files)];
}"""

ROOM = """() => {
  const box = document.getElementById('answer');
  return [box.scrollHeight, box.clientHeight, parseFloat(getComputedStyle(document.getElementById('shown')).fontSize)];
}"""
"""The height of the answer, that of its room, and the size of its text: only lists of help are scrolled."""

ASTRAY = """async () => {
  const seen = [];
  addEventListener('securitypolicyviolation', (event) => seen.push(event.blockedURI));
  await fetch('https://127.0.0.2/').catch(() => 0);
  await new Promise((done) => setTimeout(done, 100));
  return seen;
}"""

CACHED = "caches.keys().then((k) => k.length && caches.open(k[0]).then((c) => c.keys()).then((k) => k.length > 9))"

DEMO = [f"demo/{number:02}.ogg" for number in range(1, 17)]


def written(machine: Machine) -> list[tuple[str, str | None]]:
    """What is in the book: kinds, and exact readings in feet."""
    return [
        (entry["kind"], entry["payload"]["reading"]["amount"] if entry["kind"] == "reading" else None)
        for entry in machine.entries()
    ]


def by_hand(tmp_path: Path) -> list[tuple[str, str | None]]:
    """The same day typed, by the command that has no page: the book to compare with."""
    import csv
    import subprocess
    import sys

    from fixtures import ROOT

    with (AUDIO / "manifest.csv").open() as stream:
        words = [row["words"] for row in csv.DictReader(stream) if row["file"] in DEMO]
    other = Machine(tmp_path)
    other.book = tmp_path / "typed.rodside"
    command = [sys.executable, "-m", "assistant", "ask", "--book", str(other.book), *words]
    subprocess.run(command, check=True, capture_output=True, cwd=ROOT)
    return written(other)


def test_a_spoken_day(playwright: Playwright, tmp_path: Path) -> None:
    machine = Machine(tmp_path)
    machine.start()
    sound = tmp_path / "day.wav"
    said = day(sound, DEMO)
    with phone(playwright, machine, tmp_path, sound=sound) as context:
        context.add_init_script(NOTED)
        page = paired(context, machine)
        began = open_microphone(page)
        for spoken in said:
            hold(page, began, spoken)
        page.wait_for_selector("body[data-waiting='0']")
        assert "0+60" in shown(page)
        page.wait_for_timeout(1500)
        played = page.evaluate("window.played")
        shaken = page.evaluate("window.shaken.length")
    machine.stop()
    assert written(machine) == by_hand(tmp_path)
    assert {entry["engine"] for entry in machine.entries()[1:]} == {"vosk"}
    assert len(played) >= len(DEMO)
    assert all(0.4 < one["seconds"] < 12 and one["level"] > 0.01 for one in played), "what is played can be heard"
    assert shaken == len(DEMO)


def test_a_day_with_a_bad_link(playwright: Playwright, tmp_path: Path) -> None:
    """300 ms there and back, 2 % of the pieces late, the link cut ten times, the machine killed three times."""
    machine = Machine(tmp_path, "--quiet")
    machine.start()
    inside = machine.port
    proxy = Proxy(free_port(), inside, bad=True)
    machine.port = proxy.port
    sound = tmp_path / "day.wav"
    killed = (3, 8, 13)
    said = day(sound, DEMO, lambda number: 15 if number in killed else 5)
    cuts = kills = 0
    with phone(playwright, machine, tmp_path, sound=sound) as context:
        context.add_init_script(NOTED)
        machine.port = inside
        code = machine.code().replace(" ", "")
        machine.port = proxy.port
        page = context.pages[0]
        page.goto(f"{machine.url}/pair?code={code}")
        page.click("button")
        page.wait_for_selector("body[data-connected=true]")
        began = open_microphone(page)
        for number, spoken in enumerate(said):
            middle = (spoken.start + spoken.end) / 2
            page.wait_for_timeout(max(0.0, began + spoken.start - 0.5 - time.monotonic()) * 1000)
            page.hover("#button")
            page.mouse.down()
            page.wait_for_timeout(max(0.0, began + middle - time.monotonic()) * 1000)
            if number % 5 in (0, 2, 3):
                proxy.cut()
                cuts += 1
                state_is(page, "Not connected")
            page.wait_for_timeout(max(0.0, began + spoken.end + 0.3 - time.monotonic()) * 1000)
            page.mouse.up()
            proxy.mend()
            if number in killed:
                machine.port = inside
                machine.stop(signal.SIGKILL)
                machine.start()
                machine.port = proxy.port
                kills += 1
            page.wait_for_selector("body[data-waiting='0'][data-connected=true]", timeout=30_000)
            assert time.monotonic() < began + spoken.end + (14 if number in killed else 4), "too slow to go on"
        assert "0+60" in shown(page)
    proxy.close()
    machine.port = inside
    machine.stop()
    assert (cuts, kills) == (10, 3)
    assert written(machine) == by_hand(tmp_path)


def test_said_without_a_link_is_sent_later(playwright: Playwright, machine: Machine, tmp_path: Path) -> None:
    with phone(playwright, machine, tmp_path / "browser") as context:
        page = paired(context, machine)
        for words in DRAIN:
            typed(page, words)
        machine.stop(signal.SIGKILL)
        page.wait_for_selector("body[data-connected=false]")
        for station in (10, 20, 30):
            page.click("#type")
            page.fill("#text", f"reading three foot nine at {station}")
            page.press("#text", "Enter")
        assert page.inner_text("#state").startswith("Not connected. 3 sentences wait.")
        machine.start()
        page.wait_for_selector("body[data-connected=true][data-waiting='0']", timeout=20_000)
        assert shown(page).startswith("3 ft 9 in at 0+30.")
    assert [entry["kind"] for entry in machine.entries()].count("reading") == 3


def test_tap_and_fall_silent(playwright: Playwright, machine: Machine, tmp_path: Path) -> None:
    sound = tmp_path / "day.wav"
    (spoken,) = day(sound, DEMO[:1])
    with phone(playwright, machine, tmp_path / "browser", sound=sound) as context:
        context.add_init_script(NOTED)
        page = paired(context, machine)
        began = open_microphone(page)
        page.wait_for_timeout((began + spoken.start - 0.7 - time.monotonic()) * 1000)
        page.click("#button")
        until(page, "document.getElementById('shown').textContent === 'Rod in feet and inches.'", 9)


def test_one_logs_one_looks_a_third_gets_nothing(playwright: Playwright, machine: Machine, tmp_path: Path) -> None:
    with (
        phone(playwright, machine, tmp_path / "one") as one,
        phone(playwright, machine, tmp_path / "two") as two,
        phone(playwright, machine, tmp_path / "three") as three,
    ):
        logger, viewer = paired(one, machine), paired(two, machine, "view", "boss")
        stranger = three.pages[0]
        stranger.goto(machine.url)
        assert stranger.url.endswith("/pair")
        answers = stranger.evaluate(STRANGER)
        assert answers == ["closed", 404, 404, 404]
        for words in [*DRAIN, "reading three feet nine at station forty"]:
            typed(logger, words)
        until(viewer, "document.getElementById('figure').textContent === '9 5/8 in'")
        assert viewer.is_disabled("#button")
        viewer.click("#open-book")
        assert viewer.inner_text("#lines tr:first-child") == "0+40\t3 ft 9 in\tcut 9\xa05/8\xa0in"
        typed(logger, "scratch that")
        viewer.wait_for_selector("tr.gone")
        machine.beside("--revoke", "phone")
        until(logger, "document.getElementById('state').textContent.startsWith('Not paired')", 15)


def test_no_request_leaves_the_origin_and_the_page_is_light(
    playwright: Playwright, machine: Machine, tmp_path: Path
) -> None:
    with phone(playwright, machine, tmp_path / "browser") as context:
        asked: dict[str, int] = {}
        context.on("response", lambda response: asked.update({response.url: len(response.body())}))
        problems_told: list[str] = []
        page = context.pages[0]
        page.on("console", lambda message: problems_told.append(message.text))
        page.on("pageerror", lambda error: problems_told.append(str(error)))
        page = paired(context, machine)
        page.wait_for_timeout(500)
        assert asked
        assert {url.split("/")[2] for url in asked} == {f"127.0.0.1:{machine.port}"}
        assert sum(asked.values()) < 150_000
        assert problems_told == []
        violations = page.evaluate(ASTRAY)
        assert violations, "the policy keeps a page that was led astray from calling elsewhere"


def test_it_opens_without_the_machine(playwright: Playwright, machine: Machine, tmp_path: Path) -> None:
    with phone(playwright, machine, tmp_path / "browser") as context:
        page = paired(context, machine)
        for words in [*DRAIN, "reading three feet nine at station forty"]:
            typed(page, words)
        page.evaluate("navigator.serviceWorker.ready.then(() => 1)")
        until(page, CACHED)
        machine.stop()
        page.reload()
        assert page.inner_text("#figure") == "9 5/8 in"
        state_is(page, "Not connected")
        page.click("#open-book")
        assert "0+40" in page.inner_text("#lines")
        machine.start()
        page.wait_for_selector("body[data-connected=true]")


@pytest.mark.parametrize("size", SIZES)
def test_every_target_can_be_hit_and_nothing_is_cut_off(
    playwright: Playwright, shared_machine: Machine, tmp_path: Path, size: str
) -> None:
    with phone(playwright, shared_machine, tmp_path, size=size) as context:
        page = paired(context, shared_machine, name=size)
        for words in ("rod in feet and inches", "what can i say", "how much fall in sixty feet at two percent"):
            typed(page, words)
            assert problems(page) == []
            high, room, size_px = page.evaluate(ROOM)
            assert high <= room + 1 or (words.startswith("what") and size_px == 20), words
        for way in ("#type", "#open-book", "#open-choices"):
            page.click(way)
            assert problems(page) == []
            if way == "#type":
                page.click("#typing .back")
        page.click("#hand")
        page.click("#choices .back")
        assert problems(page) == []


@pytest.mark.parametrize("dark", [False, True])
def test_axe_finds_nothing_serious(playwright: Playwright, shared_machine: Machine, tmp_path: Path, dark: bool) -> None:
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe-playwright-python is not installed")
    with phone(playwright, shared_machine, tmp_path, dark=dark) as context:
        page = context.pages[0]
        found = []

        def look() -> None:
            got = axe.Axe().run(page, options={"rules": {"color-contrast-enhanced": {"enabled": True}}})
            found.extend(f"{one['impact']}: {one['id']} {page.url}" for one in got.response["violations"])

        page.goto(f"http://127.0.0.1:{shared_machine.landing_port}/")
        look()
        page.goto(f"{shared_machine.url}/pair")
        look()
        page = paired(context, shared_machine, name=f"dark {dark}")
        typed(page, "rod in feet and inches")
        look()
        for way in ("#type", "#open-book", "#open-choices"):
            page.click(way)
            look()
            if way == "#type":
                page.click("#typing .back")
    assert [one for one in found if not one.startswith("minor")] == []
