"""Makes `weights.txt` again: `python -m assistant.lab.training.voicing SPEECH`, with the extra `train`.

SPEECH is a folder of recordings with a manifest.csv. Speech comes from LibriSpeech's train speakers (CC BY 4.0), noise
from the recordings that may be passed on without share-alike, from the three kinds made here, and from the tools that
the ear is trained with (`disturb.py`). A frame counts as speech where the clean recording is within 30 dB of its
loudest frames. A quarter of an hour on one core; the seed is fixed.

Measured with the endpoint, which also takes for a pause what is 16 decibels under the loud parts of an utterance: 16
times a sentence in each of six recorded noises, three of them never heard, at 20, 15, 10 and 5 dB. The pause was found
this late on average, by the network before (without tools among its noises) alone and by this one so, in hundredths of
a second: drill 23, 38, 45, 51 and 3, 16, 20, 51; breaker 16, 29, 45, 63 and 2, 17, 38, 46; digger 6, 12, 22, 27 and 1,
2, 8, 16; saw 14, 19, 30, 44 and 9, 11, 21, 26; hammer 18, 19, 20, 13 and 7, 10, 11, 13; wind 1 to 5 and 0 to 3. No
sentence was lost; beside 61 of the 384 something else was cut out too, mostly a hammer's blow (57 before). 474 clips of
read speech come apart into 639 pieces (610 before), 50 minutes in all.
"""

from __future__ import annotations

import csv
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import soundfile

import assistant.hearing.voicing
from assistant.hearing.voicing.bands import BANDS, FRAME, RATE, bands
from assistant.lab.noises import Dice, Sound, blows, gusts, motor

UNITS = 32
FRAMES = 400
LENGTH = FRAME * FRAMES
BATCH = 32
STEPS = 3000
FASTEST = 8e-3
MADE = 180
TOOLS = 240
NOISE_SECONDS = 12


def load(folder: Path, wanted: Callable[[dict[str, str]], bool]) -> list[Sound]:
    """The recordings of the manifest's rows that are wanted."""
    with (folder / "manifest.csv").open() as stream:
        rows = [row for row in csv.DictReader(stream) if wanted(row)]
    return [soundfile.read(folder / row["path"], dtype="float32")[0] for row in rows]


def is_speech(row: dict[str, str]) -> bool:
    """Whether a row is speech to learn from."""
    return row["split"] == "train" and row["source_set"].startswith("LibriSpeech")


def is_noise(row: dict[str, str]) -> bool:
    """Whether a row is noise to learn from, under a licence that asks for a name at most."""
    shared_alike = any(kind in row["licence"].upper() for kind in ("-SA", " SA", "-NC", " NC", "GPL"))
    return row["path"].startswith("noise/") and row["redistributable"] == "yes" and not shared_alike


