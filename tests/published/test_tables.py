"""Every row of the shared tables is a row here, or is left out with a reason; none is given a better status."""

import re

import pytest
from fixtures import shared

from assistant.lab.published.rows import STATUSES, left_out, rows

TABLES = {"levelling.md": "", "drainage_and_earthwork.md": "D"}
"""The letter before the misprints of the second table, which has the same ids for them as the first."""

LETTERS = {
    "P": "read",
    "Q": "quotes a standard that was not read",
    "I": "inputs read, answer computed",
    "A": "arithmetic",
    "C": "common practice, no source",
    "M": "from memory",
}


@pytest.fixture(scope="module")
def table() -> dict[str, list[str]]:
    """The statuses of each id; none for the misprints, whose tables have none."""
    found: dict[str, list[str]] = {}
    for name, before in TABLES.items():
        for line in shared(f"checks/{name}").read_text("utf-8").partition("\n## Sources")[0].splitlines():
            if match := re.match(r"\| ([A-Z]-?\d\d) \|", line):
                cells = [cell.strip() for cell in line.strip("| ").split("|")]
                misprint = match[1].startswith("X")
                how = "" if misprint else cells[-1 if match[1][0] in "YW" else -2]
                found[before * misprint + match[1]] = [LETTERS[each] for each in re.findall(r"\b[PQIACM]\b", how)]
    return found


def test_every_id_is_a_row_or_left_out(table: dict[str, list[str]]) -> None:
    covered = {row.table_id for row in rows()} | {each for out in left_out() for each in out.ids}
    assert len(table) == 380
    assert covered == set(table)


def test_no_status_is_better_than_the_table_has_it(table: dict[str, list[str]]) -> None:
    for row in rows():
        if statuses := table[row.table_id]:
            assert STATUSES.index(row.status) >= min(STATUSES.index(each) for each in statuses), row.id


def test_misprints_are_not_what_is_expected() -> None:
    for row in rows():
        assert not set(map(str, row.misprint)) & set(map(str, row.expected)), row.id
