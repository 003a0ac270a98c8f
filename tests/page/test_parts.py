"""The pure parts: certificates, devices, allowances, messages, once-only, the picture."""

import asyncio
import json
import logging
import socket
import subprocess
from configparser import ConfigParser
from contextlib import ExitStack, suppress
from datetime import UTC, datetime, timedelta
from importlib.resources import files
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID
from hypothesis import given
from hypothesis import strategies as some
from page.machine import DRAIN

from assistant import cli
from assistant.book.entries import Row
from assistant.book.store import Book
from assistant.job.state import Job
from assistant.page import server, wire
from assistant.page.authority import Certificates, certificates, may_vouch
from assistant.page.conversation import Conversation
from assistant.page.devices import LETTERS, LIFE, Device, Devices, Rights
from assistant.page.doors import GOING, MOST_FROM_ONE, MOST_STRANGERS, Door
from assistant.page.guard import host_name
from assistant.page.hub import SOUND, WAITING, Line, message
from assistant.page.invitation import invitation
from assistant.page.limits import Allowance
from assistant.page.log import Sparing
from assistant.page.profile import profile
from assistant.page.talk import Origin, Talk
from assistant.page.voice import sentences
from assistant.report import ledger

DAY = datetime(2026, 5, 4, 8, tzinfo=UTC)


def test_the_chain_is_good_to_another_program(tmp_path: Path) -> None:
    """openssl verify, the name constraints included."""
    made = certificates(tmp_path, ["192.168.7.5", "truck.local"], lambda: datetime.now(UTC))
    root = tmp_path / "authority.pem"
    for more, status in (
        (["-verify_ip", "192.168.7.5"], 0),
        (["-verify_hostname", "truck.local"], 0),
        (["-verify_ip", "192.168.7.6"], 2),
    ):
        command = ["openssl", "verify", "-x509_strict", "-purpose", "sslserver", *more, "-CAfile", root, made.chain]
        done = subprocess.run(list(map(str, command)), capture_output=True, text=True, check=False)
        assert done.returncode == status, done.stderr
    assert oct((tmp_path / "authority.key").stat().st_mode)[-3:] == "600"


def test_the_authority_cannot_vouch_for_the_rest_of_the_world(tmp_path: Path) -> None:
    certificates(tmp_path, ["8.8.8.8"], lambda: datetime.now(UTC))
    command = ["openssl", "verify", "-CAfile", tmp_path / "authority.pem", tmp_path / "machine.pem"]
    done = subprocess.run(list(map(str, command)), capture_output=True, text=True, check=False)
    assert done.returncode == 2
    assert "permitted subtree violation" in done.stderr
    assert [may_vouch(n) for n in ("10.1.2.3", "8.8.8.8", "a.local", "example.org", "fe80::1")] == [
        True, False, True, False, False,
    ]  # fmt: skip


def test_certificates_are_kept_and_renewed(tmp_path: Path) -> None:
    now = [DAY]

    def clock() -> datetime:
        return now[0]

    def serial() -> int:
        return x509.load_pem_x509_certificate((tmp_path / "machine.pem").read_bytes()).serial_number

    first = certificates(tmp_path, ["10.0.0.2"], clock)
    kept = serial()
    assert certificates(tmp_path, ["10.0.0.2"], clock).fingerprint == first.fingerprint
    assert serial() == kept
    assert certificates(tmp_path, ["10.0.0.3"], clock).fingerprint == first.fingerprint
    assert serial() != kept, "another address needs another certificate, of the same authority"
    kept = serial()
    now[0] += timedelta(days=61)
    renewed = certificates(tmp_path, ["10.0.0.3"], clock, serving=True)
    assert renewed.fingerprint == first.fingerprint
    assert renewed.serial == serial() != kept, "while serving too, before it ends"
    now[0] = DAY + timedelta(days=715)
    late = [certificates(tmp_path, ["10.0.0.3"], clock, serving=True) for _ in range(2)]
    assert {one.fingerprint for one in late} == {first.fingerprint}, "who works is not made to trust another at once"
    assert late[0].serial == late[1].serial, "and its last certificate is not made again and again"
    made = certificates(tmp_path, ["10.0.0.3"], clock)
    assert made.fingerprint != first.fingerprint
    assert made.replaced == "Rodside on this crew's machine, 2026-05-04"
    assert not certificates(tmp_path, ["10.0.0.3"], clock).replaced, "it is told once"


