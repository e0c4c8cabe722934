"""The stream of an exercise: when its page has something new to show, and how loud the microphone is."""

import asyncio
import json
import math
from collections.abc import AsyncIterator

from starlette.requests import Request
from starlette.responses import Response, StreamingResponse

from companion.pages.desk import Desk, desk_of
from companion.pages.setup.steps import step

LOOK_S = 0.1
SIGN_OF_LIFE_S = 5.0
QUIETEST_DBFS = -70.0


def stream(request: Request) -> Response:
    """Tell the page of a step about its exercise."""
    desk, key = desk_of(request), step(request.path_params["step"]).key
    headers = {"Cache-Control": "no-store", "X-Accel-Buffering": "no"}
    return StreamingResponse(_news(desk, key), media_type="text/event-stream", headers=headers)


def stamp_of(desk: Desk, key: str) -> str:
    """Return what changes whenever the page of a step has something new to show; it is one word."""
    exercise = desk.exercises.of(key)
    return f"{hash(exercise.stamp) & 0xFFFFFFFF:x}" if exercise else "none"


async def _news(desk: Desk, key: str) -> AsyncIterator[str]:
    told, shown, silent_s = "", -1, 0.0
    leave, door = desk.exercises.watch(), desk.keys.door
    try:
        while desk.keys.opens(door):
            exercise = desk.exercises.of(key)
            level = exercise.level_dbfs if exercise else None
            if (now := stamp_of(desk, key)) != told or silent_s >= SIGN_OF_LIFE_S:
                told, silent_s = now, 0.0
                yield f"data: {now}\n\n"
            percent = _percent(level) if level is not None else 0
            if percent != shown:
                shown = percent
                yield f"event: level\ndata: {json.dumps(percent)}\n\n"
            await asyncio.sleep(LOOK_S)
            silent_s += LOOK_S
    finally:
        leave()


def _percent(level_dbfs: float) -> int:
    """Return a loudness as a part of the way from silence to full scale."""
    if math.isinf(level_dbfs):
        return 0
    return round(100 * (min(0.0, max(QUIETEST_DBFS, level_dbfs)) - QUIETEST_DBFS) / -QUIETEST_DBFS)
