"""The server as a process: pairing, rights, once-only through cuts and kills, and what it refuses."""

import json
import secrets
import signal
import socket
import ssl
import struct
import subprocess
import time
from pathlib import Path

import httpx
import pytest
from page.machine import DRAIN, Machine, frame, pieces
from websockets.exceptions import ConnectionClosed, InvalidStatus

READING = "reading three feet nine at station forty"
ANSWER = "3 ft 9 in at 0+40. Cut 9 5/8 in."


def test_strangers_get_the_form_and_nothing_else(shared_machine: Machine) -> None:
    with shared_machine.client() as client:
        assert client.get("/").headers["location"] == "/pair"
        form = client.get("/pair", params={"code": '"><script>'})
        assert "<script" not in form.text
        for path in (
            "/app.js",
            "/index.html",
            "/sw.js",
            "/manifest.webmanifest",
            "/pair.html",
            "/nothing",
            "/icon.svg",
        ):
            assert client.get(path).status_code == 404, path
        policy = form.headers["content-security-policy"]
        assert policy.startswith("default-src 'none'; script-src 'self'")
        assert "unsafe" not in policy
        assert client.get("/who").text == "stranger"


def test_the_landing_gives_the_certificate_alone(shared_machine: Machine) -> None:
    with httpx.Client(base_url=f"http://127.0.0.1:{shared_machine.landing_port}") as client:
        page = client.get("/")
        assert shared_machine.url in page.text
        root = client.get("/rodside.crt").content
        pem = (shared_machine.folder / "state" / "certificates" / "authority.pem").read_text()
        assert root == ssl.PEM_cert_to_DER_cert(pem)
        for path in ("/app.js", "/pair", "/link", "/who"):
            assert client.get(path).status_code == 404


def test_a_talk_and_its_sound(shared_machine: Machine) -> None:
    with shared_machine.phone(shared_machine.pair()) as phone:
        assert phone.hello["rights"] == "log"
        answer = phone.said(1, pieces("demo/01.ogg"))
        assert answer["shown"] == "Rod in feet and inches."
        phone.next("book")
        time.sleep(0.5)
        phone.tell("typed", number=2, after=1, seen=phone.seen, text="how much fall in sixty feet at two percent")
        told = phone.next("answer")["answer"]
        assert (told["word"], told["shape"]) == ("answer", "tell")
        phone.next("tick")
        number, part = struct.unpack_from("<II", phone.sounds[0])
        assert (number, part) == (1, 1)
        assert phone.sounds[0][8:12] == b"RIFF"
        assert len(phone.sounds[0]) > 20_000


def test_rights(machine: Machine) -> None:
    logs, looks = machine.pair("log", "logger"), machine.pair("view", "boss")
    with machine.phone(logs) as phone, machine.phone(looks) as viewer:
        for number, words in enumerate([*DRAIN, READING], 1):
            answer = phone.typed(number, words)
        assert answer["shown"] == ANSWER
        assert (answer["word"], answer["figure"], answer["shape"]) == ("cut", "9 5/8 in", "cut")
        while True:
            said = viewer.next("said")
            if said["answer"]["heard"] == READING:
                break
        assert said["by"] == "logger"
        book = viewer.next("book")
        assert book["lines"][-1]["result"] == "cut 9 5/8 in ± 1/8 in"
        assert book["profile"][-1]["station"] == "0+40"
        count = len(machine.entries())
        viewer.type(1, "scratch that")
        with pytest.raises(ConnectionClosed):
            viewer.next("answer")
        assert len(machine.entries()) == count
        assert machine.beside("--devices").split() == ["logger", "log", "boss", "view"]
        machine.beside("--revoke", "logger")
        with pytest.raises(ConnectionClosed):
            phone.next("never")
    with pytest.raises(InvalidStatus), machine.phone(logs):
        pass


