"""`rodside trial`: simulated days, and how often a wrong number went in quietly."""

from __future__ import annotations

import argparse
import json
from collections.abc import Callable, Iterable, Iterator
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
from assistant.lab.trial import calibrate, fuzz, site, tally, voices
from assistant.lab.trial.collect import answered, answers, collect, evidence_of, noises, replayed, where
from assistant.lab.trial.day import Plan
from assistant.lab.trial.day import run as live
from assistant.lab.trial.soak import soak
from grammar.quantities import Marking

QUICK = (45.0, 10.0)
WIDE = 240
SCENES_A_WORD = 100

_EAR: Ear | None = None


def run(options: argparse.Namespace, world: Environment) -> ExitStatus:
    """Live through the days that are not yet among the results, and print the table of all."""
    if options.lines is not None:
        return _fuzzed(options, world)
    speech: Path | None = options.speech
    if speech is not None and not (speech / "manifest.csv").exists():
        world.warn(f"rodside: {speech} holds no manifest.csv; leave --speech out for self-made noise.")
        return ExitStatus.USAGE
    if options.soak is not None:
        for what, figure in soak(options.soak, open_ear(options.ears, options.model), speech, options.seed):
            world.say(f"{what:45} {figure}")
        return ExitStatus.OK
    if options.calibrate is not None:
        return _calibrated(options, speech, world)
    wanted = plans(options, speech)
    done = {day["name"]: day for day in _kept(options.resume)}
    todo = [plan for plan in wanted if plan.name not in done]
    for day in _lived(_live, todo, options, speech):
        done[day["name"]] = day
        _keep(day, options.resume)
        world.warn(f"{len(done)} of {len(wanted)} days")
    names = {plan.name for plan in wanted}
    _print([day for day in done.values() if day["name"] in names], world)
    return ExitStatus.OK


def _fuzzed(options: argparse.Namespace, world: Environment) -> ExitStatus:
    """Say mutated lines in every state of a talk, and print what came of them."""
    each = -(-options.lines // options.jobs)
    work = [(each, options.seed * 1000 + number) for number in range(options.jobs)]
    total = fuzz.Found()
    if options.jobs < 2:
        for at, total in enumerate(fuzz.fuzz(*work[0]), 1):
            if at % SCENES_A_WORD == 0:
                world.warn(f"{total.lines:,} of {options.lines:,} lines")
    else:
        with get_context("spawn").Pool(options.jobs) as pool:
            for found in pool.imap_unordered(fuzz.whole, work):
                total += found
                world.warn(f"{total.lines:,} of {options.lines:,} lines")
    for what, figure in total.figures():
        world.say(f"{what:45} {figure}")
    return ExitStatus.NOT_UNDERSTOOD if total.troubles else ExitStatus.OK


def _calibrated(options: argparse.Namespace, speech: Path | None, world: Environment) -> ExitStatus:
    """Collect what is not yet in the file, then fit the doubt to it and print the reliability curve."""
    options.snr, options.quick = ["clean"], False
    wanted = {plan.name: plan for plan in plans(options, speech) if plan.doubting}
    done = {day["name"]: day for day in _kept(options.calibrate)}
    for day in _lived(_listen, [plan for name, plan in wanted.items() if name not in done], options, speech):
        done[day["name"]] = day
        _keep(day, options.calibrate)
        world.warn(f"{len(done)} of {len(wanted)} days")
    said = [
        calibrate.Said(number, *one)
        for number, day in enumerate(done.values())
        for plan in [Plan(**{name: day[name] for name in Plan.__dataclass_fields__})]
        for one in (*replayed(day, plan), *answered(day, plan))
    ]
    fitted = calibrate.fit(said, list(_noises(done.values())))
    calibrate.write(fitted, calibrate.confused(said), calibrate.confused(said, guessed=False))
    for line in calibrate.reliability(fitted):
        world.say(line)
    return ExitStatus.OK


def _noises(days: Iterable[dict[str, Any]]) -> Iterator[calibrate.Noise]:
    for number, day in enumerate(days):
        for row in day.get("noises", []):
            yield number, evidence_of(row), where(day, row)


def _keep(day: dict[str, Any], path: Path | None) -> None:
    if path is not None:
        with path.open("a") as stream:
            print(json.dumps(day), file=stream)


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


def _lived(
    live_one: Callable[[tuple[Plan, Path | None]], dict[str, Any]],
    todo: list[Plan],
    options: argparse.Namespace,
    speech: Path | None,
) -> Iterator[dict[str, Any]]:
    given = (options.ears, options.model)
    work = [(plan, speech) for plan in todo]
    if options.jobs < 2:
        _start(*given)
        yield from map(live_one, work)
        return
    with get_context("spawn").Pool(options.jobs, _start, given) as pool:
        yield from pool.imap_unordered(live_one, work)


def _start(ears: str | None, model: Path | None) -> None:
    global _EAR
    _EAR = open_ear(ears, model)


def _live(work: tuple[Plan, Path | None]) -> dict[str, Any]:
    plan, speech = work
    assert _EAR is not None
    return {**vars(plan), "name": plan.name, "entries": live(plan, _EAR, speech)}


def _listen(work: tuple[Plan, Path | None]) -> dict[str, Any]:
    plan, speech = work
    assert _EAR is not None
    parts = {"evidence": collect, "answers": answers, "noises": noises}
    return {**vars(plan), "name": plan.name, **{name: part(plan, _EAR, speech) for name, part in parts.items()}}


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
