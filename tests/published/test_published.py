"""The engine against values that others published."""

import io
import json

import pytest

from assistant import cli
from assistant.environment import Environment, ExitStatus
from assistant.lab.published.rows import STATUSES, Published, left_out, place, rows


@pytest.mark.parametrize("row", [pytest.param(row, id=row.id) for row in rows() if row.gates])
def test_published_value(row: Published) -> None:
    assert row.passes(), f"{row.what} ({row.source}): {row.answers()} for {row.wanted()}"


def test_every_row_names_its_source_and_status() -> None:
    every = rows()
    assert len({row.id for row in every}) == len(every)
    for row in every:
        assert row.status in STATUSES
        assert row.source or row.status in ("arithmetic", "from memory")


def test_what_is_left_out_is_no_row_and_has_a_reason() -> None:
    ids = [each for out in left_out() for each in out.ids]
    assert len(set(ids)) == len(ids)
    assert not set(ids) & {row.table_id for row in rows()}
    assert all(place(each) is not None for each in ids)
    assert all(out.reason for out in left_out())


def asked(*arguments: str) -> tuple[int, str]:
    world = Environment(stdout=io.StringIO(), stderr=io.StringIO())
    status = cli.main(["published", *arguments], world)
    assert isinstance(world.stdout, io.StringIO)
    return status, world.stdout.getvalue()


def test_the_command_tells_every_row_and_what_is_left_out() -> None:
    status, told = asked()
    assert status == ExitStatus.OK
    assert all(row.id in told for row in rows())
    assert all(out.reason in told for out in left_out())


def test_as_json() -> None:
    status, told = asked("--json")
    found = [json.loads(line) for line in told.splitlines()]
    assert status == ExitStatus.OK
    assert [each["id"] for each in found] == [row.id for row in rows()]
    assert all(each["pass"] for each in found if each["counts"])


def test_a_wrong_answer_fails_the_command(monkeypatch: pytest.MonkeyPatch) -> None:
    wrong = Published("L17", "one set-up", "elevation", ["10", "3"], ["6"], 0, "nobody", "read")
    monkeypatch.setattr("assistant.commands.published.rows", lambda: [wrong])
    status, told = asked()
    assert status == ExitStatus.NOT_UNDERSTOOD
    assert "NO" in told


def test_a_misprint_that_is_repeated_fails() -> None:
    row = Published("L17", "", "elevation", ["10", "3"], ["7"], 0, "nobody", "read", misprint=["7"])
    assert not row.passes()
