"""The command line: arguments in, exit status out."""

from __future__ import annotations

import argparse
import logging
import os
import sys
from collections.abc import Sequence
from importlib import import_module
from pathlib import Path
from typing import Any

from assistant.environment import Environment, ExitStatus, Trouble, visible

COMMANDS = tuple(
    "talk ask hear serve demo book report export import play verify push pull doctor bench record trial "
    "published".split()
)

MODULES = {"import": "import_"}
"""Commands whose module has another name, because theirs is a word of Python."""

CAUTION = """\
Never look into the laser beam. Trenches kill: depth of 5 ft and more needs protection, 4 ft a way out.
Call before you dig, and mind overhead lines with a raised rod. Rodside informs; it does not certify:
the maker's manual, your local code and the competent person on site decide."""

STATUSES = "exit status: " + ", ".join(
    f"{status.value} {status.name.lower().replace('_', ' ')}" for status in ExitStatus
)


class _Parser(argparse.ArgumentParser):
    """A parser that shows what a terminal would obey in the arguments that it quotes."""

    def _print_message(self, message: str, file: Any = None) -> None:
        super()._print_message(visible(message, keep="\n\t"), file)


def parser() -> argparse.ArgumentParser:
    """The whole command line."""
    top = _Parser(
        prog="rodside",
        description="An offline, hands-free assistant for the person who holds the grade rod.",
        epilog=f"{CAUTION}\n\n{STATUSES}",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    commands = top.add_subparsers(dest="command", metavar="COMMAND")

    talk = commands.add_parser("talk", help="talk: by microphone, or typed (the default command)")
    _book(talk, "the book to write (default: today's, among your documents)")
    talk.add_argument("--typed", action="store_true", help="type instead of talking")
    talk.add_argument("--device", metavar="NAME", help="the microphone to use, by name")
    talk.add_argument("--quiet", action="store_true", help="do not speak the answers")
    talk.add_argument("--key", action="store_true", help="listen only after a press of a key: space, a page turner")
    talk.add_argument("--headset", action="store_true", help="listen while speaking too: nothing hears the answers")
    talk.add_argument("--lead", action="store_true", help="hear only what begins with the word rodside, and answers")
    _audio(talk)
    _ears(talk)

    ask = commands.add_parser("ask", help="give utterances as text and print the answers")
    ask.add_argument("text", nargs="+", help="one utterance each, in order")
    _book(ask, "the book to write (default: none is kept)")
    _json(ask)

    hear = commands.add_parser("hear", help="hear recordings and print the answers")
    hear.add_argument("file", nargs="+", type=Path, help="WAV, FLAC or OGG, in order")
    _book(hear, "the book to write (default: none is kept)")
    hear.add_argument("--say-to", metavar="DIR", type=Path, help="write each answer as a WAV file")
    _audio(hear)
    _ears(hear)
    _json(hear)

    serve = commands.add_parser("serve", help="a page for phones on the local network")
    _book(serve, "the book to write (default: today's, among your documents)")
    serve.add_argument("--address", metavar="IP", help="the address to serve on (default: all of this machine's)")
    serve.add_argument("--port", type=int, default=8443, help="for the page (default: 8443)")
    serve.add_argument("--landing-port", type=int, default=8080, help="for the certificate (default: 8080)")
    serve.add_argument("--state", metavar="DIR", type=Path, help="where certificates and devices are kept")
    serve.add_argument("--headless", action="store_true", help="for a box without a screen: print no codes")
    serve.add_argument("--pair", choices=("log", "listen", "view"), help="print a code for one more device, and end")
    serve.add_argument("--devices", action="store_true", help="list the paired devices, and end")
    serve.add_argument("--revoke", metavar="NAME", help="let a device in no more, and end")
    serve.add_argument("--quiet", action="store_true", help="do not speak the answers")
    _audio(serve)
    _ears(serve)

    demo = commands.add_parser("demo", help="hear a short job from bundled recordings")
    demo.add_argument("--quiet", action="store_true", help="do not play the answers")
    _ears(demo)

    book = commands.add_parser("book", help="show a book as a table, and follow it in a terminal")
    book.add_argument("book", metavar="BOOK", type=Path)
    follows = book.add_mutually_exclusive_group()
    follows.add_argument("--once", action="store_true", help="show it as it is now, and end")
    book.add_argument("--all", action="store_true", help="with --once: every entry of a long book, not just the last")
    follows.add_argument("--follow", action="store_true", help="go on with what is written, on a pipe too")

    report = commands.add_parser("report", help="draw a job on one page, from its book alone")
    report.add_argument("book", metavar="BOOK", type=Path)
    report.add_argument("-o", "--output", metavar="FILE", type=Path, help=".html or .pdf (default: beside the book)")
    report.add_argument("--title", help="what the job is called (default: the name of the book)")
    report.add_argument("--paper", choices=("letter", "A4"), default="letter", help="for printing")

    export = commands.add_parser("export", help="write a book as CSV or JSON lines, exactly, or as LandXML")
    export.add_argument("book", metavar="BOOK", type=Path)
    export.add_argument("-o", "--output", metavar="FILE", type=Path, help="default: standard output")
    export.add_argument(
        "--format", choices=("csv", "jsonl", "landxml"), help="default: by the ending of FILE, else csv"
    )

    bring = commands.add_parser("import", help="take a plan from CSV into a book, or an exported book into a new one")
    bring.add_argument("book", metavar="BOOK", type=Path)
    bring.add_argument("file", metavar="FILE", type=Path, help="points, a profile or a line as CSV, or an export")
    bring.add_argument("--confirm", action="store_true", help="write a plan without asking")

    play = commands.add_parser("play", help="play the sound of an entry, as it was spoken")
    play.add_argument("book", metavar="BOOK", type=Path)
    play.add_argument("entry", metavar="N", type=int, help="the number of the entry")
    play.add_argument("-o", "--output", metavar="FILE", type=Path, help="write it as WAV instead")

    verify = commands.add_parser(
        "verify", help="whether a book, its sounds and its sums still are as they were written"
    )
    verify.add_argument("book", metavar="BOOK", type=Path)
    verify.add_argument("--code", help="also, whether it begins as this code says, that was written down before")
    verify.add_argument("--without-audio", action="store_true", help="do not ask for sounds that were removed")

    push = commands.add_parser("push", help="send books to the office, a PostgreSQL database")
    _office(push)
    push.add_argument("book", metavar="BOOK", nargs="*", type=Path)
    push.add_argument("--prepare", action="store_true", help="first make its tables and rules (its owner does, once)")

    pull = commands.add_parser("pull", help="bring books from the office, or tell what is unproven in them")
    _office(pull)
    pull.add_argument("-d", "--folder", metavar="DIR", type=Path, default=Path(), help="where to (default: here)")
    pull.add_argument("--unproven", action="store_true", help="tell the unproven readings of all books instead")
    pull.add_argument("--days", type=int, default=7, help="of how many days (default: 7)")

    doctor = commands.add_parser("doctor", help="what works here, and what to do where it does not")
    _ears(doctor)

    record = commands.add_parser("record", help="read sentences aloud, kept here, to see how well your voice is heard")
    record.add_argument("folder", metavar="DIR", type=Path, help="where the recordings are kept")
    record.add_argument("--prompts", metavar="N", type=int, default=40, help="how many sentences (default: 40)")
    record.add_argument("--score", action="store_true", help="record nothing; score what is there")
    record.add_argument("--device", metavar="NAME", help="the microphone to use, by name")
    _ears(record)

    bench = commands.add_parser("bench", help="measure speed and memory")
    bench.add_argument(
        "what",
        nargs="*",
        help="typed, parsing, volumes, replay, report, listening, long, page, ears (default: all but the last three)",
    )
    bench.add_argument(
        "--speech",
        metavar="DIR",
        type=Path,
        help="people's recordings with a manifest.csv, for ears",
    )
    bench.add_argument("--most", metavar="N", type=int, default=500, help="clips a test, for ears (default: 500)")
    bench.add_argument("--against", action="store_true", help="for ears: PocketSphinx on the same clips, slowly")
    _ears(bench)

    trial = commands.add_parser("trial", help="simulate days on a site and count the wrong numbers")
    trial.add_argument("--quick", action="store_true", help="one short day, under a minute")
    trial.add_argument("--days", type=int, default=20, metavar="N", help="days at each ratio (default: 20)")
    trial.add_argument("--snr", nargs="+", default=["clean", "20", "15", "10", "5"], metavar="DB", help="ratios to try")
    trial.add_argument("--seed", type=int, default=1, metavar="N", help="another seed, other days (default: 1)")
    trial.add_argument("--jobs", type=int, default=1, metavar="N", help="processes at a time (default: 1)")
    trial.add_argument("--resume", type=Path, metavar="FILE", help="keep each finished day there, and skip those kept")
    trial.add_argument(
        "--calibrate", type=Path, metavar="FILE", help="fit the doubt anew, to what is kept or collected there"
    )
    trial.add_argument("--lines", type=int, metavar="N", help="instead: N mutated lines in every state of a talk")
    trial.add_argument("--soak", type=float, metavar="HOURS", help="an open microphone in noise, with nobody there")
    trial.add_argument("--speech", metavar="DIR", type=Path, help="recordings with a manifest.csv: noise and digits")
    _ears(trial)

    published = commands.add_parser("published", help="published figures beside our own, with source and status")
    _json(published, "one object per row")
    return top


class _Defects(logging.Handler):
    """What a talk caught of our own mistakes is told and kept as any other defect; the talk goes on."""

    def __init__(self, world: Environment) -> None:
        super().__init__(logging.ERROR)
        self._world = world

    def emit(self, record: logging.LogRecord) -> None:
        """Tell it."""
        if record.exc_info and record.exc_info[1] is not None:
            self._world.failed(record.exc_info[1])


def main(arguments: Sequence[str] | None = None, environment: Environment | None = None) -> int:
    """Run one command and return its exit status."""
    given = list(sys.argv[1:] if arguments is None else arguments)
    if not given or (given[0] not in COMMANDS and given[0] not in ("-h", "--help")):
        given = ["talk", *given]
    options = parser().parse_args(given)
    world = environment or Environment()
    defects, talks = _Defects(world), logging.getLogger("assistant.talk")
    if os.environ.get("RODSIDE_DEBUG") != "1":
        talks.addHandler(defects)
    try:
        command = import_module(f"assistant.commands.{MODULES.get(options.command, options.command)}")
        status: ExitStatus = command.run(options, world)
    except Trouble as trouble:
        world.warn(f"rodside: {visible(str(trouble))}")
        return trouble.status
    except KeyboardInterrupt:
        return ExitStatus.INTERRUPTED
    except BrokenPipeError:
        sys.stderr.close()
        return ExitStatus.OK
    except Exception as defect:
        if os.environ.get("RODSIDE_DEBUG") == "1":
            raise
        world.failed(defect)
        return ExitStatus.DEFECT
    finally:
        talks.removeHandler(defects)
    return status


def _book(command: argparse.ArgumentParser, help_text: str) -> None:
    command.add_argument("--book", metavar="FILE", type=Path, help=help_text)


def _json(command: argparse.ArgumentParser, help_text: str = "one object per utterance") -> None:
    command.add_argument("--json", action="store_true", help=help_text)


def _office(command: argparse.ArgumentParser) -> None:
    command.add_argument("office", metavar="OFFICE", help="its address, like postgresql://crew7@office/rodside")


def _audio(command: argparse.ArgumentParser) -> None:
    kept = command.add_mutually_exclusive_group()
    kept.add_argument("--keep-audio", dest="keep_audio", action="store_true", default=None, help="keep what is spoken")
    kept.add_argument("--no-audio", dest="keep_audio", action="store_false", help="keep no sound")


def _ears(command: argparse.ArgumentParser) -> None:
    command.add_argument("--ears", choices=("sphinx", "vosk"), help="the recogniser")
    command.add_argument("--model", metavar="DIR", type=Path, help="a model folder for vosk")
