"""The pure parts: certificates, devices, allowances, messages, once-only, the picture."""

import json
import subprocess
from configparser import ConfigParser
from datetime import UTC, datetime, timedelta
from importlib.resources import files
from pathlib import Path

import pytest
from cryptography import x509
from hypothesis import given
from hypothesis import strategies as some
from page.machine import DRAIN

from assistant import cli
from assistant.book.store import Book
from assistant.page import wire
from assistant.page.authority import certificates, may_vouch
from assistant.page.devices import LETTERS, LIFE, Devices, Rights
from assistant.page.guard import host_name
from assistant.page.invitation import invitation
from assistant.page.limits import Allowance
from assistant.page.profile import profile
from assistant.page.talk import Origin, Talk
from assistant.page.voice import sentences

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
    now[0] += timedelta(days=365)
    assert certificates(tmp_path, ["10.0.0.3"], clock).fingerprint == first.fingerprint
    assert serial() != kept
    now[0] += timedelta(days=3600)
    assert certificates(tmp_path, ["10.0.0.3"], clock).fingerprint != first.fingerprint


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
