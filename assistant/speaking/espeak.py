"""The espeak-ng voice: the system's program where there is one, else the library that its loader package brings."""

from __future__ import annotations

import ctypes
import io
import shutil
import subprocess
import wave
from functools import cache

import numpy as np

from assistant.speaking.port import Speech, VoiceError

LANGUAGE = "en-us"

SPEED = 137
"""Words a minute asked of the program. Over answers with figures, 120 come out, as the guide of a speech synthesiser
advises for numbers that are copied down."""

LIBRARY_SPEED = 127
"""The same for the library, which pauses less between sentences."""


class EspeakProgram:
    """`espeak-ng` as a program: each sentence is one short process."""

    name = "espeak-ng"

    def __init__(self) -> None:
        found = shutil.which("espeak-ng")
        if found is None:
            raise VoiceError("The program espeak-ng is not here; install it, or the package espeakng-loader.")
        self._program = found

    def say(self, text: str) -> Speech:
        """Speak."""
        command = [
            self._program,
            "-v",
            LANGUAGE,
            "-s",
            str(SPEED),
            "-g",
            "2",
            "--stdout",
            "--stdin",
        ]
        try:
            done = subprocess.run(command, input=text.encode(), capture_output=True, check=True, timeout=20)
            with wave.open(io.BytesIO(done.stdout)) as sound:
                # The length in the header of a stream is not true: read to the end.
                data = done.stdout[44:]
                return Speech(np.frombuffer(data[: len(data) // 2 * 2], "<i2").copy(), sound.getframerate())
        except (subprocess.SubprocessError, wave.Error, OSError) as trouble:
            raise VoiceError(f"espeak-ng does not speak ({trouble}).") from trouble


_CALLBACK = ctypes.CFUNCTYPE(ctypes.c_int, ctypes.POINTER(ctypes.c_short), ctypes.c_int, ctypes.c_void_p)
_AUDIO_OUTPUT_SYNCHRONOUS = 2
_CHARS_UTF8 = 1
_RATE_PARAMETER = 1
_WORDGAP_PARAMETER = 7


class EspeakLibrary:
    """The same voice through the library that the package espeakng-loader carries."""

    name = "espeak-ng library"

    def __init__(self) -> None:
        try:
            self._library, self._rate = _library()
        except (ImportError, OSError) as trouble:
            raise VoiceError(f"The espeak-ng library cannot be loaded ({trouble}).") from trouble

    def say(self, text: str) -> Speech:
        """Speak."""
        chunks: list[bytes] = []

        def collect(samples: ctypes._Pointer[ctypes.c_short], count: int, _: int | None) -> int:
            if count > 0 and samples:
                chunks.append(ctypes.string_at(samples, count * 2))
            return 0

        data, callback = text.encode(), _CALLBACK(collect)
        self._library.espeak_SetSynthCallback(callback)
        self._library.espeak_Synth(data, len(data) + 1, 0, 1, 0, _CHARS_UTF8, None, None)
        self._library.espeak_Synchronize()
        return Speech(np.frombuffer(b"".join(chunks), "<i2").copy(), self._rate)


@cache
def _library() -> tuple[ctypes.CDLL, int]:
    import espeakng_loader

    library = ctypes.CDLL(espeakng_loader.get_library_path())
    data = str(espeakng_loader.get_data_path()).encode()
    rate = int(library.espeak_Initialize(_AUDIO_OUTPUT_SYNCHRONOUS, 0, data, 0))
    if rate <= 0:
        raise OSError("it does not start")
    library.espeak_SetVoiceByName(LANGUAGE.encode())
    library.espeak_SetParameter(_RATE_PARAMETER, LIBRARY_SPEED, 0)
    library.espeak_SetParameter(_WORDGAP_PARAMETER, 2, 0)
    return library, rate
