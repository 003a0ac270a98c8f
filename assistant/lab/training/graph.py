"""The decoding graph: sounds to words (HCLr.fst), a loop of all words (Gr.fst), and the tables beside them."""

from __future__ import annotations

import math
import os
import subprocess
import tempfile
from pathlib import Path

from assistant.lab.training.lexicon import Lexicon
from assistant.lab.training.sounds import PHONE_ID, PHONES, SILENCE, SOUNDS, in_word, word_boundary

UNKNOWN = "[unk]"
"""Any run of sounds."""

PAUSE = 0.5
"""The chance of a pause between words."""


class Arcs:
    """Arcs in the text form that fstcompile reads. State 0 is the start."""

    def __init__(self) -> None:
        self.lines: list[str] = []
        self.states = 1

    def state(self) -> int:
        """Make a state."""
        self.states += 1
        return self.states - 1

    def arc(self, source: int, target: int, transition: int = 0, word: int = 0, cost: float = 0.0) -> None:
        """Add an arc."""
        self.lines.append(f"{source} {target} {transition} {word} {cost:.4f}")

    def phone(self, source: int, phone: str, word: int = 0, cost: float = 0.0) -> int:
        """Enter a phone: its first frame on the way in, further ones on a loop. Returns the state after it."""
        target, i = self.state(), PHONE_ID[phone]
        self.arc(source, target, 2 * i, word, cost)
        self.arc(target, target, 2 * i - 1)
        return target


def sounds_to_words(table: Lexicon, ids: dict[str, int], each: float, entry: float) -> list[str]:
    """Build the trie of all pronunciations. `[unk]` costs `entry` and then `each` for every sound."""
    arcs = Arcs()
    loop, done = arcs.state(), arcs.state()
    pause = arcs.phone(0, SILENCE, cost=-math.log(PAUSE))
    arcs.arc(0, loop, cost=-math.log(1 - PAUSE))
    arcs.arc(done, loop, cost=-math.log(1 - PAUSE))
    silence = PHONE_ID[SILENCE]
    arcs.arc(done, pause, 2 * silence, 0, -math.log(PAUSE))
    arcs.arc(pause, loop)
    trie: dict[tuple[str, ...], int] = {(): loop}
    for word, ways in sorted(table.items()):
        for way in ways:
            *begin, last = in_word(way)
            for k in range(len(begin)):
                path = tuple(begin[: k + 1])
                if path not in trie:
                    trie[path] = arcs.phone(trie[path[:-1]], path[-1])
            arcs.arc(arcs.phone(trie[tuple(begin)], last, ids[word]), done)
    inside = arcs.state()
    for sound in SOUNDS[2:]:
        arcs.arc(arcs.phone(loop, f"{sound}_B", ids[UNKNOWN], entry + each), inside)
        arcs.arc(arcs.phone(inside, f"{sound}_I", cost=each), inside)
        arcs.arc(arcs.phone(inside, f"{sound}_E", cost=each), done)
    return [*arcs.lines, f"{done} 0.0", f"{pause} 0.0"]


def write_graph(folder: Path, table: Lexicon, each: float, entry: float) -> None:
    """Fill `folder` for the words of `table`. Needs OpenFst's programs (Debian: libfst-tools)."""
    (folder / "phones").mkdir(parents=True, exist_ok=True)
    words = sorted(table)
    ids = {word: i for i, word in enumerate([*words, UNKNOWN], 1)}
    with tempfile.TemporaryDirectory() as name:
        here = Path(name)
        _compile(here, "trie", sounds_to_words(table, ids, each, entry), "olabel")
        environment = {**os.environ, "LD_LIBRARY_PATH": f"{_plugin(here)}:{os.environ.get('LD_LIBRARY_PATH', '')}"}
        convert = ["fstconvert", "--fst_type=olabel_lookahead", f"--save_relabel_opairs={here}/pairs"]
        subprocess.run([*convert, here / "trie.fst", folder / "HCLr.fst"], check=True, env=environment)
        pairs = (line.split() for line in (here / "pairs").read_text().splitlines() if line.strip())
        renamed = {int(old): int(new) for old, new in pairs}
        numbers = {"<eps>": 0, **{word: renamed[i] for word, i in ids.items()}}
        any_word = [f"0 0 {numbers[w]} {numbers[w]} {math.log(len(words)):.4f}" for w in words]
        _compile(here, "loop", [*any_word, "0 0.0"], "ilabel")
        (folder / "Gr.fst").write_bytes((here / "loop.fst").read_bytes())
    by_number = sorted(numbers.items(), key=lambda item: item[1])
    (folder / "words.txt").write_text("".join(f"{word} {i}\n" for word, i in by_number))
    (folder / "disambig_tid.int").write_text(f"{2 * len(PHONES) + 1}\n")
    (folder / "phones" / "word_boundary.int").write_text(word_boundary())


def _compile(folder: Path, name: str, lines: list[str], order: str) -> None:
    text, raw, done = folder / f"{name}.txt", folder / f"{name}.raw", folder / f"{name}.fst"
    text.write_text("\n".join(lines) + "\n")
    subprocess.run(["fstcompile", text, raw], check=True)
    subprocess.run(["fstarcsort", f"--sort_type={order}", raw, done], check=True)


def _plugin(folder: Path) -> Path:
    """Give fstconvert the look-ahead type under the name it looks for, which Debian's package does not."""
    places = [Path("/usr/lib"), Path("/usr/local/lib"), *Path("/usr/lib").glob("*-linux-gnu")]
    found = [path for place in places for path in sorted(place.glob("libfstlookahead.so*"))]
    if not found:
        raise FileNotFoundError("OpenFst's look-ahead library is not installed (Debian: libfst-tools).")
    (folder / "olabel_lookahead-fst.so").symlink_to(found[-1])
    return folder
