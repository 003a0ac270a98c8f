"""The lexicon covers the grammar, the file writers round trip, and stock Vosk loads and obeys our model."""

from __future__ import annotations

import io
import json
import shutil
import struct
from importlib.resources import files
from itertools import groupby
from pathlib import Path

import numpy as np
import pytest

from assistant.lab.training.assemble import main, with_words
from assistant.lab.training.kaldi_files import fine_matrix, read_matrix, small_matrix, vector, whole, wholes
from assistant.lab.training.lexicon import LexiconError, pronunciations, read_lexicon
from assistant.lab.training.packs import Audio, PackWriter, read_pack
from assistant.lab.training.sounds import PDFS, PHONES, first_pdf, in_word
from assistant.lab.training.splice import carried, carriers, spliced
from grammar.words import table

MODEL = Path(str(files("assistant.hearing"))) / "model"


def spoken_words() -> set[str]:
    return {word for said in table().said.values() for word in said}


def test_every_word_of_the_grammar_has_a_pronunciation() -> None:
    found = pronunciations(spoken_words())
    assert set(found) == spoken_words()
    assert all(found.values())


def test_a_word_without_pronunciation_is_an_error_that_names_it() -> None:
    with pytest.raises(LexiconError, match="zzyzx"):
        pronunciations(["one", "zzyzx"])


def test_new_words_need_no_network(tmp_path: Path) -> None:
    """Only the graph changes, and stock Vosk knows the new words beside the network as it was."""
    if shutil.which("fstcompile") is None:
        pytest.skip("OpenFst's programs are not installed (Debian: libfst-tools)")
    import vosk

    vosk.SetLogLevel(-1)
    for part in ("am", "conf"):
        shutil.copytree(MODEL / part, tmp_path / part)
    with_words(tmp_path, {"one", "manhole", "zenith"})
    assert (tmp_path / "am" / "final.mdl").read_bytes() == (MODEL / "am" / "final.mdl").read_bytes()
    model = vosk.Model(str(tmp_path))
    assert [model.vosk_model_find_word(w) >= 0 for w in ("one", "manhole", "zenith", "two")] == [True] * 3 + [False]


def test_a_missing_word_leaves_the_folder_as_it_was(tmp_path: Path) -> None:
    with pytest.raises(LexiconError, match="zzyzx"):
        with_words(tmp_path, {"one", "zzyzx"})
    assert list(tmp_path.iterdir()) == []


def test_a_folder_without_network_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main([str(tmp_path)])
    assert "--net" in capsys.readouterr().err


def test_a_sound_that_does_not_exist_is_an_error() -> None:
    with pytest.raises(LexiconError, match="QQ"):
        read_lexicon(["word W QQ D"])


def test_another_way_to_say_a_word_is_added() -> None:
    assert read_lexicon(["four F AO R", "four(2) F AO  # no r"]) == {"four": [["F", "AO", "R"], ["F", "AO"]]}


@pytest.mark.parametrize("name", ["bf_emma", "bm_lewis", "af_nova", "af_kore", "am_eric", "am_puck"])
def test_voices_kept_for_judging_do_not_speak_in_training(name: str) -> None:
    from assistant.lab.training.beforehand import KEPT_FOR_JUDGING

    assert KEPT_FOR_JUDGING.search(name)
    assert not any(
        KEPT_FOR_JUDGING.search(other) for other in ("af_bella", "am_adam", "jf_alpha", "zm_yunxi", "ef_dora")
    )


HUM = {"one": 200, "two": 400, "stop": 800, "reading": 1200, "at station": 1600}
"""Hertz of what stands for a word, or for what a synthesizer says between digits."""


def hum(writer: PackWriter, text: str, speaker: str, loud: float) -> None:
    """Put a hum with silence around it into a pack."""
    sound = np.sin(2 * np.pi * HUM[text] * np.arange(6400) / 16_000) * loud
    silence = np.zeros(8000)
    writer.add(np.concatenate([silence, sound, silence]).astype(np.int16), text.split(), speaker, "test", [])