def test_sound_that_was_cut_is_taken_up_where_it_was(machine: Machine) -> None:
    cookie, life, sound = machine.pair(), secrets.token_hex(8), pieces("demo/01.ogg")
    with machine.phone(cookie, life) as phone:
        phone.say(1, sound[:20])
        phone.next("tick")
    with machine.phone(cookie, life) as phone:
        assert phone.hello["have"] == {"number": 1, "frames": 20}
        phone.say(1, sound, first=18)  # two come twice
        phone.tell("end", number=1, frames=len(sound))
        assert phone.next("answer")["answer"]["shown"] == "Rod in feet and inches."
    with machine.phone(cookie, life) as phone:
        assert phone.hello["have"] is None
        phone.tell("end", number=1, frames=len(sound))
        assert phone.next("answer")["answer"]["shown"] == "Rod in feet and inches."
        phone.say(2, sound, first=3)
        assert phone.next("need") == {"kind": "need", "number": 2, "frames": 0}
    assert [entry["kind"] for entry in machine.entries()] == ["opened", "rod"]


def test_killed_after_writing_before_answering(machine: Machine) -> None:
    cookie, life = machine.pair(), secrets.token_hex(8)
    for number, words in enumerate([*DRAIN, READING], 1):
        with machine.phone(cookie, life) as phone:
            phone.type(number, words, seen=10_000)
            for _ in range(200):
                if any(
                    entry["heard"] == words and entry["engine"].endswith(f"/{number}")
                    for entry in machine.entries()[1:]
                ):
                    break
                time.sleep(0.05)
            if number % 2 == 0:
                machine.stop(signal.SIGKILL)
                machine.start()
        with machine.phone(cookie, life) as phone:
            shown = phone.typed(number, words, seen=10_000)["shown"]
    assert shown == ANSWER
    assert [entry["kind"] for entry in machine.entries()] == [
        "opened", "rod", "question", "baseline", "question", "line", "reading",
    ]  # fmt: skip


def test_pairing_is_not_guessed(machine: Machine) -> None:
    with machine.client() as client:
        codes = [
            client.post("/pair", data={"code": f"AAAAAAA{n}", "name": "x"}, headers={"origin": machine.url}).status_code
            for n in range(2, 10)
        ]
        assert codes == [403] * 5 + [429] * 3
        other = client.post("/pair", data={"code": "AAAAAAAA"}, headers={"origin": "https://elsewhere.example"})
        assert other.status_code == 403


def hostile(machine: Machine, cookie: str) -> list[str]:
    """Many sorts of requests that must be refused; returns those that were not."""
    let_in = []
    old = "__Host-rodside=" + secrets.token_urlsafe(32)
    with machine.client() as client:
        for path in (
            "/../../etc/passwd", "/%2e%2e/%2e%2e/etc/passwd", "/..%2fapp.py", "/static/../app.py", "//etc/passwd",
            "/devices.sqlite", "/app.js%00", "/" + "a" * 9000, "/link", "/pair/x", "/\\..\\app.py", "/app.js/",
        ):  # fmt: skip
            for headers in ({}, {"cookie": old}, {"cookie": cookie} if "app.js" not in path else {}):
                got = client.get(path, headers=headers)
                if got.status_code < 400:
                    let_in.append(path)
        for headers in ({"host": "evil.example"}, {"host": ""}, {"host": "127.0.0.1.evil.example"}):
            if client.get("/", headers={**headers, "cookie": cookie}).status_code < 400:
                let_in.append(str(headers))
        for method in ("PUT", "DELETE", "PATCH", "OPTIONS"):
            if client.request(method, "/", headers={"cookie": cookie}).status_code < 400:
                let_in.append(method)
        body = b"code=" + b"A" * 100_000
        if client.post("/pair", content=body, headers={"origin": machine.url}).status_code < 400:
            let_in.append("giant form")
    for more in (
        {"additional_headers": {}},
        {"additional_headers": {"cookie": old}},
        {"origin": "https://evil.example"},
        {"origin": f"http://127.0.0.1:{machine.port}"},
        {"life": "../../../etc"},
    ):
        try:
            with machine.phone(cookie, **more) as phone:  # type: ignore[arg-type]
                phone.socket.recv(2)
            let_in.append(str(more))
        except (InvalidStatus, ConnectionClosed, OSError, TimeoutError):
            pass
    return let_in


