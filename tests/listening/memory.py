"""What listening brings into the memory of its process."""

import subprocess
import sys
from pathlib import Path

_LISTENS = """
import sys
from pathlib import Path
import companion.background.run
from companion.lesson.vocabulary import Vocabulary
from companion.listening.engines import Voice, open_spotter
from companion.listening.microphone.files import whole
from companion.listening.spotter import hear_whole

engine, features, sound = sys.argv[1:]
spotter = open_spotter(Vocabulary(("praise",), cue="velvet compass"), engine, Voice(features=Path(features)))
assert hear_whole(spotter, whole(Path(sound)))
print(*sorted({name.partition(".")[0] for name in sys.modules}))
"""
_SOUND = Path(__file__).parent / "sounds" / "praise.flac"


def packages_while_listening(engine: str, features: Path) -> set[str]:
    """Let a process of its own hear a phrase by `engine`, and return the packages that it has loaded then."""
    command = [sys.executable, "-c", _LISTENS, engine, str(features), str(_SOUND)]
    done = subprocess.run(command, capture_output=True, text=True, check=True, timeout=120)
    return set(done.stdout.split())
