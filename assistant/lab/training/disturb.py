"""Everything that can happen to a voice between mouth and recogniser, for whole batches on one device.

All kinds and amounts are our own choice; the development recordings decided between them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import torch
from torch import Tensor

RATE = 16_000
SPEEDS = 12
"""Speeds in a batch: rows of like speed are resampled together."""

KINDS = 12
"""Kinds of noise: coloured, six that are made, babble twice as often, and the recorded ones for the rest."""

MUFFLED = 0.2
"""The share of voices that come from under a jacket, a glove or a wind shield: what they say above some 1,000 Hz fades
by up to 24 decibels an octave. Of 54 people who read digits one is heard so, and the "zero" of that one was "four"."""

BLOCK = 64
"""Lengths of transforms are multiples of this, which makes them fast."""


@dataclass
class Disturber:
    """Makes disturbed copies. `recorded` and `voices` are long signals to cut noise and babble from."""

    recorded: Tensor
    voices: Tensor
    dice: torch.Generator

    def uniform(self, low: float, high: float, *shape: int) -> Tensor:
        """Draw evenly between `low` and `high`."""
        device = self.recorded.device
        return torch.rand(shape, generator=self.dice, device=device) * (high - low) + low

    def __call__(self, audio: Tensor, lengths: Tensor, size: int) -> tuple[Tensor, Tensor, Tensor]:
        """Disturb audio (batch, samples); the result has `size` samples.

        Returns it with the seconds added in front and the factor by which time was stretched, both (batch,).
        """
        b = len(audio)
        audio, speed = at_speeds(audio, self.uniform(0.86, 1.17, SPEEDS - 2).tolist())
        room_left = (size - lengths / speed).clamp_min(0.0)
        front = torch.minimum(self.uniform(0.03, 0.45, b) * RATE, room_left * 0.7).floor()
        out = shifted(audio, front.long(), size)
        out = self._coloured_and_echoed(out)
        now = out.square().sum(1).div(lengths / speed).sqrt().mul(1.2).add(1e-5)[:, None]
        floor = self._coloured(b, size, 0.0, 1.0)
        out = out + floor * now * ten(-self.uniform(25, 60, b, 1) / 20)
        noise = self._noise(b, size)
        snr = self.uniform(-5, 30, b, 1)
        out = out + noise * now * ten(-snr / 20) * self._some(0.8, b)[:, None]
        out = out / out.abs().amax(1, keepdim=True).add(1e-6) * ten(self.uniform(-1.8, 0.0, b, 1))
        clipped = (out * self.uniform(1, 5, b, 1)).clamp(-1, 1)
        out = torch.where(self._some(0.08, b)[:, None], clipped, out)
        log = torch.log1p(255 * out.abs()) / math.log(256)
        coded = torch.sign(out) * torch.expm1(torch.round(log * 127) / 127 * math.log(256)) / 255
        out = torch.where(self._some(0.06, b)[:, None], coded, out)
        return torch.round(out * 32767) / 32768, front / RATE, 1 / speed

    def _some(self, chance: float, b: int) -> Tensor:
        return self.uniform(0, 1, b) < chance

    def _coloured_and_echoed(self, audio: Tensor) -> Tensor:
        """Equalise, tilt, muffle, cut the band, and put into a room."""
        b, n = audio.shape
        tail = 8000
        m = 1 << (n + tail - 1).bit_length()
        f = torch.fft.rfftfreq(m, 1 / RATE, device=audio.device)
        points = self.uniform(-7, 7, b, 10) * self._some(0.6, b)[:, None]
        gain = torch.nn.functional.interpolate(points[:, None], len(f), mode="linear", align_corners=True)[:, 0]
        octave = torch.log2((f + 100) / 1000)
        gain = gain + octave * (self.uniform(-3, 4, b, 1) * self._some(0.4, b)[:, None])
        above = torch.log2(f / self.uniform(500, 1500, b, 1)).clamp_min(0.0)
        gain = gain - above * self.uniform(4, 24, b, 1) * self._some(MUFFLED, b)[:, None]
        narrow = self._some(0.4, b)[:, None]
        gain = gain - narrow * (f > self.uniform(3000, 6500, b, 1)) * self.uniform(20, 80, b, 1)
        gain = gain - narrow * (f < self.uniform(50, 350, b, 1)) * self.uniform(5, 40, b, 1)
        t = torch.arange(tail, device=audio.device)
        decay = self.uniform(0.06, 0.5, b, 1) * RATE
        room = torch.randn((b, tail), generator=self.dice, device=audio.device) * torch.exp(-6.9 * t / decay)
        room = room * (t > self.uniform(0.001, 0.01, b, 1) * RATE)
        room = room / room.square().sum(1, keepdim=True).sqrt() * self.uniform(0.1, 0.9, b, 1)
        room = room * self._some(0.45, b)[:, None]
        room[:, 0] = 1.0
        spectrum = torch.fft.rfft(audio, m) * ten(gain / 20) * torch.fft.rfft(room, m)
        return torch.fft.irfft(spectrum, m)[:, :n]

    def _coloured(self, b: int, n: int, low: float, high: float) -> Tensor:
        """Noise that falls with frequency to a power between `low` and `high`; unit loudness."""
        m = 1 << (n - 1).bit_length()
        f = torch.fft.rfftfreq(m, 1 / RATE, device=self.recorded.device)
        white = torch.fft.rfft(torch.randn((b, m), generator=self.dice, device=f.device))
        return unit(torch.fft.irfft(white * ((f + 20) / 1000) ** -self.uniform(low, high, b, 1), m)[:, :n])

    def _noise(self, b: int, n: int) -> Tensor:
        """One kind of noise for each of the batch, of unit loudness."""
        kind = torch.randint(0, KINDS, (b,), generator=self.dice, device=self.recorded.device)
        out = self._coloured(b, n, 0.0, 1.3)
        t = torch.arange(n, device=out.device) / RATE
        makers = [self._wind, self._engine, self._bangs, self.hammer, self.motor, self._babble, self._babble]
        makers += [self._recorded] * (KINDS - 1 - len(makers))
        for k, make in enumerate(makers, 1):
            where = (kind == k).nonzero()[:, 0]
            if len(where):
                out[where] = unit(make(len(where), n, t))
        return out

    def _wind(self, b: int, n: int, t: Tensor) -> Tensor:
        gusts = self.uniform(0.05, 1, b, 1, max(2, n // 4000))
        swell = torch.nn.functional.interpolate(gusts, n, mode="linear", align_corners=True)[:, 0]
        return self._coloured(b, n, 1.0, 2.0) * swell + 0.02 * self._coloured(b, n, 0.0, 0.1)

    def _engine(self, b: int, n: int, t: Tensor) -> Tensor:
        slow = self.uniform(0.2, 2, b, 1)
        phase = 2 * math.pi * self.uniform(20, 120, b, 1) * (t + 0.01 * torch.sin(2 * math.pi * slow * t))
        fall = self.uniform(0.3, 1.2, b, 1)
        out = torch.zeros((b, n), device=t.device)
        for k in range(1, 16):
            strength = self.uniform(0, 1, b, 1) / k**fall
            out += strength * torch.sin(k * phase + self.uniform(0, 6, b, 1))
        return unit(out) + self.uniform(0.1, 1.5, b, 1) * self._coloured(b, n, 0.0, 1.0)

    def _bangs(self, b: int, n: int, t: Tensor) -> Tensor:
        every = self.uniform(0.12, 1.0, b, 1)
        since = torch.remainder(t + self.uniform(0, 1, b, 1), every)
        ring = torch.exp(-since / self.uniform(0.003, 0.03, b, 1))
        return self._coloured(b, n, 0.0, 0.7) * ring + 0.03 * self._coloured(b, n, 0.0, 0.5)

    def _ringing(self, b: int, n: int) -> Tensor:
        """Noise as a tool rings: a few resonances over a falling floor; unit loudness."""
        m = 1 << (n - 1).bit_length()
        octave = torch.log2(torch.fft.rfftfreq(m, 1 / RATE, device=self.recorded.device) + 1)[None, :, None]
        at, wide = self.uniform(8.2, 12.6, b, 1, 4), self.uniform(0.05, 0.5, b, 1, 4)
        peaks = (self.uniform(0.2, 1, b, 1, 4) * torch.exp(-(((octave - at) / wide) ** 2))).sum(2)
        white = torch.fft.rfft(torch.randn((b, m), generator=self.dice, device=octave.device))
        return unit(torch.fft.irfft(white * (peaks + self.uniform(0.01, 0.3, b, 1)), m)[:, :n])

    def hammer(self, b: int, n: int, t: Tensor) -> Tensor:
        """Breaker, rammer, hammer drill: fast strokes of unlike strength."""
        wander = 0.3 * torch.sin(2 * math.pi * self.uniform(0.2, 3, b, 1) * t)
        stroke = t * self.uniform(8, 45, b, 1) + wander + self.uniform(1, 2, b, 1)
        since = (stroke - stroke.floor()) / 25
        strength = self.uniform(0.5, 1, b, 512).gather(1, stroke.long().clamp(0, 511))
        ring = strength * torch.exp(-since / self.uniform(0.002, 0.02, b, 1))
        return self._ringing(b, n) * ring + self.uniform(0.02, 0.4, b, 1) * self._coloured(b, n, 0.0, 1.0)

    def motor(self, b: int, n: int, t: Tensor) -> Tensor:
        """Saw, grinder, drill: a whine with its harmonics, whose load comes and goes, and the noise of what it cuts."""
        wander = 0.02 * torch.sin(2 * math.pi * self.uniform(0.1, 1, b, 1) * t)
        phase = 2 * math.pi * self.uniform(90, 900, b, 1) * (t + wander)
        whine = torch.zeros((b, n), device=t.device)
        for k in range(1, 9):
            whine += self.uniform(0, 1, b, 1) / k**0.7 * torch.sin(k * phase + self.uniform(0, 6, b, 1))
        load = 1 + self.uniform(0, 0.8, b, 1) * torch.sin(2 * math.pi * self.uniform(0.5, 60, b, 1) * t)
        return (unit(whine) * self.uniform(0.1, 1, b, 1) + self._ringing(b, n) * self.uniform(0.2, 1.5, b, 1)) * load

    def _cut(self, source: Tensor, b: int, n: int) -> Tensor:
        at = (self.uniform(0, 1, b) * (len(source) - n - 1)).long()
        return source[at[:, None] + torch.arange(n, device=source.device)].float()

    def _recorded(self, b: int, n: int, t: Tensor) -> Tensor:
        return unit(self._cut(self.recorded, b, n)) + 0.03 * self._coloured(b, n, 0.0, 1.0)

    def _babble(self, b: int, n: int, t: Tensor) -> Tensor:
        out = torch.zeros((b, n), device=t.device)
        for _ in range(int(torch.randint(1, 5, (), generator=self.dice, device=t.device))):
            out += unit(self._cut(self.voices, b, n)) * self.uniform(0.3, 1, b, 1)
        return out + 0.02 * self._coloured(b, n, 0.0, 1.0)


def ten(x: Tensor) -> Tensor:
    """Ten to the power x."""
    return torch.pow(10.0, x)


def unit(x: Tensor) -> Tensor:
    """Scale rows to a root mean square of one."""
    return x / x.square().mean(1, keepdim=True).sqrt().add(1e-6)


def at_speeds(audio: Tensor, speeds: list[float]) -> tuple[Tensor, Tensor]:
    """Play row i at the (i mod `SPEEDS`)th speed, the last ones as they are, by cutting or padding their spectra.

    Returns rows as long as the slowest, and the exact speed of each.
    """
    whole = -(-audio.shape[1] // BLOCK) * BLOCK
    lengths = [round(whole / speed / BLOCK) * BLOCK for speed in speeds] + [whole] * (SPEEDS - len(speeds))
    out = torch.zeros((len(audio), max(lengths)), device=audio.device)
    speed = torch.ones(len(audio), device=audio.device)
    for k, length in enumerate(lengths):
        spectrum = torch.fft.rfft(audio[k::SPEEDS], whole)
        if len(spectrum):
            out[k::SPEEDS, :length] = torch.fft.irfft(spectrum[:, : length // 2 + 1], length) * (length / whole)
            speed[k::SPEEDS] = whole / length
    return out, speed


def shifted(audio: Tensor, front: Tensor, size: int) -> Tensor:
    """Put `front` samples of nothing before each row, and cut or fill to `size`."""
    at = torch.arange(size, device=audio.device) - front[:, None]
    inside = (at >= 0) & (at < audio.shape[1])
    return audio.gather(1, at.clamp(0, audio.shape[1] - 1)) * inside
