"""Where utterances are cut, on bundled speech laid at known places over noise.

The noises made here are of the kinds that the voicing network was trained on, from other seeds; `voicing/train.py`
tells what it does in recordings that it never heard.
"""

from functools import cache
from itertools import pairwise

import numpy as np
import pytest
from fixtures import Recording, recordings

from assistant.hearing.endpoint import FRAME, Endpoint, Timing, utterances
from assistant.hearing.port import SAMPLE_RATE, Samples
from assistant.hearing.sources import blocks
from assistant.lab.training.voicing import blows, gusts, motor

SHORT = "scratch that"
LONG = "reading two foot eleven at station one hundred"


@cache
def spoken(words: str) -> Samples:
    """A clean recording, from its first sound to its last."""
    (recording,) = [r for r in recordings("clean") if r.words == words]
    sound = np.concatenate(list(blocks(recording.path)))
    frames = sound[: len(sound) // 160 * 160].reshape(-1, 160).astype(float)
    level = 10 * np.log10(np.mean(frames**2, axis=1) + 1)
    loud = np.flatnonzero(level > level.max() - 30)
    return sound[loud[0] * 160 : (loud[-1] + 1) * 160]


def sound(plan: list[float | str], noise: float = 0.0) -> Samples:
    """Seconds of silence and words, one after the other, over a hiss of an amplitude."""
    parts = [spoken(part) if isinstance(part, str) else np.zeros(int(part * SAMPLE_RATE)) for part in plan]
    return over(np.concatenate(parts), np.random.default_rng(1).normal(0, 1, sum(map(len, parts))) * noise)


def over(speech: Samples, noise: np.ndarray) -> Samples:
    return np.clip(speech + noise, -32768, 32767).astype(np.int16)


def cut(samples: Samples, block: int = 777, timing: Timing | None = None) -> list[Samples]:
    pieces = (samples[at : at + block] for at in range(0, len(samples), block))
    return list(utterances(pieces, timing))


def seconds(samples: Samples) -> float:
    return len(samples) / SAMPLE_RATE


@pytest.mark.parametrize("noise", [0.0, 30.0, 150.0, 400.0])
def test_two_utterances_with_what_was_before_and_after(noise: float) -> None:
    found = cut(sound([1.0, LONG, 1.5, SHORT, 1.5], noise))
    assert len(found) == 2
    around = Timing().before + Timing().tail
    for piece, words in zip(found, (LONG, SHORT), strict=True):
        assert seconds(piece) == pytest.approx(seconds(spoken(words)) + around, abs=0.25)


def test_an_utterance_begins_before_its_speech_and_ends_after_it() -> None:
    samples = sound([1.0, LONG, 2.0], 30.0)
    (piece,) = cut(samples)
    begin = np.flatnonzero(samples[:SAMPLE_RATE] == piece[0])
    begin = next(at for at in begin if np.array_equal(samples[at : at + 400], piece[:400]))
    assert begin / SAMPLE_RATE == pytest.approx(1.0 - Timing().before, abs=0.15)
    assert (begin + len(piece)) / SAMPLE_RATE == pytest.approx(1.0 + seconds(spoken(LONG)) + Timing().tail, abs=0.2)


def test_a_pause_within_a_sentence_does_not_end_it() -> None:
    assert len(cut(sound([1.0, LONG, 0.4, SHORT, 1.0], 50.0))) == 1


def test_who_talks_far_away_does_not_go_on_with_the_sentence() -> None:
    near, far = sound([1.0, LONG, 7.0], 5.0), sound([1.2 + seconds(spoken(LONG)), LONG, LONG], 0.0)
    far = np.pad(far, (0, len(near) - len(far)))
    (piece, *_) = cut(over(near, far / 20))
    end = np.flatnonzero(np.abs(piece) > 2000)[-1] / SAMPLE_RATE
    assert end == pytest.approx(seconds(spoken(LONG)) + Timing().before, abs=0.3)
    assert seconds(piece) == pytest.approx(seconds(spoken(LONG)) + Timing().before + Timing().tail, abs=0.4)
    assert seconds(cut(over(near, far))[0]) > 2 * seconds(spoken(LONG))


@pytest.mark.parametrize("at", [0.9, 2.0])
def test_a_blow_beside_it_does_not_make_speech_faint(at: float) -> None:
    samples = sound([1.0, LONG, 2.0], 20.0)
    quiet, ring = samples / 20, slice(int(at * SAMPLE_RATE), int((at + 0.1) * SAMPLE_RATE))
    time = np.arange(SAMPLE_RATE // 10) / SAMPLE_RATE
    quiet[ring] += 20_000 * np.exp(-30 * time) * np.sin(2 * np.pi * 600 * time)
    found = cut(quiet.astype(np.int16))
    assert any(0.2 <= seconds(piece) - seconds(spoken(LONG)) <= 1.2 for piece in found)


def test_a_longer_tail_waits_longer() -> None:
    samples = sound([1.0, LONG, 0.95, SHORT, 2.0], 50.0)
    assert len(cut(samples)) == 2
    assert len(cut(samples, timing=Timing(tail=1.2))) == 1


def test_speech_from_the_first_sample_is_whole() -> None:
    samples = sound([LONG, 1.0], 30.0)
    (piece,) = cut(samples)
    assert np.array_equal(piece[: SAMPLE_RATE // 2], samples[: SAMPLE_RATE // 2])


def test_speech_to_the_last_sample_is_given_at_the_end() -> None:
    (piece,) = cut(sound([1.0, LONG], 30.0))
    assert seconds(piece) == pytest.approx(seconds(spoken(LONG)) + Timing().before, abs=0.15)


@pytest.mark.parametrize("noise", [0.0, 30.0, 3000.0])
def test_nothing_is_cut_out_of_silence_or_hiss(noise: float) -> None:
    assert cut(sound([60.0], noise)) == []


@pytest.mark.parametrize("make", [gusts, motor, blows])
@pytest.mark.parametrize("seed", range(4))
def test_hardly_anything_is_cut_out_of_the_noise_of_a_site(make, seed: int) -> None:  # type: ignore[no-untyped-def]
    noise = make(30 * SAMPLE_RATE, np.random.default_rng(100 + seed))
    loud = over(np.zeros(len(noise), np.int16), noise / np.std(noise) * 1500)
    assert sum(map(len, cut(loud))) <= 3 * SAMPLE_RATE


@pytest.mark.parametrize("make", [gusts, motor, blows])
@pytest.mark.parametrize("seed", range(4))
def test_speech_is_found_whole_in_the_noise_of_a_site(make, seed: int) -> None:  # type: ignore[no-untyped-def]
    speech = sound([20.0, LONG, 2.0], 20.0)
    noise = make(len(speech), np.random.default_rng(200 + seed))
    ratio = np.std(spoken(LONG)) / np.std(noise) / 10 ** (10 / 20)
    found = cut(over(speech, noise * ratio))
    assert any(0.2 <= seconds(piece) - seconds(spoken(LONG)) <= 2.2 for piece in found)


def test_bundled_sentences_at_10_decibels_are_one_utterance_each() -> None:
    def count(recording: Recording) -> int:
        return len(list(utterances(blocks(recording.path))))

    every = recordings("10")
    assert sum(count(r) != 1 for r in every) <= len(every) // 20


def test_a_click_is_no_speech() -> None:
    samples = sound([5.0], 30.0)
    samples[2 * SAMPLE_RATE : 2 * SAMPLE_RATE + 800] = spoken(LONG)[8000:8800]
    assert cut(samples) == []


def test_of_talk_that_goes_on_too_long_no_piece_is_given() -> None:
    (piece,) = cut(sound([1.0, *[LONG] * 8, 1.6, SHORT, 1.0], 30.0))
    assert seconds(piece) == pytest.approx(seconds(spoken(SHORT)) + Timing().before + Timing().tail, abs=0.25)


def test_what_follows_talk_that_was_too_long_after_a_short_pause_is_its_end() -> None:
    assert cut(sound([1.0, *[LONG] * 8, 0.9, SHORT, 1.5], 30.0)) == []


def test_talk_that_is_too_long_ends_once_without_samples_and_is_not_kept() -> None:
    endpoint, given, kept, told = Endpoint(), [], 0, []
    talk = sound([1.0, *[LONG] * 8, 0.9, LONG, 1.6], 30.0)
    for at in range(0, len(talk), 1600):
        given += list(endpoint.feed(talk[at : at + 1600]))
        kept = max(kept, len(endpoint.so_far()))
        told.append((endpoint.speaking, endpoint.pause if len(endpoint.so_far()) == 0 else 0))
    assert [len(piece) for piece in given] == [0]
    assert kept <= Timing().longest * SAMPLE_RATE
    assert endpoint.last_pause == 0
    speaking = [one for one, _ in told]
    assert sum(a != b for a, b in pairwise(speaking)) == 2  # from its first word to its last
    assert all(pause == 0 for _, pause in told)  # nobody listens ahead to it


def test_talk_that_is_too_long_at_the_end_of_the_sound_is_no_utterance() -> None:
    assert cut(sound([1.0, *[LONG] * 8], 30.0)) == []


def test_the_pause_at_its_end_does_not_make_an_utterance_too_long() -> None:
    long = seconds(spoken(LONG)) * 2 + Timing().before + 0.2
    (piece,) = cut(sound([1.0, LONG, LONG, 2.0], 30.0), timing=Timing(longest=long))
    assert seconds(piece) > long


def test_it_hears_after_an_hour_of_noise_what_it_hears_at_once() -> None:
    """The network's memory must not fill up. A minute stands for the hour: its memory is shorter than that."""
    speech = sound([60.0, LONG, 1.5], 0.0)
    noise = gusts(len(speech), np.random.default_rng(9))
    late = over(speech, noise / np.std(noise) * 100)
    early = late[58 * SAMPLE_RATE :]
    assert [len(p) for p in cut(late)][-1:] == pytest.approx([len(p) for p in cut(early)][-1:], abs=3 * FRAME)


def test_blocks_of_any_length_give_the_same_cuts() -> None:
    samples = sound([0.5, LONG, 1.0, SHORT, 1.0], 100.0)
    cuts = [cut(samples, block) for block in (16, 160, 4096, len(samples))]
    for other in cuts[1:]:
        assert [len(a) for a in cuts[0]] == [len(b) for b in other]


def test_the_state_is_told() -> None:
    endpoint = Endpoint()
    samples = sound([1.0, LONG, 0.4], 30.0)
    assert list(endpoint.feed(samples)) == []
    assert endpoint.speaking
    assert 0.2 <= endpoint.pause / SAMPLE_RATE <= 0.5
    assert np.array_equal(endpoint.so_far()[-1000:], samples[: len(samples) // FRAME * FRAME][-1000:])
    assert len(list(endpoint.finish())) == 1
    assert not endpoint.speaking
    assert endpoint.pause == 0
    assert endpoint.last_pause / SAMPLE_RATE == pytest.approx(0.4, abs=0.2)
