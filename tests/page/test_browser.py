"""The page in a real browser: a spoken day, bad links, two phones, and what a stranger gets."""

from __future__ import annotations

import os
import re
import shutil
import signal
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from threading import Thread

import numpy as np
import pytest
import soundfile
from fixtures import AUDIO, ROOT
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

    with (AUDIO / "manifest.csv").open() as stream:
        words = [row["words"] for row in csv.DictReader(stream) if row["file"] in DEMO]
    other = Machine(tmp_path)
    other.book = tmp_path / "typed.rodside"
    command = [sys.executable, "-m", "assistant", "ask", "--book", str(other.book), *words]
    subprocess.run(command, check=True, capture_output=True, cwd=ROOT)
    return written(other)


@pytest.fixture
def speaking_machine(tmp_path: Path) -> Iterator[Machine]:
    one = Machine(tmp_path)
    one.start()
    yield one
    if one.process is not None and one.process.poll() is None:
        one.stop(signal.SIGKILL)


LONG = pytest.mark.skipif(
    "RODSIDE_LONG" not in os.environ, reason="a whole day in a browser takes minutes: set RODSIDE_LONG=1"
)


@LONG
def test_a_spoken_day(playwright: Playwright, speaking_machine: Machine, tmp_path: Path) -> None:
    machine = speaking_machine
    sound = tmp_path / "day.wav"
    said = day(sound, DEMO)
    with phone(playwright, machine, tmp_path / "browser", sound=sound) as context:
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
    assert {entry["engine"].partition(" ")[0] for entry in machine.entries()[1:]} == {"vosk"}
    assert len(played) >= len(DEMO)
    assert all(0.4 < one["seconds"] < 12 and one["level"] > 0.01 for one in played), "what is played can be heard"
    assert shaken == len(DEMO)


CUT = frozenset({0, 1, 2, 3, 4, 5, 6, 7, 10, 13})
KILLED = frozenset({8, 11, 14})
"""Sentences of the day in whose middle the link is cut, and after which the machine is killed."""


@LONG
def test_a_day_with_a_bad_link(playwright: Playwright, machine: Machine, tmp_path: Path) -> None:
    """300 ms there and back, 2 % of the pieces late, the link cut ten times, the machine killed three times.

    After a kill the talk goes on while the machine starts again. Only what answers a question waits for the question.
    """
    sound = tmp_path / "day.wav"
    said = day(sound, DEMO, lambda number: 5.5 if number in CUT or number + 1 in CUT else 3.0)
    inside, restarts = machine.port, []
    proxy = Proxy(free_port(), inside, bad=True)
    with phone(playwright, machine, tmp_path / "browser", sound=sound) as context:
        context.add_init_script(NOTED)
        page = context.pages[0]
        page.goto(f"https://127.0.0.1:{proxy.port}/pair?code={machine.code().replace(' ', '')}")
        page.click("button")
        page.wait_for_selector("body[data-connected=true]")
        began = open_microphone(page)
        for number, spoken in enumerate(said):
            page.wait_for_timeout(max(0.0, began + spoken.start - 0.5 - time.monotonic()) * 1000)
            page.hover("#button")
            page.mouse.down()
            assert time.monotonic() < began + spoken.start, "too slow to hear all that is said"
            if number in CUT:
                page.wait_for_timeout((began + (spoken.start + spoken.end) / 2 - time.monotonic()) * 1000)
                assert page.get_attribute("body", "data-connected") == "true"
                proxy.cut()
                state_is(page, "Not connected")
            page.wait_for_timeout(max(0.0, began + spoken.end + 0.3 - time.monotonic()) * 1000)
            page.mouse.up()
            proxy.mend()
            if number in KILLED:
                machine.stop(signal.SIGKILL)
                restarts.append(Thread(target=machine.start))
                restarts[-1].start()
            else:
                page.wait_for_selector("body[data-waiting='0'][data-connected=true]", timeout=40_000)
        for restart in restarts:
            restart.join()
        page.wait_for_selector("body[data-waiting='0'][data-connected=true]", timeout=40_000)
        assert "0+60" in shown(page)
    proxy.close()
    machine.stop()
    assert written(machine) == by_hand(tmp_path)


