"""The example reports that are kept: the whole days of tests/days, each beside what its book tells now.

`python tests/report/test_examples.py` makes them again.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from days import day

from assistant.report import page

NAMES = {
    "pipe_run": "A pipe run with two bends",
    "yard": "A yard that falls two ways",
    "slab": "A slab to a drain",
    "posts": "A row of posts",
    "loop": "A loop of levels",
}
KEPT = Path(page.__file__).parent / "docs"
AMOUNT = re.compile(r'<data value="([^"]+)" data-unit="([^"]*)" data-of="([^"]+)">([^<]*)</data>')
WORDS = re.compile(r"<svg.*?</svg>|<style.*?</style>|<[^>]+>|\s+", re.DOTALL)


def made(name: str) -> str:
    return page.html(list(day(name).rows()), NAMES[name], "A4")


@pytest.mark.parametrize("name", NAMES)
def test_a_kept_report_tells_what_its_book_tells(name: str) -> None:
    kept, now = (KEPT / f"{name}.html").read_text("utf-8"), made(name)
    assert AMOUNT.findall(kept) == AMOUNT.findall(now)
    assert AMOUNT.findall(kept) or name == "loop"
    assert WORDS.sub(" ", kept).split() == WORDS.sub(" ", now).split()


def test_the_kept_reports_are_small_and_named_in_the_readme() -> None:
    readme = Path("README.md").read_text("utf-8")
    assert sum(path.stat().st_size for path in KEPT.glob("*.html")) < 700_000
    assert all(f"assistant/report/docs/{name}.html" in readme for name in NAMES)


if __name__ == "__main__":
    KEPT.mkdir(exist_ok=True)
    for each in NAMES:
        (KEPT / f"{each}.html").write_text(made(each), "utf-8")
