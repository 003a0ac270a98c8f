"""Where utterances are cut, on sounds whose speech is known to the frame."""

import numpy as np
import pytest

from assistant.hearing.endpoint import FRAME, Endpoint, Timing, utterances
from assistant.hearing.port import SAMPLE_RATE, Samples


def sound(plan: list[tuple[float, float]], noise: float, seed: int = 1) -> Samples:
    """Stretches of (seconds, level) of a buzz in syllables, over noise of a level; levels are amplitudes."""
    dice = np.random.default_rng(seed)
    parts = []
    for seconds, level in plan:
        time = np.arange(int(seconds * SAMPLE_RATE)) / SAMPLE_RATE
        buzz = sum(np.sin(2 * np.pi * 120 * k * time) / k for k in range(1, 20))
        syllables = 0.05 + np.abs(np.sin(2 * np.pi * 2.5 * time + 0.5))
        parts.append(level * buzz * syllables + noise * dice.normal(size=len(time)))
    return np.clip(np.concatenate(parts), -32768, 32767).astype(np.int16)


def cut(samples: Samples, block: int = 777, timing: Timing | None = None) -> list[Samples]:
    pieces = (samples[at : at + block] for at in range(0, len(samples), block))
    return list(utterances(pieces, timing))


LOUD = 4000.0


@pytest.mark.parametrize("noise", [0.0, 30.0, 400.0, 900.0])
def test_two_utterances_with_what_was_before_and_after(noise: float) -> None:
    found = cut(sound([(1, 0), (1.2, LOUD), (1.5, 0), (0.8, LOUD), (1.5, 0)], noise))
    assert len(found) == 2
    timing = Timing()
    for spoken, length in zip(found, (1.2, 0.8), strict=True):
        wanted = length + timing.before + timing.tail
        assert len(spoken) / SAMPLE_RATE == pytest.approx(wanted, abs=0.2)


def test_a_pause_within_a_sentence_does_not_end_it() -> None:
    assert len(cut(sound([(1, 0), (0.6, LOUD), (0.4, 0), (0.6, LOUD), (1, 0)], 50.0))) == 1


def test_a_longer_tail_waits_longer() -> None:
    plan = [(1.0, 0.0), (0.6, LOUD), (0.9, 0.0), (0.6, LOUD), (2.0, 0.0)]
    assert len(cut(sound(plan, 50.0))) == 2
    assert len(cut(sound(plan, 50.0), timing=Timing(tail=1.2))) == 1


def test_speech_from_the_first_sample_is_whole() -> None:
    samples = sound([(1.0, LOUD), (1.0, 0.0)], 30.0)
    (spoken,) = cut(samples)
    assert np.array_equal(spoken[: SAMPLE_RATE // 2], samples[: SAMPLE_RATE // 2])


def test_speech_to_the_last_sample_is_given_at_the_end() -> None:
    (spoken,) = cut(sound([(1.0, 0.0), (1.0, LOUD)], 30.0))
    assert len(spoken) / SAMPLE_RATE == pytest.approx(1.3, abs=0.1)


def test_nothing_is_cut_out_of_silence_or_steady_noise() -> None:
    for noise in (0.0, 30.0, 3000.0):
        assert cut(sound([(20, 0)], noise)) == []


def test_a_click_is_no_speech() -> None:
    assert cut(sound([(2, 0), (0.05, LOUD), (2, 0)], 30.0)) == []


def test_speech_without_end_is_cut_at_the_longest() -> None:
    found = cut(sound([(1, 0), (25, LOUD), (1, 0)], 30.0))
    assert len(found) >= 2
    assert all(len(spoken) <= Timing().longest * SAMPLE_RATE + FRAME for spoken in found)


def test_it_hears_again_after_an_engine_starts() -> None:
    quiet, loud = sound([(3, 0)], 20.0), sound([(8, 0), (1, 9000.0), (1, 0)], 1500.0)
    found = cut(np.concatenate([quiet, loud]))
    spoken_at = [len(piece) / SAMPLE_RATE for piece in found]
    assert found and spoken_at[-1] == pytest.approx(1.9, abs=0.4)


def test_blocks_of_any_length_give_the_same_cuts() -> None:
    samples = sound([(1, 0), (1.2, LOUD), (1.5, 0), (0.8, LOUD), (1.5, 0)], 100.0)
    cuts = [cut(samples, block) for block in (1, 160, 4096, len(samples))]
    for other in cuts[1:]:
        assert [len(a) for a in cuts[0]] == [len(b) for b in other]


def test_the_state_is_told() -> None:
    endpoint = Endpoint()
    assert list(endpoint.feed(sound([(1, 0), (0.5, LOUD)], 30.0))) == []
    assert endpoint.speaking
    assert len(list(endpoint.finish())) == 1
    assert not endpoint.speaking