BAD = [
    "", "{", "[]", '{"kind":"potato"}', '{"kind":"typed","number":-1,"after":0,"seen":0,"text":"x"}',
    '{"kind":"typed","number":1e9,"after":0,"seen":0,"text":"x"}', '{"kind":"begin"}', "[" * 1500, "x" * 10_000,
    '{"kind":"typed","number":1,"after":0,"seen":0,"text":"' + "y" * 400 + '"}', b"", b"123", b"1234567", b"x" * 11,
    b"\x00" * 70_000, b"\xff" * 8 + b"xx",
]  # fmt: skip


def test_five_hundred_hostile_requests(machine: Machine) -> None:
    cookie = machine.pair("log", "ours")
    bad_cookie = machine.pair("log", "bad")
    slow = []
    with machine.phone(cookie) as phone:
        phone.typed(1, "rod in tenths")
        for _ in range(30):  # slow clients: half a request, and then nothing
            one = socket.create_connection(("127.0.0.1", machine.port))
            two = machine.trust().wrap_socket(one, server_hostname="127.0.0.1")
            two.send(b"GET / HTTP/1.1\r\nHost: 127.0")
            slow.append(two)
        with pytest.raises(ConnectionClosed), machine.phone(bad_cookie) as flood:
            for index in range(5000):
                flood.socket.send(frame(1, index, b"\x00" * 1280))
            flood.next("never", timeout=5)
        count, waits = 30, []
        for number in range(2, 12):
            assert hostile(machine, bad_cookie if number % 2 else cookie) == []
            count += 49
            for bad in BAD if number in (2, 3) else []:
                with pytest.raises(ConnectionClosed), machine.phone(bad_cookie) as other:
                    other.socket.send(bad)
                    other.next("never", timeout=5)
                count += 1
            began = time.perf_counter()
            phone.typed(number, f"how much fall in {number} feet at two percent")
            waits.append(time.perf_counter() - began)
            time.sleep(1)  # so that it is not the rate alone that refuses
        assert count >= 500
        with machine.client() as client:
            statuses = {client.get("/who").status_code for _ in range(250)}
        assert statuses == {200, 429}
        phone.typed(12, "rod in tenths")
        print("a typed line among them, most:", max(waits))
    for one in slow:
        one.settimeout(12)
        assert one.recv(10) == b"", "a client that never finishes its request is let go"
        one.close()
    assert [entry["kind"] for entry in machine.entries()] == ["opened", "rod", "rod"]


def test_one_book_one_writer_and_clear_words(machine: Machine, tmp_path: Path) -> None:
    second = Machine(tmp_path / "second")
    second.folder.mkdir()
    for book, port, word in ((machine.book, second.port, "another Rodside"), (second.book, machine.port, "Port")):
        command = second.command("--book", str(book), "--port", str(port), "--headless", "--quiet")
        done = subprocess.run(command, capture_output=True, text=True, check=False)
        assert done.returncode in (2, 3)
        assert word in done.stderr
        assert "Traceback" not in done.stderr
    assert machine.stop() == 0


def test_it_tells_the_service_manager(tmp_path: Path) -> None:
    place = tmp_path / "notify"
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as manager:
        manager.bind(str(place))
        manager.settimeout(20)
        one = Machine(tmp_path, "--quiet")
        with pytest.MonkeyPatch.context() as patch:
            patch.setenv("NOTIFY_SOCKET", str(place))
            one.start()
        assert manager.recv(100) == b"READY=1"
        assert one.stop() == 0


def test_the_codes_are_printed_where_there_is_a_screen(tmp_path: Path) -> None:
    one = Machine(tmp_path)
    command = list(one.command("--book", str(one.book), "--quiet"))
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        lines = [process.stdout.readline() for _ in range(8)]
        process.send_signal(signal.SIGINT)
    text = "".join(lines)
    assert f"http://127.0.0.1:{one.landing_port}" in text
    assert "may talk and write" in text
    assert json.dumps(text).count("may ") == 3