def vouched(folder: Path, usage: x509.ObjectIdentifier, *names: x509.GeneralName) -> Path:
    """A certificate made with the authority's key, as a thief of it would."""
    key = serialization.load_pem_private_key((folder / "authority.key").read_bytes(), None)
    root = x509.load_pem_x509_certificate((folder / "authority.pem").read_bytes())
    assert isinstance(key, ec.EllipticCurvePrivateKey)
    own = ec.generate_private_key(ec.SECP256R1())
    started = datetime.now(UTC) - timedelta(hours=1)
    made = (
        x509.CertificateBuilder()
        .subject_name(x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "somebody")]))
        .issuer_name(root.subject)
        .public_key(own.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(started)
        .not_valid_after(started + timedelta(days=30))
        .add_extension(x509.SubjectAlternativeName(names), critical=False)
        .add_extension(x509.ExtendedKeyUsage([usage]), critical=False)
        .sign(key, hashes.SHA256())
    )
    path = folder / "stolen.pem"
    path.write_bytes(made.public_bytes(serialization.Encoding.PEM))
    return path


def verified(folder: Path, certificate: Path, purpose: str) -> bool:
    command = ["openssl", "verify", "-purpose", purpose, "-CAfile", folder / "authority.pem", certificate]
    return subprocess.run(list(map(str, command)), capture_output=True, check=False).returncode == 0


def test_the_authority_vouches_for_servers_alone(tmp_path: Path) -> None:
    made = certificates(tmp_path, ["truck.local"], lambda: datetime.now(UTC))
    name, mail = x509.DNSName("truck.local"), x509.RFC822Name("boss@example.org")
    assert verified(tmp_path, made.chain, "sslserver")
    assert verified(tmp_path, vouched(tmp_path, ExtendedKeyUsageOID.SERVER_AUTH, name), "sslserver")
    assert not verified(tmp_path, vouched(tmp_path, ExtendedKeyUsageOID.CLIENT_AUTH, name), "sslclient")
    assert not verified(tmp_path, vouched(tmp_path, ExtendedKeyUsageOID.EMAIL_PROTECTION, mail), "smimesign")
    root = x509.load_pem_x509_certificate((tmp_path / "authority.pem").read_bytes())
    own = x509.load_pem_x509_certificate(made.chain.read_bytes())
    assert root.extensions.get_extension_for_class(x509.BasicConstraints).value.path_length == 0
    assert root.not_valid_after_utc - root.not_valid_before_utc < timedelta(days=732)
    assert own.not_valid_after_utc - own.not_valid_before_utc < timedelta(days=92)


def test_keys_are_the_owners_alone(tmp_path: Path) -> None:
    folder = tmp_path / "certificates"
    certificates(folder, ["10.0.0.2"], lambda: DAY)
    folder.chmod(0o755)
    (folder / "authority.key").chmod(0o644)
    certificates(folder, ["10.0.0.2"], lambda: DAY)
    modes = {path.name: oct(path.stat().st_mode)[-3:] for path in (folder, *folder.glob("*.key"))}
    assert modes == {"certificates": "700", "authority.key": "600", "machine.key": "600"}


