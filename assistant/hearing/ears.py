"""Which ear listens."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

from assistant.hearing.port import Ear, EarError

DEFAULT = "vosk"


def open_ear(name: str | None = None, model: Path | None = None) -> Ear:
    """Open an ear by name; a model folder alone means Vosk. Raises `EarError`. Loading takes a second."""
    chosen = name or ("vosk" if model is not None else DEFAULT)
    if chosen == "vosk":
        from assistant.hearing.vosk_ear import VoskEar

        return VoskEar(model or _own_model(), calibrated=model is None)
    if model is not None:
        raise EarError("Only the vosk ear takes a model folder: say --ears vosk, or leave --model out.")
    from assistant.hearing.sphinx import SphinxEar

    return SphinxEar()


def _own_model() -> Path:
    folder = Path(str(files("assistant.hearing"))) / "model"
    if not folder.exists():
        raise EarError("The vosk ear needs a model folder: give one with --model.")
    return folder
