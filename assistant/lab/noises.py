"""Noises of a site, made by arithmetic: wind, motors and blows, for training and for simulated days."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from assistant.hearing.voicing.bands import RATE

Sound = npt.NDArray[np.float32]
"""One channel, at `RATE`."""

Dice = np.random.Generator


def gusts(length: int, dice: Dice) -> Sound:
    """Coloured noise whose level wanders: from a hiss to wind."""
    spectrum = np.fft.rfft(dice.normal(size=length))
    frequency = np.maximum(np.fft.rfftfreq(length, 1 / RATE), 20.0)
    sound = np.fft.irfft(spectrum / frequency ** dice.uniform(0, 1.6), length)
    time = np.arange(length) / RATE * 2
    levels = np.exp(dice.normal(0, dice.uniform(0, 1), int(time[-1]) + 2))
    return np.asarray(sound * np.interp(time, np.arange(len(levels)), levels), np.float32)


def motor(length: int, dice: Dice) -> Sound:
    """Harmonics of a rate that wanders, over a hiss."""
    time = np.arange(length) / RATE
    sway = dice.uniform(0, 0.05) * np.sin(2 * np.pi * dice.uniform(0.05, 1) * time)
    phase = 2 * np.pi * np.cumsum(dice.uniform(20, 120) * (1 + sway)) / RATE
    fall = dice.uniform(0.3, 1.5)
    sound = dice.uniform(0, 1) * dice.normal(size=length)
    for harmonic in range(1, 50):
        sound += np.sin(harmonic * phase + dice.uniform(0, 6)) / harmonic**fall
    return np.asarray(sound, np.float32)


def blows(length: int, dice: Dice) -> Sound:
    """Blows that ring, from a slow hammer to a breaker."""
    sound = 0.02 * dice.normal(size=length)
    every = np.exp(dice.uniform(np.log(0.03), np.log(1.0)))
    pitch, decay = dice.uniform(200, 4000), np.exp(dice.uniform(np.log(15), np.log(200)))
    hiss, at = dice.uniform(0, 1), dice.uniform(0, 0.5)
    while at < length / RATE:
        start = int(at * RATE)
        time = np.arange(min(length - start, RATE // 3)) / RATE
        ring = (1 - hiss) * np.sin(2 * np.pi * pitch * dice.uniform(0.7, 1.4) * time)
        blow = ring + hiss * dice.normal(size=len(time))
        sound[start : start + len(time)] += dice.uniform(0.4, 1) * np.exp(-decay * time) * blow
        at += every * dice.uniform(0.6, 1.4)
    return np.asarray(sound, np.float32)
