"""The README cannot lie."""

import io
import re
import shlex
from collections import Counter

import pytest
from fixtures import ROOT

from assistant import cli
from assistant.environment import Environment, ExitStatus
from assistant.lab.published.rows import rows
from grammar.understand import Context, understand

README = (ROOT / "README.md").read_text("utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text("utf-8")


def examples() -> list[tuple[str, str]]:
    """Each console example: the command, and what it prints."""
    blocks = re.findall(r"```console\n\$ (.*?)\n(.*?)```", README, re.DOTALL)
    return [(command, output) for command, output in blocks]


@pytest.mark.parametrize(("command", "output"), examples())
def test_examples_print_what_they_show(command: str, output: str) -> None:
    name, *arguments = shlex.split(command)
    assert name == "rodside"
    world = Environment(stdout=io.StringIO(), stderr=io.StringIO())
    assert cli.main(arguments, world) == ExitStatus.OK
    assert isinstance(world.stdout, io.StringIO)
    assert world.stdout.getvalue() == output


def test_there_is_an_example() -> None:
    assert examples()


def test_every_command_is_described_and_no_other() -> None:
    table = re.findall(r"^\| `rodside ?(\w*)", README, re.MULTILINE)
    assert sorted(name or "talk" for name in table) == sorted(cli.COMMANDS)


def test_every_status_is_told() -> None:
    line = next(line for line in README.splitlines() if line.startswith("Exit status:"))
    for status in ExitStatus:
        assert f"{status.value} {status.name.lower().replace('_', ' ')}" in line


def test_the_ci_runs_the_very_test_command() -> None:
    commands = re.findall(r"```sh\n(.*?)\n```", README)
    assert len(commands) == 2
    test_command = commands[1].removeprefix(".venv/bin/")
    assert test_command in (ROOT / ".ci" / "run").read_text().splitlines()


def test_every_place_that_is_named_exists() -> None:
    for text, folders in ((DEVELOPERS, ("", "grammar/", "assistant/")), (README, ("",))):
        for place in re.findall(r"`([a-z_.][\w./]*/[\w./]*|\w+\.(?:py|toml|lark))`", text):
            every = [ROOT / folder / place for folder in folders]
            found = any(path.exists() for path in every) or list(ROOT.rglob(place.rstrip("/")))
            assert found, place


def test_what_is_quoted_to_be_said_is_understood() -> None:
    for words in ("scratch that", "what can i say", "what can i say about lines", "confirm"):
        assert f'"{words[0].upper()}{words[1:]}' in README or f'"{words}"' in README.lower()
        assert understand(words, Context()).__class__.__name__ != "Miss"


def test_the_counts_of_published_values_are_true() -> None:
    every = rows()
    assert f"{len(every)} published or computed values" in README
    assert f"for {len({row.table_id for row in every})} ids" in README
    for status, count in Counter(row.status for row in every).items():
        assert f"| {status} | {count} |" in README
