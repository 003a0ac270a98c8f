"""Put a model folder together.

    python -m assistant.lab.training.assemble FOLDER              new words: only lexicon and graph are made again
    python -m assistant.lab.training.assemble FOLDER --net NET    a new network too, which needs torch
    python -m assistant.lab.training.assemble FOLDER --witness NET    and another one

The words are those of the grammar and a few that people say beside it; new words need no new training. A word that
neither the English dictionary nor `said.txt` pronounces is an error that names it, and nothing is written.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterable, Sequence
from pathlib import Path

from assistant.hearing.exact import NETWORK, WITNESS
from assistant.hearing.lead import LEAD
from assistant.lab.training.graph import write_graph
from assistant.lab.training.lexicon import LexiconError, pronunciations
from grammar.words import table

BESIDE = "yes no okay left right on go undo repeat start fifth third thirds double triple minus".split()
"""Words outside the grammar that are worth hearing as themselves."""

DECODER = """--min-active=200
--max-active=5000
--beam={beam}
--lattice-beam=10.0
--acoustic-scale={scale}
--frame-subsampling-factor=3
--phone-determinize=false
--max-mem=1000000
--endpoint.silence-phones=1
--endpoint.rule2.min-trailing-silence=0.5
--endpoint.rule3.min-trailing-silence=0.75
--endpoint.rule4.min-trailing-silence=1.0
"""

EACH, ENTRY = 2.2, 1.0
"""Costs of `[unk]`: of each of its sounds, and of beginning it."""


def grammar_words() -> set[str]:
    """Every word that the grammar knows as spoken."""
    return {word for said in table().said.values() for word in said}


def with_words(folder: Path, words: Iterable[str], each: float = EACH, entry: float = ENTRY) -> None:
    """Write lexicon and graph of a model folder. Raises `LexiconError` where a word has no pronunciation."""
    known = pronunciations(words)
    write_graph(folder / "graph", known, each, entry)


def with_network(folder: Path, net: Path, scale: float, beam: float) -> None:
    """Write the network of a model folder and the settings of its search."""
    from assistant.lab.training.export import export
    from assistant.lab.training.fbank import CONF
    from assistant.lab.training.network import load

    for part in ("am", "conf"):
        (folder / part).mkdir(parents=True, exist_ok=True)
    export(load(net), folder / "am" / NETWORK)
    (folder / "conf" / "fbank.conf").write_text(CONF)
    (folder / "conf" / "model.conf").write_text(DECODER.format(scale=scale, beam=beam))


def with_witness(folder: Path, net: Path) -> None:
    """Write another network of a model folder."""
    from assistant.lab.training.export import export
    from assistant.lab.training.network import load

    export(load(net), folder / "am" / WITNESS)


def main(arguments: Sequence[str] | None = None) -> None:
    """Read the command line."""
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("folder", type=Path)
    ask.add_argument("--net", type=Path, help="a trained network, where the folder is to get one")
    ask.add_argument("--witness", type=Path, help="another trained network, which only the doubt asks")
    ask.add_argument("--scale", type=float, default=0.6)
    ask.add_argument("--beam", type=float, default=13.0)
    ask.add_argument("--each", type=float, default=EACH, help="cost of a sound of [unk]")
    ask.add_argument("--entry", type=float, default=ENTRY, help="cost of [unk] itself")
    options = ask.parse_args(arguments)
    if options.net is None and not (options.folder / "am" / NETWORK).exists():
        ask.error(f"{options.folder} holds no model (am/final.mdl): give a trained network with --net.")
    words = grammar_words() | {LEAD, *BESIDE}
    try:
        with_words(options.folder, words, options.each, options.entry)
    except LexiconError as missing:
        sys.exit(f"{ask.prog}: {missing}")
    if options.net is not None:
        with_network(options.folder, options.net, options.scale, options.beam)
    if options.witness is not None:
        with_witness(options.folder, options.witness)


if __name__ == "__main__":
    main()
