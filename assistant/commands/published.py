"""`rodside published`: the published values, and whether the engine answers them, worked out on the spot."""

from __future__ import annotations

import argparse
import json
from collections import Counter
from typing import Any

from assistant.book.exact_json import encode
from assistant.environment import Environment, ExitStatus
from assistant.lab.published.rows import STATUSES, LeftOut, Published, left_out, rows


def run(options: argparse.Namespace, world: Environment) -> ExitStatus:
    """Ask the engine each row, and tell how it answers; a row from memory is shown and never counted against it."""
    every = [(row, row.passes()) for row in rows()]
    if options.json:
        for row, right in every:
            world.say(json.dumps(_as_json(row, right), ensure_ascii=False))
    else:
        _print_table(every, world)
        for line in (*_summary(every), "", "left out:", *map(_left_out_line, left_out())):
            world.say(line)
    failed = any(row.gates and not right for row, right in every)
    return ExitStatus.NOT_UNDERSTOOD if failed else ExitStatus.OK


def _as_json(row: Published, right: bool) -> dict[str, Any]:
    found = {"id": row.id, "what": row.what, "source": row.source, "status": row.status, "pass": right}
    return {**found, "counts": row.gates, "expected": row.expected, "found": [encode(each) for each in row.answers()]}


def _print_table(every: list[tuple[Published, bool]], world: Environment) -> None:
    from rich import box
    from rich.console import Console
    from rich.table import Table

    table = Table("id", "what", "source", "status", "pass", box=box.SIMPLE)
    for row, right in every:
        verdict = ("yes" if right else "NO") if row.gates else ("same" if right else "differs")
        table.add_row(row.id, row.what, row.source or "—", row.status, verdict)
    console = Console(file=world.stdout, markup=False, highlight=False)
    Console(file=world.stdout, width=max(console.width, 120), markup=False, highlight=False).print(table)


def _summary(every: list[tuple[Published, bool]]) -> list[str]:
    total, right = Counter(row.status for row, _ in every), Counter(row.status for row, ok in every if ok)
    lines = [f"{status}: {right[status]} of {total[status]} the same" for status in STATUSES if total[status]]
    return [*lines, f"{len(every)} rows for {len({row.table_id for row, _ in every})} published values"]


def _left_out_line(out: LeftOut) -> str:
    return f"{', '.join(out.ids)}: {out.reason}"
