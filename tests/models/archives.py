"""Small folders and archives that look like a Vosk model from outside; the native code can't load them."""

import io
import zipfile
from pathlib import Path

FST = bytes.fromhex("d6fdb27e") + b"fst"
KALDI = b"\0Bmodel"
FILES: dict[str, bytes] = {
    "am/final.mdl": KALDI,
    "conf/mfcc.conf": b"--num-ceps=40\n",
    "conf/model.conf": b"--beam=10\n",
    "graph/HCLr.fst": FST,
    "graph/Gr.fst": FST,
    "graph/disambig_tid.int": b"1\n",
    "graph/phones/word_boundary.int": b"1 nonword\n",
    "ivector/final.dubm": KALDI,
    "ivector/final.ie": KALDI,
    "ivector/final.mat": KALDI,
    "ivector/global_cmvn.stats": b"[ 1 ]",
    "ivector/online_cmvn.conf": b"# none\n",
    "ivector/splice.conf": b"--left-context=3\n",
}


def model_zip(files: dict[str, bytes] | None = None, top: str = "a-model/") -> bytes:
    """Return a zip archive of `files` (a whole model unless given) below the folder `top`."""
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in (FILES if files is None else files).items():
            archive.writestr(top + name, content)
    return packed.getvalue()


def write_model(folder: Path, files: dict[str, bytes] | None = None) -> Path:
    """Write `files` (a whole model unless given) below `folder` and return it."""
    for name, content in (FILES if files is None else files).items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)
    return folder