def hummed(audio: Audio) -> list[int]:
    """What was hummed one after another, the same in a row once."""
    frames = np.abs(np.fft.rfft(audio[: len(audio) // 800 * 800].reshape(-1, 800), axis=1))
    hertz_heard = frames.argmax(1)[frames.max(1) > 1e5] * 20
    loudest = [min(HUM.values(), key=lambda tone: abs(tone - hertz)) for hertz in hertz_heard]
    long = [tone for tone, run in groupby(loudest) if len(list(run)) > 3]  # shorter are edges of words
    return [tone for tone, _ in groupby(long)]


def test_peoples_words_are_spliced_to_runs(tmp_path: Path) -> None:
    """Runs of two to seven words, mostly of one speaker, each word as loud as the others and in its place."""
    writer = PackWriter(tmp_path / "words-000", None)
    for speaker, loud in (("ann", 300), ("bob", 9000)):
        for word in ("one", "two", "two", "one", "stop"):
            hum(writer, word, speaker, loud)
    writer.close()
    runs = list(spliced(list(read_pack(tmp_path / "words-000")), 60, seed=3))
    assert {len(words) for _, words, _, _ in runs} <= set(range(2, 8))
    assert sum("+" not in speaker for _, _, speaker, _ in runs) > 30
    for audio, words, _, _ in runs:
        assert len(audio) < (0.4 + len(words) * 0.85) * 16_000  # the silence around each word is mostly cut
        assert hummed(audio) == [HUM[word] for word, _ in groupby(words)]


def test_people_say_the_digits_of_spoken_sentences(tmp_path: Path) -> None:
    people, machine = PackWriter(tmp_path / "words-000", None), PackWriter(tmp_path / "carrier-000", None)
    for speaker, words in (("ann", ("one", "two", "one", "two")), ("bob", ("stop", "one"))):
        for word in words:
            hum(people, word, speaker, 3000)
    for between in ("reading", "at station"):
        hum(machine, between, "voice", 300)
    people.close()
    machine.close()
    sentences = ["reading one at station two one", "reading one at station three", "where are we", "reading two"]
    assert list(carriers(sentences[:2])) == ["reading", "at station"] * 2
    spoken = (list(read_pack(tmp_path / name)) for name in ("words-000", "carrier-000"))
    said = list(carried(sentences, *spoken, seed=3))
    assert [" ".join(words) for _, words, _, _ in said] == [sentences[0], sentences[3]]  # the others cannot be said
    assert hummed(said[0][0]) == [1200, 200, 1600, 400, 200]
    assert hummed(said[1][0]) == [1200, 400]


def test_positions_share_outputs() -> None:
    assert in_word(["AY"]) == ["AY_S"]
    assert in_word(["T", "UW"]) == ["T_B", "UW_E"]
    assert first_pdf("T_B") == first_pdf("T_E")
    assert max(first_pdf(phone) for phone in PHONES) + 2 == PDFS


def test_numbers_and_arrays_read_back() -> None:
    out = io.BytesIO()
    whole(out, -1, 7)
    assert struct.unpack("<bibi", out.getvalue()) == (4, -1, 4, 7)
    out = io.BytesIO()
    wholes(out, [3, 1, 2])
    assert np.frombuffer(out.getvalue()[5:], "<i4").tolist() == [3, 1, 2]
    out = io.BytesIO()
    vector(out, [0.5, 2.0])
    assert out.getvalue()[:3] == b"FV "
    assert np.frombuffer(out.getvalue()[8:], "<f4").tolist() == [0.5, 2.0]


def test_a_small_matrix_comes_back_nearly_the_same() -> None:
    values = np.random.default_rng(5).normal(0, 0.1, (300, 7)) * np.geomspace(0.1, 10, 7)
    out = io.BytesIO()
    small_matrix(out, values)
    data = out.getvalue()
    assert data.startswith(b"CM ") and len(data) == 3 + 16 + 7 * (8 + 300)
    read, end = read_matrix(data, 0)
    assert end == len(data)
    spread = values.std(axis=0)
    assert (np.sqrt(((read - values) ** 2).mean(axis=0)) < 0.01 * spread + 1e-4).all()
    small_matrix(out, np.zeros((2, 2)))


def test_a_fine_matrix_comes_back_more_nearly() -> None:
    values = np.random.default_rng(5).normal(0, 0.1, (30, 7))
    out = io.BytesIO()
    fine_matrix(out, values)
    read, end = read_matrix(out.getvalue(), 0)
    assert out.getvalue().startswith(b"CM2 ") and end == len(out.getvalue()) == 20 + 2 * 30 * 7
    assert np.abs(read - values).max() < 1e-5


def test_model_is_small() -> None:
    assert sum(p.stat().st_size for p in MODEL.rglob("*") if p.is_file()) <= 10_000_000


def test_stock_vosk_knows_every_word_and_hears_nothing_in_silence() -> None:
    import vosk

    vosk.SetLogLevel(-1)
    model = vosk.Model(str(MODEL))
    assert [w for w in sorted(spoken_words()) if model.vosk_model_find_word(w) < 0] == []
    recogniser = vosk.KaldiRecognizer(model, 16_000, json.dumps(["one two three", "[unk]"]))
    noise = np.random.default_rng(1).normal(0, 20, 16_000).astype("<i2")
    recogniser.AcceptWaveform(noise.tobytes())
    assert json.loads(recogniser.FinalResult())["text"] in ("", "[unk]")


def test_our_model_hears_bundled_recordings_of_a_voice_it_was_not_trained_on() -> None:
    import csv

    import soundfile
    import vosk

    vosk.SetLogLevel(-1)
    root = Path(__file__).parents[2] / "audio_fixtures"
    rows = list(csv.DictReader((root / "manifest.csv").open()))[:12]
    said = sorted({row["words"] for row in rows})
    recogniser = vosk.KaldiRecognizer(vosk.Model(str(MODEL)), 16_000, json.dumps([*said, "[unk]"]))
    right = 0
    for row in rows:
        audio, rate = soundfile.read(root / row["file"], dtype="int16")
        assert rate == 16_000
        quiet = bytes(6_400)
        recogniser.AcceptWaveform(quiet + audio.tobytes() + quiet)
        right += json.loads(recogniser.FinalResult())["text"] == row["words"]
    assert right >= len(rows) - 2


def test_a_shipped_network_read_back_is_the_same(tmp_path: Path) -> None:
    """Training can go on from the model folder alone; taking norms from speech and new layers change nothing."""
    torch = pytest.importorskip("torch", reason="training needs the extra [train]")
    from assistant.lab.training.again import deepened, normed_layers, read_shipped, settle
    from assistant.lab.training.export import export

    net = read_shipped(MODEL / "am" / "final.mdl")
    frames = net.pad(10 + 4 * torch.randn(2, 120, 40, generator=torch.Generator().manual_seed(3)))
    with torch.no_grad():
        before = net(frames)
        settled = settle(net, [frames])(frames)
        deep = deepened(net, (3, 3))
        after = deep(deep.pad(frames[:, net.context : -net.context]))
    sizes = [float(layer.weight.detach().square().mean().sqrt()) for layer, _ in normed_layers(net)]
    assert sizes == pytest.approx([0.1] * len(sizes), rel=1e-3)
    assert torch.allclose(before, settled, atol=2e-3)
    assert 0 < float((before - after).abs().mean()) < 0.05
    export(net, tmp_path / "final.mdl")
    again = read_shipped(tmp_path / "final.mdl")
    with torch.no_grad():
        assert float((before - again(frames)).abs().mean()) < 0.01
        for weight in net.parameters():  # what was read back once lies on the steps of its bits
            weight += 0.02 * weight.std() * torch.randn(weight.shape, generator=torch.Generator().manual_seed(4))
        fresh = net(frames)
    export(net, tmp_path / "final.mdl")
    again = read_shipped(tmp_path / "final.mdl")
    with torch.no_grad():
        assert float((fresh - again(frames)).abs().mean()) < 0.2


def test_a_training_that_gets_worse_is_given_up() -> None:
    torch = pytest.importorskip("torch", reason="training needs the extra [train]")
    from assistant.lab.training.learn import DivergedError, Piece, Speech, learn
    from assistant.lab.training.network import Network

    torch.manual_seed(1)
    signal = (torch.randn(48_000, generator=torch.Generator().manual_seed(1)) * 1000).to(torch.int16)
    pieces = [Piece(at, 12_000, [5, 9, 20], [0.2, 0.5, 0.75]) for at in range(0, 36_000, 2_000)]

    def trained(rate: float) -> Network:
        speech = Speech(signal, pieces, [1.0] * len(pieces), torch.randn(160_000), 1)
        return learn(Network(32, 16, reach=(3,)), speech, 20, rate, 24)

    trained(1e-3)
    with pytest.raises(DivergedError, match="lower rate"):
        trained(1e3)
