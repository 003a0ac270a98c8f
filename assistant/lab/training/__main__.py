"""From raw data to a model folder in one command.

    python -m assistant.lab.training MANIFEST DATA FOLDER --libri TEST_CLEAN DEV_CLEAN \\
        --piper VOICE.onnx VOICE.onnx.json --kokoro MODEL.onnx vocab.json VOICES

It gathers the recordings, lets every synthesizer speak, trains, and puts the model together in FOLDER, whose decoding
settings it writes too. What it needs is in the model card. `--rehearse` does all of it in miniature, on any machine in
minutes: the network that comes out hears nothing, but every step was taken.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path

from assistant.lab.training import assemble, beforehand, gather, make

WHOLE = "--boot 25 --frames 275 --sentences 1200 --steps 1000000 --size 352 --deepen 3 3 3 3 3".split()
MINIATURE = "--boot 10 --frames 10 --sentences 10 --steps 3 --size 16 --part 0.1 --workers 2 --deepen 3".split()

FEW = 100
"""Of how many texts and runs one is spoken in a rehearsal."""

SCALE = "0.4"
"""Of the scores of sounds beside those of the language; chosen by measurement (see the model card)."""


def main(arguments: Sequence[str] | None = None) -> None:
    """Take every step in order."""
    ask = argparse.ArgumentParser(
        "python -m assistant.lab.training", description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    ask.add_argument("manifest", type=Path)
    ask.add_argument("data", type=Path, help="a folder for what is gathered and spoken")
    ask.add_argument("folder", type=Path, help="the model folder")
    ask.add_argument("--libri", type=Path, nargs="*", default=[], help="folders in LibriSpeech's own layout")
    ask.add_argument("--piper", nargs=2, metavar=("MODEL", "SETTINGS"))
    ask.add_argument("--kokoro", nargs=3, metavar=("MODEL", "VOCABULARY", "VOICES"))
    ask.add_argument("--rehearse", action="store_true", help="everything in miniature")
    options = ask.parse_args(arguments)
    gather.main(options.manifest, options.data, options.libri)
    speakers = {
        "flite": [],
        "festival": [],
        "piper": options.piper,
        "kokoro": options.kokoro,
        "carrier": options.kokoro,
    }
    share = ["--share", "0", str(FEW if options.rehearse else 1)]
    for name, models in speakers.items():
        if models is not None:
            beforehand.main([str(options.data), name, *models, *share])
    net = options.data / "net.pt"
    make.main([str(options.data), str(net), *(MINIATURE if options.rehearse else WHOLE)])
    assemble.main([str(options.folder), "--net", str(net), "--scale", SCALE])


if __name__ == "__main__":
    main()