def test_an_authority_of_an_older_program_is_made_anew(tmp_path: Path) -> None:
    """One for ten years and for any use, as they were made; and one that a cut left without its key."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Rodside on this crew's machine, 2026-01-02")])
    old = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(1)
        .not_valid_before(DAY)
        .not_valid_after(DAY + timedelta(days=3650))
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(x509.NameConstraints([x509.DNSName("local")], None), critical=True)
        .sign(key, hashes.SHA256())
    )
    (tmp_path / "authority.pem").write_bytes(old.public_bytes(serialization.Encoding.PEM))
    kind, plain = serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    (tmp_path / "authority.key").write_bytes(key.private_bytes(serialization.Encoding.PEM, kind, plain))
    made = certificates(tmp_path, ["truck.local"], lambda: DAY)
    assert made.replaced == "Rodside on this crew's machine, 2026-01-02"
    assert made.root != old.public_bytes(serialization.Encoding.DER)
    again = certificates(tmp_path, ["truck.local"], lambda: DAY)
    assert (again.fingerprint, again.serial, again.replaced) == (made.fingerprint, made.serial, "")
    (tmp_path / "authority.key").write_text("cut of")
    assert certificates(tmp_path, ["truck.local"], lambda: DAY).fingerprint != made.fingerprint


@pytest.mark.parametrize("trouble", [ValueError("x"), RecursionError("x"), SystemExit(3), KeyboardInterrupt()])
def test_no_utterance_ends_the_talk(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture, trouble: BaseException
) -> None:
    """It fails before the entry is written, and after: the answer says to look, and the book is what holds."""
    talk = Conversation(tmp_path / "day.rodside", lambda: DAY, Deaf, lambda text: None, quiet=True)
    applied, failing = Job.apply, [trouble]
    by_talk = isinstance(trouble, Exception)  # the talk itself answers those, and knows what it wrote
    written = "That is in the book, but something broke in me after." if by_talk else "Something failed inside."

    def apply(job: Job, row: Row) -> None:
        if row.kind == "reading" and failing:
            raise failing.pop()
        applied(job, row)

    async def talking() -> None:
        for number, words in enumerate(DRAIN, 1):
            await talk.typed(Origin(LIFE_A, number, number - 1, 100), words)
        monkeypatch.setattr(Job, "apply", apply)
        failed = await talk.typed(Origin(LIFE_A, 6, 5, 100), READING)
        assert failed["shown"].startswith(written)
        assert (await talk.typed(Origin(LIFE_A, 7, 6, 100), "scratch that"))["shown"].startswith("Scratched 3 ft 9 in")
        monkeypatch.setattr(Talk, "take", lambda *given: raised(trouble))
        failed = await talk.typed(Origin(LIFE_A, 8, 7, 100), READING)
        monkeypatch.undo()
        assert failed["shown"].startswith("Something failed inside.")
        assert (await talk.typed(Origin(LIFE_A, 9, 8, 100), READING))["shown"] == ANSWER
        utterance = talk.utterance()
        monkeypatch.setattr(utterance, "feed", lambda *given: raised(trouble))
        assert await talk.hear(utterance, b"\0" * 1280) is None
        missed = await talk.heard(Origin(LIFE_A, 10, 9, 100), utterance)
        assert missed["shown"].startswith("Something failed inside."), "part of a sound may be another number"
        assert (await talk.typed(Origin(LIFE_A, 11, 10, 100), "scratch that"))["shown"].startswith("Scratched")

    asyncio.run(talking())
    talk.close()
    with Book.open(tmp_path / "day.rodside", read_only=True) as book:
        assert [row.kind for row in book.rows()][-4:] == ["reading", "scratch", "reading", "scratch"]
    assert [record.message for record in caplog.records if record.exc_info].count("An utterance failed.") == 2 - by_talk


def raised(trouble: BaseException) -> None:
    raise trouble


class Deaf:
    """An ear for talks that are typed."""

    name = "deaf"
    calibrated = False

    def hear(self, samples: object, language: object) -> tuple[()]:
        return ()

    def prepare(self, language: object) -> None:
        pass


def test_what_waits_for_a_phone_is_bounded() -> None:
    async def taken(line: Line) -> list[str | bytes]:
        return [message for _ in range(3) if (message := await line.next()) is not None]

    device = Device("key", "slow", Rights.LISTEN)
    line = Line(device)
    line.send("x" * 3 * WAITING)  # one alone may be of any size: a long book
    assert line.ended is None
    line.send("y")
    assert line.ended == 1013
    assert asyncio.run(taken(line)) == []
    line = Line(device)
    for _ in range(100):
        line.play(b"x" * 100_000)
    assert line.ended is None, "what another made us say ends no link"
    line.send("z" * 100_000)
    waiting = 0
    while line._waiting:
        waiting += len(asyncio.run(line.next()) or b"")
    assert waiting <= SOUND + 100_000


@given(some.text() | some.text(some.characters(categories=["Cs"])))
def test_whatever_is_told_can_be_sent(text: str) -> None:
    sent = message("said", by=text)
    assert len(sent.encode()) == len(sent)
    kept = json.loads(sent)["by"]
    assert [one.encode("utf-16", "surrogatepass") for one in (kept, text)] == [
        text.encode("utf-16", "surrogatepass")
    ] * 2


@given(some.text(some.characters(categories=["Cs", "L"]), max_size=9))
def test_half_characters_are_refused_at_the_wire(text: str) -> None:
    got = wire.read_text(json.dumps({"kind": "typed", "number": 1, "after": 0, "seen": 0, "text": text}))
    whole = text.encode("utf-16", "surrogatepass").decode("utf-16", "ignore").encode("utf-8", "ignore").decode()
    if isinstance(got, wire.Typed):
        got.text.encode()
    else:
        assert whole != text or any("\ud800" <= one <= "\udfff" for one in text)


def test_one_trouble_is_told_once_in_a_while() -> None:
    now, told = [0.0], list[str]()
    log = logging.Logger("page")
    log.addHandler(Sparing(told.append, Allowance(rate=1 / 60, burst=1, clock=lambda: now[0])))
    for _ in range(1000):
        try:
            raise ValueError("bad")
        except ValueError:
            log.exception("A link failed.")
        log.warning("Turned away.")
    assert len(told) == 2
    assert "ValueError: bad" in told[0]
    now[0] = 61.0
    for _ in range(5):
        try:
            raise ValueError("bad")
        except ValueError:
            log.exception("Another place is another kind.")
    assert len(told) == 3


def test_the_count_of_what_was_not_told_is_told_later() -> None:
    now, told = [0.0], list[str]()
    log = logging.Logger("page")
    log.addHandler(Sparing(told.append, Allowance(rate=1 / 60, burst=1, clock=lambda: now[0])))
    for at in (0.0, 1.0, 2.0, 70.0):
        now[0] = at
        log.warning("Turned away.")
    assert told == ["rodside: Turned away.", "rodside: Turned away. (2 more since the last word of it)"]


def test_a_door_lets_in_only_so_many() -> None:
    with Door("127.0.0.1", 0) as door, ExitStack() as stack:
        door.listen()
        door.setblocking(False)
        inside: list[socket.socket] = []

        def arrive(source: str) -> socket.socket:
            one = stack.enter_context(socket.create_connection(door.getsockname(), 5, (source, 0)))
            with suppress(BlockingIOError):
                inside.append(stack.enter_context(door.accept()[0]))
            return one

        for _ in range(50):
            last = arrive("127.0.0.2")
        assert len(inside) == MOST_FROM_ONE
        inside[0].close()
        door.knows(inside[1].getpeername())
        assert arrive("127.0.0.2") and arrive("127.0.0.2")
        assert len(inside) == MOST_FROM_ONE + 2, "places that are left, or a phone's, are free again"
        assert last.recv(1) == b""
        for part in range(3, 60):
            for _ in range(4):
                arrive(f"127.0.0.{part}")
        held = sum(one.fileno() >= 0 for one in inside)
        assert held <= MOST_STRANGERS + GOING + 1


def test_a_code_pairs_once_and_in_time(tmp_path: Path) -> None:
    now = [DAY]
    devices = Devices(tmp_path / "devices.sqlite", lambda: now[0])
    code = devices.offer(Rights.VIEW)
    assert devices.pair("AAAA AAAA", "phone") is None
    paired = devices.pair(f" {code[:4].lower()} {code[4:]}", "phone\x00\n")
    assert paired is not None
    secret, device = paired
    assert (device.name, device.rights) == ("phone", Rights.VIEW)
    assert devices.device(secret) == device
    assert devices.device(device.key) is None, "what is kept lets nobody in"
    assert devices.pair(code, "phone") is None, "used up"
    late = devices.offer(Rights.LOG)
    now[0] += LIFE + timedelta(seconds=1)
    assert devices.pair(late, "phone") is None
    second = devices.pair(devices.offer(Rights.LOG), "phone")
    assert second is not None
    assert second[1].name == "phone 2"
    assert devices.revoke("phone")
    assert devices.device(secret) is None
    assert devices.current(device) is None
    assert not devices.revoke("phone")
    assert secret.encode() not in (tmp_path / "devices.sqlite").read_bytes()
    assert set(code) <= set(LETTERS)


def test_an_allowance_fills_up_again() -> None:
    now = [0.0]
    one = Allowance(rate=2, burst=3, clock=lambda: now[0])
    assert [one.take("a") for _ in range(4)] == [True, True, True, False]
    assert one.take("b"), "everyone has one of their own"
    now[0] = 1.0
    assert [one.take("a") for _ in range(3)] == [True, True, False]
    now[0] = 1000.0
    assert [one.take("a") for _ in range(4)] == [True, True, True, False]


@given(some.binary(max_size=200) | some.integers(wire.LONGEST_FRAME - 3, wire.LONGEST_FRAME + 3).map(bytes))
def test_any_bytes_are_a_frame_or_bad(data: bytes) -> None:
    got = wire.read_bytes(data)
    if isinstance(got, wire.Frame):
        assert wire.sound_out(got.number, got.index >> 1, bool(got.index & 1), got.sound) == data
    else:
        assert isinstance(got, wire.Bad)


NUMBERS = some.integers(-5, 2**33) | some.booleans() | some.floats() | some.text(max_size=3) | some.none()


@given(
    some.fixed_dictionaries(
        {"kind": some.sampled_from(["begin", "typed", "end", "drop", "potato"]) | NUMBERS},
        optional=dict.fromkeys(("number", "after", "seen", "frames", "text"), NUMBERS),
    )
    | some.recursive(NUMBERS, some.lists, max_leaves=5)
)
def test_any_json_is_a_message_or_bad(data: object) -> None:
    got = wire.read_text(json.dumps(data))
    if not isinstance(got, wire.Bad):
        assert isinstance(data, dict)
        assert all(data[name] == value for name, value in vars(got).items())
        assert all(0 <= value < wire.MOST for value in vars(got).values() if isinstance(value, int))


@pytest.mark.parametrize("text", ["", "[", "{}", "[" * 1900, '{"kind":"typed"}', "x" * 5000, '{"kind":["typed"]}'])
def test_what_is_no_message_is_bad(text: str) -> None:
    assert isinstance(wire.read_text(text), wire.Bad)


LIFE_A, LIFE_B = "a" * 16, "b" * 16


def told(talk: Talk, life: str, number: int, words: str, after: int | None = None, seen: int | None = None) -> str:
    origin = Origin(life, number, number - 1 if after is None else after, talk.last_sequence if seen is None else seen)
    return talk.take(origin, [words]).reply.shown


def set_up(talk: Talk) -> None:
    for number, words in enumerate(DRAIN, 1):
        told(talk, LIFE_A, number, words)


READING = "reading three feet nine at station forty"
ANSWER = "3 ft 9 in at 0+40. Cut 9 5/8 in."


def test_what_comes_twice_is_written_once() -> None:
    with Book.scratch() as book:
        talk = Talk(book)
        set_up(talk)
        before = len(talk.rows())
        assert told(talk, LIFE_A, 6, READING) == ANSWER
        assert told(talk, LIFE_A, 6, READING) == ANSWER
        assert len(talk.rows()) == before + 1
        again = Talk(book)  # as after a power cut
        origin = Origin(LIFE_A, 6, 5, before)
        answer = again.take(origin, [READING])
        assert answer.reply.shown == ANSWER
        assert answer.reply.spoken.endswith("Cut nine and five eighths inches.")
        assert len(again.rows()) == before + 1
        assert again.take(Origin(LIFE_A, 2, 1, 2), [DRAIN[1]]).reply.asks


def test_nothing_is_written_over_an_entry_that_was_not_seen() -> None:
    with Book.scratch() as book:
        talk = Talk(book)
        set_up(talk)
        stale = talk.last_sequence
        told(talk, LIFE_A, 6, READING)
        count = len(talk.rows())
        assert "another phone wrote" in told(talk, LIFE_B, 1, "scratch that", seen=stale).lower()
        assert len(talk.rows()) == count
        assert told(talk, LIFE_B, 2, "scratch that", after=1) == "Scratched 3 ft 9 in at 0+40."


def test_a_confirmation_given_before_the_question_was_shown_does_not_count() -> None:
    with Book.scratch() as book:
        talk = Talk(book)
        told(talk, LIFE_A, 1, DRAIN[0])
        seen = talk.last_sequence
        assert told(talk, LIFE_A, 2, DRAIN[1], after=1, seen=seen).endswith("Say confirm.")
        early = told(talk, LIFE_A, 3, "confirm", after=1, seen=seen)
        assert "before you had the answer" in early
        assert talk.session.job.baseline is None
        assert told(talk, LIFE_A, 4, "confirm") == "Baseline 3 ft 9 in at 0+00."


def test_scratch_that_never_hits_the_entry_before_one_that_was_missed() -> None:
    with Book.scratch() as book:
        talk = Talk(book)
        set_up(talk)
        told(talk, LIFE_A, 6, READING)
        seen = talk.last_sequence
        told(talk, LIFE_A, 7, "reading potato", after=6, seen=seen)
        told(talk, LIFE_A, 8, "scratch that", after=6, seen=seen)
        assert talk.session.job.reading_count == 1
        told(talk, LIFE_A, 9, "reading five foot two at station sixty", after=6, seen=seen)
        assert talk.session.job.reading_count == 1, "nor is anything else taken until the miss was shown"
        told(talk, LIFE_A, 10, "scratch that", after=9)
        assert talk.session.job.reading_count == 0


def test_a_queue_of_readings_is_taken_in_order() -> None:
    with Book.scratch() as book:
        talk = Talk(book)
        set_up(talk)
        seen = talk.last_sequence
        for number, station in enumerate((10, 20, 30), 6):
            told(talk, LIFE_A, number, f"reading three foot nine at {station}", after=5, seen=seen)
        told(talk, LIFE_A, 9, "scratch that", after=5, seen=seen)
        assert talk.session.job.reading_count == 2


def test_the_profile_is_over_the_grade() -> None:
    """By hand: grade falls 2 % from station 0; at 40 the grade rod is 3.75 + 0.80, the rod read 3.75: 0.80 over."""
    with Book.scratch() as book:
        talk = Talk(book)
        set_up(talk)
        told(talk, LIFE_A, 6, READING)
        told(talk, LIFE_A, 7, "reading three foot nine at station zero")
        first, second = profile(talk.session.job, talk.rows())
        assert (first["station"], first["word"], first["ground"]) == ("0+00", "on grade", 0.0)
        assert (second["at"], second["grade"]) == (40.0, pytest.approx(-0.8))
        assert second["ground"] == pytest.approx(0.0)
        assert (second["word"], second["result"]) == ("cut", "9 5/8 in")
        told(talk, LIFE_A, 8, "scratch that")
        assert len(profile(talk.session.job, talk.rows())) == 1


def test_a_long_book_is_answered_as_a_short_one(monkeypatch: pytest.MonkeyPatch) -> None:
    """Only its end is at hand; what is older is found where it is asked for."""
    with Book.scratch(lambda: DAY) as book:
        talk = Talk(book)
        set_up(talk)
        for number in range(6, 26):
            told(talk, LIFE_A, number, f"reading {number} feet at station {number}0")
            if talk.session.job.question is not None:
                told(talk, LIFE_A, number + 100, "confirm")
        whole = Talk(book)
        monkeypatch.setattr("assistant.page.talk.AT_HAND", 6)
        talk = Talk(book)
        assert len(talk.rows()) == 6
        assert talk.lines() == whole.lines()[-6:]
        old = next(row for row in book.rows() if (row.engine or "").endswith("/6"))
        count = len(list(book.rows()))
        again = talk.take(Origin(LIFE_A, 6, 5, old.sequence - 1), ["reading 6 feet at station 60"])
        assert again.reply.shown == old.reply and again.rows[0] == old
        assert "another phone wrote" in told(talk, LIFE_B, 1, "scratch that", seen=old.sequence).lower()
        assert len(list(book.rows())) == count
        told(talk, LIFE_A, 300, "scratch that", after=299)
        assert talk.lines() == [line for line in ledger.lines(book.rows()) if line.sequence > count - 6]


def test_the_service_starts_what_there_is() -> None:
    """The unit's command is one that the command line takes."""
    unit = ConfigParser()
    unit.optionxform = str  # type: ignore[assignment, method-assign]
    unit.read_string(files("assistant.page").joinpath("rodside.service").read_text("utf-8"))
    program, *arguments = unit["Service"]["ExecStart"].split()
    assert program.endswith("/rodside")
    assert cli.parser().parse_args(arguments).headless
    assert unit["Service"]["Type"] == "notify"


