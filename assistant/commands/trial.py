"""`rodside trial`: simulated days, and how often a wrong number went in quietly."""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterator
from itertools import product
from multiprocessing import get_context
from pathlib import Path
from typing import Any

from rich import box
from rich.console import Console
from rich.table import Table

from assistant.environment import Environment, ExitStatus
from assistant.hearing.ears import open_ear
from assistant.hearing.port import Ear
from assistant.trial import site, tally, voices
from assistant.trial.day import Plan
from assistant.trial.day import run as live
from grammar.quantities import Marking

QUICK = (45.0, 10.0)
WIDE = 240

_EAR: Ear | None = None


def run(options: argparse.Namespace, world: Environment) -> ExitStatus:
    """Live through the days that are not yet among the results, and print the table of all."""
    speech: Path | None = options.speech
    if speech is not None and not (speech / "manifest.csv").exists():
        world.warn(f"rodside: {speech} holds no manifest.csv; leave --speech out for self-made noise.")
        return ExitStatus.USAGE
    wanted = plans(options, speech)
    done = {day["name"]: day for day in _kept(options.resume)}
    todo = [plan for plan in wanted if plan.name not in done]
    for day in _lived(todo, options, speech):
        done[day["name"]] = day
        if options.resume is not None:
            with options.resume.open("a") as stream:
                print(json.dumps(day), file=stream)
        world.warn(f"{len(done)} of {len(wanted)} days")
    names = {plan.name for plan in wanted}
    _print([day for day in done.values() if day["name"] in names], world)
    return ExitStatus.OK


def plans(options: argparse.Namespace, speech: Path | None) -> list[Plan]:
    """The days to be lived: voices, noises and rods in turn, each at every ratio, with doubt and without."""
    ratios = QUICK if options.quick else [site.CLEAN if text == "clean" else float(text) for text in options.snr]
    families, noises, rods = voices.families(speech), site.kinds(speech), list(Marking)
    found = []
    for number, ratio in product(range(1 if options.quick else options.days), ratios):
        seed = options.seed * 1000 + number
        family = families[number % len(families)]
        rod = Marking.TENTHS if family == "people's digits" else rods[(number // len(families)) % 5 % 3]
        for doubting in (True, False):
            found.append(Plan(seed, rod.value, family, noises[number % len(noises)], ratio, doubting))
    return found


def _lived(todo: list[Plan], options: argparse.Namespace, speech: Path | None) -> Iterator[dict[str, Any]]:
    given = (options.ears, options.model)
    work = [(plan, speech) for plan in todo]
    if options.jobs < 2:
        _start(*given)
        yield from map(_live, work)
        return
    with get_context("spawn").Pool(options.jobs, _start, given) as pool:
        yield from pool.imap_unordered(_live, work)


def _start(ears: str | None, model: Path | None) -> None:
    global _EAR
    _EAR = open_ear(ears, model)


def _live(work: tuple[Plan, Path | None]) -> dict[str, Any]:
    plan, speech = work
    assert _EAR is not None
    return {**vars(plan), "name": plan.name, "entries": live(plan, _EAR, speech)}


def _kept(path: Path | None) -> list[dict[str, Any]]:
    """Days of an earlier run; a last line that was cut off is lived again."""
    if path is None or not path.exists():
        return []
    found = []
    for line in path.read_text("utf-8").splitlines():
        try:
            found.append(json.loads(line))
        except ValueError:
            continue
    return found


def _print(days: list[dict[str, Any]], world: Environment) -> None:
    shown = Table(box=box.SIMPLE, pad_edge=False)
    for name in tally.COLUMNS:
        shown.add_column(name, justify="left" if name in tally.COLUMNS[:3] else "right")
    for line in tally.table(days):
        shown.add_row(*line)
    Console(file=world.stdout, width=None if world.stdout.isatty() else WIDE, highlight=False).print(shown)
