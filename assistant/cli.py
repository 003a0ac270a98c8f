"""The command line: arguments in, exit status out."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from importlib import import_module
from pathlib import Path

from assistant.environment import Environment, ExitStatus, Trouble

COMMANDS = ("talk", "ask", "hear", "serve", "demo", "book", "export", "verify", "doctor", "bench")

CAUTION = """\
Never look into the laser beam. Trenches kill: depth of 5 ft and more needs protection, 4 ft a way out.
Call before you dig, and mind overhead lines with a raised rod. Rodside informs; it does not certify:
the maker's manual, your local code and the competent person on site decide."""

STATUSES = "exit status: " + ", ".join(
    f"{status.value} {status.name.lower().replace('_', ' ')}" for status in ExitStatus
)


def parser() -> argparse.ArgumentParser:
    """The whole command line."""
    top = argparse.ArgumentParser(
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
    _ears(talk)

    ask = commands.add_parser("ask", help="give utterances as text and print the answers")
    ask.add_argument("text", nargs="+", help="one utterance each, in order")
    _book(ask, "the book to write (default: none is kept)")
    _json(ask)

    hear = commands.add_parser("hear", help="hear recordings and print the answers")
    hear.add_argument("file", nargs="+", type=Path, help="WAV, FLAC or OGG, in order")
    _book(hear, "the book to write (default: none is kept)")
    hear.add_argument("--say-to", metavar="DIR", type=Path, help="write each answer as a WAV file")
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
    _ears(serve)

    demo = commands.add_parser("demo", help="hear a short job from bundled recordings")
    demo.add_argument("--quiet", action="store_true", help="do not play the answers")
    _ears(demo)

    book = commands.add_parser("book", help="show a book as a table")
    book.add_argument("book", metavar="BOOK", type=Path)

    export = commands.add_parser("export", help="write a book as CSV or JSON lines, exactly")
    export.add_argument("book", metavar="BOOK", type=Path)
    export.add_argument("-o", "--output", metavar="FILE", type=Path, help="default: standard output")
    export.add_argument("--format", choices=("csv", "jsonl"), help="default: by the ending of FILE, else csv")

    verify = commands.add_parser("verify", help="whether a book still holds what was written")
    verify.add_argument("book", metavar="BOOK", type=Path)

    doctor = commands.add_parser("doctor", help="what works here, and what to do where it does not")
    _ears(doctor)

    bench = commands.add_parser("bench", help="measure speed and memory")
    bench.add_argument(
        "what", nargs="*", help="typed, parsing, replay, listening, page, ears (default: all but the last two)"
    )
    bench.add_argument(
        "--speech",
        metavar="DIR",
        type=Path,
        help="people's recordings with a manifest.csv, for ears",
    )
    _ears(bench)
    return top


def main(arguments: Sequence[str] | None = None, environment: Environment | None = None) -> int:
    """Run one command and return its exit status."""
    given = list(sys.argv[1:] if arguments is None else arguments)
    if not given or (given[0] not in COMMANDS and given[0] not in ("-h", "--help")):
        given = ["talk", *given]
    options = parser().parse_args(given)
    world = environment or Environment()
    command = import_module(f"assistant.commands.{options.command}")
    try:
        status: ExitStatus = command.run(options, world)
    except Trouble as trouble:
        world.warn(f"rodside: {trouble}")
        return trouble.status
    except KeyboardInterrupt:
        return ExitStatus.INTERRUPTED
    except BrokenPipeError:
        sys.stderr.close()
        return ExitStatus.OK
    return status


def _book(command: argparse.ArgumentParser, help_text: str) -> None:
    command.add_argument("--book", metavar="FILE", type=Path, help=help_text)


def _json(command: argparse.ArgumentParser) -> None:
    command.add_argument("--json", action="store_true", help="one object per utterance")


def _ears(command: argparse.ArgumentParser) -> None:
    command.add_argument("--ears", choices=("sphinx", "vosk"), help="the recogniser")
    command.add_argument("--model", metavar="DIR", type=Path, help="a model folder for vosk")