def tools(count: int, length: int) -> Iterator[Sound]:
    """Breakers, drills and saws, half of each."""
    import torch

    from assistant.lab.training.disturb import Disturber

    made = Disturber(torch.zeros(1), torch.zeros(1), torch.Generator().manual_seed(1))
    time = torch.arange(length) / RATE
    for _ in range(count // 2):
        yield from (made.hammer(1, length, time)[0].numpy(), made.motor(1, length, time)[0].numpy())


def loudness(sound: Sound) -> float:
    """Power, bass weighed down as an ear does: of the differences of samples."""
    return float(np.mean(np.diff(sound) ** 2)) + 1e-12


def talk(speech: list[Sound], dice: Dice) -> tuple[Sound, npt.NDArray[np.bool_]]:
    """Pieces of speech with pauses, and which frames hold it."""
    sound = np.zeros(LENGTH, np.float32)
    at = int(dice.uniform(-2, 3) * RATE)
    while at < LENGTH:
        voice = speech[dice.integers(len(speech))]
        size = int(min(len(voice), dice.uniform(0.6, 5) * RATE))
        start = int(dice.integers(0, len(voice) - size + 1))
        piece = voice[start : start + size]
        piece = piece / (np.sqrt(np.mean(piece**2)) + 1e-6) * 0.05 * 10 ** dice.uniform(-0.25, 0.25)
        first, last = max(at, 0), min(at + size, LENGTH)
        if last > first:
            sound[first:last] += piece[first - at : last - at]
        at += size + int(dice.uniform(0.4, 4) * RATE)
    level = np.mean(sound.reshape(FRAMES, FRAME) ** 2, axis=1)
    spoken = level > max(float(np.percentile(level, 98)) * 1e-3, 1e-9)
    return sound, np.convolve(spoken, np.ones(3), "same") > 1


def example(speech: list[Sound], noise: list[Sound], dice: Dice) -> tuple[Sound, Sound]:
    """Talk under noise at some ratio and level, and 1 for each frame that holds speech, else 0."""
    sound, spoken = talk(speech, dice)
    if dice.random() < 0.06:
        sound, spoken = np.zeros_like(sound), np.zeros_like(spoken)
    clean = loudness(sound[np.repeat(spoken, FRAME)]) if spoken.any() else 2.5e-4
    around = np.full(LENGTH, 1e-9, np.float32)
    for _ in range(dice.integers(1, 3)):
        one = noise[dice.integers(len(noise))]
        start = int(dice.integers(0, len(one) - LENGTH + 1))
        piece = one[start : start + LENGTH] * np.float32(10 ** dice.uniform(-0.5, 0.5))
        if dice.random() < 0.25:
            piece = np.where(np.arange(LENGTH) < dice.uniform(0, LENGTH), piece, 0)
        around = around + piece
    ratio = dice.uniform(-3, 35)
    mixed = sound + around * np.float32(np.sqrt(clean / loudness(around) / 10 ** (ratio / 10)))
    hiss = dice.standard_normal(LENGTH, np.float32) * np.float32(10 ** dice.uniform(-5, -3.5))
    mixed = mixed * np.float32(10 ** dice.uniform(-1.2, 0.7)) + hiss
    return np.clip(mixed, -1, 1), spoken.astype(np.float32)


def noises(folder: Path, dice: Dice) -> list[Sound]:
    """Recorded and made noise, twelve seconds at least of each, equally loud."""
    length = RATE * NOISE_SECONDS
    every = [np.resize(sound, max(len(sound), length)) for sound in load(folder, is_noise)]
    every += [(gusts, motor, blows)[number % 3](length, dice) for number in range(MADE)]
    every += tools(TOOLS, length)
    return [np.asarray(sound / np.sqrt(loudness(sound)), np.float32) for sound in every]


def train(folder: Path) -> dict[str, Any]:
    """The weights by name."""
    import torch

    torch.set_num_threads(1)
    torch.manual_seed(1)
    dice = np.random.default_rng(1)
    speech, noise = load(folder, is_speech), noises(folder, dice)
    unit, output = torch.nn.GRU(BANDS, UNITS, batch_first=True), torch.nn.Linear(UNITS, 1)
    weights = [*unit.parameters(), *output.parameters()]
    optimiser = torch.optim.Adam(weights)
    schedule = torch.optim.lr_scheduler.OneCycleLR(optimiser, FASTEST, STEPS)
    for step in range(STEPS):
        sounds, spoken = zip(*(example(speech, noise, dice) for _ in range(BATCH)), strict=True)
        seen = torch.from_numpy(bands(np.stack(sounds).reshape(BATCH, FRAMES, FRAME)))
        wanted = torch.from_numpy(np.stack(spoken))
        guess = output(unit(seen)[0])[..., 0]
        loss = torch.nn.functional.binary_cross_entropy_with_logits(guess, wanted)
        optimiser.zero_grad()
        loss.backward()
        torch.nn.utils.clip_grad_norm_(weights, 1.0)
        optimiser.step()
        schedule.step()
        if step % 50 == 0:
            right = ((guess > 0) == (wanted > 0.5)).float().mean().item()
            print(f"{step:5} loss {loss.item():.4f} frames right {right:.3f}", flush=True)
    names = ("input", "hidden", "input_bias", "hidden_bias", "output", "output_bias")
    return {name: w.detach().numpy() for name, w in zip(names, weights, strict=True)}


def main() -> None:
    """Train and write."""
    lines = []
    for name, values in train(Path(sys.argv[1])).items():
        shape = "x".join(map(str, values.shape))
        lines.append(" ".join([name, shape, *(f"{value:.4g}" for value in values.ravel())]))
    place = Path(assistant.hearing.voicing.__file__).with_name("weights.txt")
    place.write_text("\n".join(lines) + "\n", "utf-8")


if __name__ == "__main__":
    main()
