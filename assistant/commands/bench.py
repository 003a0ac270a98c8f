"""`rodside bench`: figures of speed, memory and hearing."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterator
from importlib.resources import as_file, files
from time import perf_counter

import numpy as np

from assistant.environment import Environment, ExitStatus
from assistant.hearing.ears import open_ear
from assistant.hearing.port import SAMPLE_RATE
from assistant.lab.measuring import hearing, long, report, speed
from grammar.automaton import compile_language
from grammar.quantities import Marking


def run(options: argparse.Namespace, world: Environment) -> ExitStatus:
    """Measure the parts asked for, or all but the long book, the hearing and the page, which take minutes."""
    parts: dict[str, Callable[[], Iterator[speed.Line]]] = {
        "typed": speed.typed,
        "parsing": speed.parsing,
        "volumes": speed.volumes,
        "replay": speed.replay,
        "report": report.report,
        "listening": lambda: speed.listening(lambda: open_ear(options.ears, options.model)),
        "long": long.long,
        "page": _page,
        "ears": lambda: _ears(options),
    }
    wanted = options.what or [name for name in parts if name not in ("ears", "long", "page")]
    unknown = [name for name in wanted if name not in parts]
    if unknown:
        world.warn(f"rodside: no such part: {', '.join(unknown)}; there are {', '.join(parts)}.")
        return ExitStatus.USAGE
    for name in wanted:
        for what, figure, remark in parts[name]():
            world.say(f"{what:58} {figure:>12}  {remark}".rstrip())
    return ExitStatus.OK


def _page() -> Iterator[speed.Line]:
    from assistant.lab.measuring.page import page

    return page()


def _ears(options: argparse.Namespace) -> Iterator[speed.Line]:
    language = compile_language("sentence", Marking.INCHES)
    began = perf_counter()
    ear = open_ear(options.ears, options.model)
    ear.hear(np.zeros(SAMPLE_RATE // 10, np.int16), language)
    yield f"{ear.name}: loading, until a tenth of a second is heard", f"{perf_counter() - began:.2f} s", ""
    with as_file(files("audio_fixtures") / "manifest.csv") as manifest:
        for ratio, result in hearing.bundled(ear, manifest.parent):
            yield f"{ear.name}: bundled sentences, {ratio} dB", "", result.line()
    speech = options.speech
    if speech is None or not (speech / "manifest.csv").exists():
        yield f"{ear.name}: people", "", "not measured: give the folder of recordings with --speech"
        return
    rival = (lambda: open_ear("sphinx")) if options.against and ear.name != "sphinx" else None
    for what, figure, remark in hearing.table(ear, speech, options.most, rival):
        yield f"{ear.name}: {what}", figure, remark
