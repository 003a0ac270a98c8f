"""The engine against values that others published."""

import pytest
from rows import STATUSES, Published, rows


@pytest.mark.parametrize("row", [pytest.param(row, id=row.id) for row in rows() if row.status != "from memory"])
def test_published_value(row: Published) -> None:
    assert row.answers() == row.wanted(), f"{row.what} ({row.source})"


def test_every_row_names_its_source_and_status() -> None:
    every = rows()
    assert len({row.id for row in every}) == len(every)
    for row in every:
        assert row.status in STATUSES
        assert row.source or row.status in ("arithmetic", "from memory")