def test_small_things() -> None:
    assert sentences("Cut one inch. Say confirm? Yes!") == ["Cut one inch.", "Say confirm?", "Yes!"]
    assert [host_name(h) for h in ("Truck.local:8443", "10.0.0.1", "[::1]:80")] == ["truck.local", "10.0.0.1", "[::1]"]
    text = invitation("https://a", "http://b", "AB:CD", {Rights.LOG: "ABCDEFGH", Rights.VIEW: "23456789"})
    assert "ABCD EFGH  may talk and write" in text
    assert "█" in text or "▀" in text


def test_a_certificate_is_renewed_while_serving(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    now, loaded, asked = [DAY], list[Path](), list[int]()
    first = certificates(tmp_path, ["10.0.0.2"], lambda: now[0])

    class Context:
        def load_cert_chain(self, chain: Path, key: Path) -> None:
            loaded.append(chain)

    def good() -> Certificates:
        asked.append(1)
        if len(asked) == 3:
            raise OSError("the disk is full")
        now[0] += timedelta(days=20)
        return certificates(tmp_path, ["10.0.0.2"], lambda: now[0], serving=True)

    async def serving() -> None:
        with suppress(TimeoutError):
            async with asyncio.timeout(10):
                work = asyncio.create_task(server.renewing(Context(), good, first))
                while len(asked) < 7:
                    await asyncio.sleep(0.01)
                work.cancel()

    monkeypatch.setattr(server, "RENEWING", 0.001)
    asyncio.run(serving())
    periods = 20 * (len(asked) - 1) // 60  # one may have been asked for more often before it was stopped
    assert periods >= 2
    assert periods - 1 <= len(loaded) <= periods, "every 60 days, and trouble does not end it"
