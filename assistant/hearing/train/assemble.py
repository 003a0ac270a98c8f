"""Put a model folder together: python -m assistant.hearing.train.assemble NET FOLDER

The words are those of the grammar and a few that people say beside it; new words need no new training.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterable
from pathlib import Path

from assistant.hearing.train.export import export
from assistant.hearing.train.fbank import CONF
from assistant.hearing.train.graph import write_graph
from assistant.hearing.train.lexicon import pronunciations
from assistant.hearing.train.network import load
from grammar.words import table

BESIDE = "yes no okay left right on go undo repeat start fifth third thirds double triple minus".split()
"""Words outside the grammar that are worth hearing as themselves."""

DECODER = """--min-active=200
--max-active=5000
--beam={beam}
--lattice-beam=6.0
--acoustic-scale={scale}
--frame-subsampling-factor=3
--phone-determinize=false
--endpoint.silence-phones=1
--endpoint.rule2.min-trailing-silence=0.5
--endpoint.rule3.min-trailing-silence=0.75
--endpoint.rule4.min-trailing-silence=1.0
"""


def grammar_words() -> set[str]:
    """Every word that the grammar knows as spoken."""
    return {word for said in table().said.values() for word in said}


def assemble(
    net: Path, folder: Path, words: Iterable[str], scale: float, beam: float, each: float, entry: float
) -> None:
    """Write the folder. Raises `LexiconError` where a word has no pronunciation."""
    known = pronunciations(words)
    for part in ("am", "conf"):
        (folder / part).mkdir(parents=True, exist_ok=True)
    export(load(net), folder / "am" / "final.mdl")
    (folder / "conf" / "fbank.conf").write_text(CONF)
    (folder / "conf" / "model.conf").write_text(DECODER.format(scale=scale, beam=beam))
    write_graph(folder / "graph", known, each, entry)


def main() -> None:
    """Read the command line."""
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("net", type=Path)
    ask.add_argument("folder", type=Path)
    ask.add_argument("--scale", type=float, default=0.6)
    ask.add_argument("--beam", type=float, default=13.0)
    ask.add_argument("--each", type=float, default=2.2, help="cost of a sound of [unk]")
    ask.add_argument("--entry", type=float, default=1.0, help="cost of [unk] itself")
    options = ask.parse_args()
    words = grammar_words() | set(BESIDE)
    assemble(options.net, options.folder, words, options.scale, options.beam, options.each, options.entry)


if __name__ == "__main__":
    main()
