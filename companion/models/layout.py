"""What a Vosk model's folder has to look like, checked before the native code sees it."""

from dataclasses import dataclass
from pathlib import Path

from companion.errors import CompanionError
from companion.language import _

_FST_MAGIC = (2125659606).to_bytes(4, "little")
"""First bytes of every OpenFst file (kFstMagicNumber in OpenFst's fst.h)."""
_KALDI_MAGIC = b"\0B"
"""First bytes of every binary Kaldi file (kaldi-io.h)."""

_ALWAYS: dict[str, bytes] = {
    "am/final.mdl": _KALDI_MAGIC,
    "conf/mfcc.conf": b"",
    "conf/model.conf": b"",
    "graph/phones/word_boundary.int": b"",
}
_IVECTOR: dict[str, bytes] = {
    "ivector/final.dubm": _KALDI_MAGIC,
    "ivector/final.ie": _KALDI_MAGIC,
    "ivector/final.mat": b"",
    "ivector/global_cmvn.stats": b"",
    "ivector/online_cmvn.conf": b"",
    "ivector/splice.conf": b"",
}
_DYNAMIC: dict[str, bytes] = {
    "graph/HCLr.fst": _FST_MAGIC,
    "graph/Gr.fst": _FST_MAGIC,
    "graph/disambig_tid.int": b"",
}
_STATIC: dict[str, bytes] = {"graph/HCLG.fst": _FST_MAGIC, "graph/words.txt": b""}


@dataclass(frozen=True, slots=True)
class Layout:
    """A folder that looks like a whole Vosk model."""

    root: Path
    dynamic_graph: bool
    """Whether phrases can be set while it runs; a model with a static graph can't be used."""


def find_root(folder: Path) -> Path:
    """Return `folder`, or the only folder inside it that holds the model (as archives have it)."""
    if (folder / "am").is_dir() or not folder.is_dir():
        return folder
    inner = [child for child in folder.iterdir() if (child / "am").is_dir()]
    return inner[0] if len(inner) == 1 else folder


def check_layout(folder: Path) -> Layout:
    """Check names, sizes and first bytes of a model's files.

    Raises CompanionError naming the first file that is missing, empty or of another kind.
    """
    if not folder.is_dir():
        raise CompanionError(
            _("There is no speech model at {folder}.", folder=folder),
            remedy=_("See `companion models list`."),
        )
    dynamic = (folder / "graph" / "HCLr.fst").exists() or not (folder / "graph" / "HCLG.fst").exists()
    expected = _ALWAYS | (_DYNAMIC if dynamic else _STATIC)
    if (folder / "ivector").exists():
        expected = expected | _IVECTOR
    for name, first_bytes in expected.items():
        _check_file(folder, name, first_bytes)
    return Layout(root=folder, dynamic_graph=dynamic)


def require_dynamic(layout: Layout) -> None:
    """Raise CompanionError when a model's graph is static."""
    if not layout.dynamic_graph:
        raise CompanionError(
            _(
                "The speech model in {root} has a fixed word graph, so it can't be told to listen "
                "for your phrases only.",
                root=layout.root,
            ),
            remedy=_("Take a small model, for example one of `companion models list`."),
        )


def _check_file(folder: Path, name: str, first_bytes: bytes) -> None:
    path = folder / name
    try:
        with path.open("rb") as file:
            head = file.read(max(len(first_bytes), 1))
    except OSError:
        raise _broken(folder, _("the file {name} is missing or can't be read", name=name)) from None
    if not head:
        raise _broken(folder, _("the file {name} is empty", name=name))
    if not head.startswith(first_bytes):
        raise _broken(folder, _("the file {name} is not what its name says", name=name))


def _broken(folder: Path, why: str) -> CompanionError:
    return CompanionError(
        _("The speech model in {folder} is not whole: {why}.", folder=folder, why=why),
        remedy=_("Remove it and get it again with `companion models get`, or take another copy."),
    )
