"""Writes what the hostile talks lead to anew, as it is now: read every change before keeping it."""

from __future__ import annotations

from pathlib import Path

import yaml
from talks import HERE, opened, scratch_book, standing, taken


def main() -> None:
    for path in sorted(Path(HERE).glob("*.yaml")):
        every = yaml.safe_load(path.read_text("utf-8"))
        for talk in every:
            with scratch_book() as book:
                session = opened(talk, book)
                for step in talk["steps"]:
                    outcome = taken(session, step)
                    step["reply"], step["writes"] = outcome.reply.shown, [row.kind for row in outcome.rows]
                    step.pop("asks", None)
                    if outcome.reply.asks:
                        step["asks"] = True
                talk["book"] = standing(book)
        path.write_text(yaml.safe_dump(every, sort_keys=False, allow_unicode=True, width=118), "utf-8")


if __name__ == "__main__":
    main()
