"""Runs in a process of its own: lets the library espeak-ng, which `espeakng_loader` brings, say a phrase.

Reads {"phrase", "manners"} as JSON from standard input, and writes an npz with the rate and what was said in
each manner. Constants are those of espeak-ng's `speak_lib.h`.
"""

import ctypes
import io
import json
import sys
from typing import Any

import espeakng_loader
import numpy as np

from companion.listening.sound import Sound

_RETRIEVAL = 1
_RATE, _PITCH = 1, 3
_UTF8 = 1

_CALLBACK = ctypes.CFUNCTYPE(ctypes.c_int, ctypes.POINTER(ctypes.c_short), ctypes.c_int, ctypes.c_void_p)


def main() -> None:
    """Say what is asked for."""
    wanted = json.load(sys.stdin)
    library = ctypes.CDLL(str(espeakng_loader.get_library_path()))
    rate = library.espeak_Initialize(_RETRIEVAL, 0, str(espeakng_loader.get_data_path()).encode(), 0)
    if rate <= 0:
        raise SystemExit("espeak-ng did not start")
    said: dict[str, Any] = {
        f"said{number}": _say(library, wanted["phrase"], manner)
        for number, manner in enumerate(wanted["manners"])
    }
    stored = io.BytesIO()
    np.savez(stored, rate=np.int64(rate), **said)
    sys.stdout.buffer.write(stored.getvalue())


def _say(library: ctypes.CDLL, phrase: str, manner: dict[str, str | int]) -> Sound:
    heard: list[Sound] = []

    def keep(samples: "ctypes._Pointer[ctypes.c_short]", count: int, _events: int | None) -> int:
        if samples and count:
            heard.append(np.ctypeslib.as_array(samples, (count,)).copy())
        return 0

    callback = _CALLBACK(keep)
    library.espeak_SetSynthCallback(callback)
    library.espeak_SetVoiceByName(str(manner["voice"]).encode())
    library.espeak_SetParameter(_RATE, int(manner["words_a_minute"]), 0)
    library.espeak_SetParameter(_PITCH, int(manner["pitch"]), 0)
    text = phrase.encode() + b"\0"
    library.espeak_Synth(text, ctypes.c_size_t(len(text)), 0, 0, 0, _UTF8, None, None)
    library.espeak_Synchronize()
    return np.concatenate(heard) if heard else np.zeros(0, np.int16)


if __name__ == "__main__":
    main()
