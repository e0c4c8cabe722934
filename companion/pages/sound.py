"""The sound of a mark or near miss, while it is still in memory."""

import io

import soundfile
from starlette.requests import Request
from starlette.responses import Response

from companion.errors import CompanionError
from companion.language import _
from companion.listening.sound import SAMPLE_RATE
from companion.pages.desk import desk_of


def play(request: Request) -> Response:
    """Return the sound as WAV."""
    session, item = request.path_params["session"], request.path_params["item"]
    sound = desk_of(request).port.sound(session, item)
    if sound is None:
        raise CompanionError(_("This sound is no longer in memory."), safe=_("The mark itself is safe."))
    made = io.BytesIO()
    soundfile.write(made, sound, SAMPLE_RATE, format="WAV", subtype="PCM_16")
    return Response(made.getvalue(), media_type="audio/wav")