def test_said_without_a_link_is_sent_later(playwright: Playwright, machine: Machine, tmp_path: Path) -> None:
    with phone(playwright, machine, tmp_path / "browser") as context:
        page = paired(context, machine)
        for words in [*DRAIN, "reading three feet nine at station forty"]:
            typed(page, words)
        assert page.inner_text("#figure") == "9 5/8 in"
        machine.stop(signal.SIGKILL)
        page.wait_for_selector("body[data-connected=false]")
        for station in (10, 20, 30):
            page.click("#type")
            page.fill("#text", f"reading three foot nine at {station}")
            page.press("#text", "Enter")
        assert page.inner_text("#state").startswith("Not connected. 3 sentences wait.")
        assert shown(page) == "No answer yet."
        assert page.text_content("#figure") == "", "an old figure is no answer to a new reading"
        assert page.is_disabled("#again")
        machine.start()
        page.wait_for_selector("body[data-connected=true][data-waiting='0']", timeout=20_000)
        assert shown(page).startswith("3 ft 9 in at 0+30.")
    assert [entry["kind"] for entry in machine.entries()].count("reading") == 4


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
        assert viewer.inner_text("#lines tr:first-child") == "0+40\t3 ft 9 in\tcut 9\xa05/8\xa0in ± 1/8\xa0in"
        typed(logger, "scratch that")
        viewer.wait_for_selector("tr.gone")
        machine.beside("--revoke", "phone")
        until(logger, "document.getElementById('state').textContent.startsWith('Not paired')", 15)


@pytest.mark.parametrize("status", [429, 503])
def test_a_paired_phone_that_is_refused_for_now_is_told_so(
    playwright: Playwright, machine: Machine, tmp_path: Path, status: int
) -> None:
    with phone(playwright, machine, tmp_path / "browser") as context:
        page = paired(context, machine)
        refused = {"status": status, "body": "Wait a little.", "content_type": "text/plain"}
        page.route("**/who", lambda route: route.fulfill(**refused))
        machine.stop(signal.SIGKILL)
        state_is(page, "The machine is busy. Trying again.")
        assert page.inner_text("#button-word") != "Pair this phone"
        machine.start()
        page.unroute("**/who")
        page.wait_for_selector("body[data-connected=true]", timeout=60_000)


RESAMPLED = """(rate) => {
  const level = (hertz) => {
    const input = Float32Array.from({ length: rate }, (_, k) => 0.5 * Math.sin(2 * Math.PI * hertz * k / rate));
    const out = [], resampler = new Resampler(rate);
    for (let at = 0; at < rate; at += 128) resampler.take(input.slice(at, at + 128), (sample) => out.push(sample));
    const kept = out.slice(1000, -1000);
    return [out.length, Math.sqrt(2 * kept.reduce((sum, x) => sum + x * x, 0) / kept.length) / 32767];
  };
  return [300, 1000, 3000, 6000, 9500, 15000].map(level);
}"""


@pytest.mark.parametrize("rate", [16_000, 44_100, 48_000])
def test_sound_keeps_its_level_and_what_is_too_high_is_gone(playwright: Playwright, tmp_path: Path, rate: int) -> None:
    """Against the level of the sine that went in: what 16 kHz can hold is kept, what would fold back is 40 dB down."""
    browser = playwright.chromium.launch(executable_path=shutil.which("chromium"))
    page = browser.new_page()
    page.add_script_tag(content=(ROOT / "assistant/page/static/worklet.js").read_text())
    levels = page.evaluate(RESAMPLED, rate)
    browser.close()
    assert all(abs(count - 16_000) < 60 for count, _ in levels)
    assert all(level == pytest.approx(0.5, rel=0.02) for _, level in levels[:4])
    if rate > 16_000:
        assert all(level < 0.005 for _, level in levels[4:])


def test_again_and_scratch_that(playwright: Playwright, shared_machine: Machine, tmp_path: Path) -> None:
    with phone(playwright, shared_machine, tmp_path) as context:
        page = paired(context, shared_machine, name="again")
        for words in ("rod in tenths", "reading three point seven five at ten"):
            typed(page, words)
        until(page, "window.played?.length > 0")
        count = page.evaluate("window.played.length")
        page.wait_for_timeout(4000)
        page.click("#again")
        until(page, f"window.played.length > {count}")
        page.click("#scratch")
        until(page, "document.getElementById('word').textContent === 'scratched'")
        assert shown(page) == "Scratched 3.75 ft at 0+10."


def test_no_name_is_given_twice() -> None:
    names = re.findall(r'\bid="([^"]+)"', (ROOT / "assistant/page/static/index.html").read_text("utf-8"))
    assert len(names) == len(set(names))


def test_keys_work_like_a_finger(playwright: Playwright, machine: Machine, tmp_path: Path) -> None:
    with phone(playwright, machine, tmp_path / "browser") as context:
        page = paired(context, machine)
        page.click("#button")
        state_is(page, "Connected. Microphone ready.")
        page.focus("#button")
        page.keyboard.down("Space")
        state_is(page, "Connected. Listening.")
        page.wait_for_timeout(600)
        page.keyboard.up("Space")
        page.wait_for_selector("body[data-waiting='0']")
        state_is(page, "Connected. Microphone ready.")
        page.click("#button", delay=20)
        assert page.get_attribute("#button", "aria-pressed") == "true"
        page.click("#button", delay=20)
        page.wait_for_selector("body[data-waiting='0']")
    assert [entry["kind"] for entry in machine.entries()] == ["opened"], "nothing that was not said is written"


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
