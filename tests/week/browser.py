"""The teacher's browser: the real pages over HTTP, each press with a wish of its own."""

import re

import httpx
from ulid import ULID

from tests.week.room import Room

TAKEN, WAITS = 303, 409


class Browser:
    """Forms sent to the pages of the room's companion."""

    def __init__(self, room: Room) -> None:
        self._room = room
        self._client = httpx.Client(trust_env=False, timeout=60)
        self._token = ""

    def press(self, path: str, **form: str) -> bool:
        """Send a form; return whether it was taken, and not only promised since the log can't be written."""
        wish = {"request": str(ULID()), **form}
        answer = self._send(path, wish)
        if answer.status_code == 403:
            # The pages of another day, or of a companion that began anew elsewhere, are closed.
            self._open()
            answer = self._send(path, wish)
        assert answer.status_code in {TAKEN, WAITS}, f"{path} {form}: {answer.status_code} {answer.text}"
        if answer.status_code == WAITS:
            assert "wait" in answer.text, answer.text
        return answer.status_code == TAKEN

    def read(self, path: str) -> str:
        """Return a page."""
        answer = self._client.get(path)
        if answer.status_code == 403:
            self._open()
            answer = self._client.get(path)
        assert answer.status_code == 200, answer.text
        return answer.text

    def close(self) -> None:
        """Close it."""
        self._client.close()

    def _send(self, path: str, form: dict[str, str]) -> httpx.Response:
        if not self._token:
            self._open()
        here = {"Sec-Fetch-Site": "same-origin"}
        return self._client.post(f"{path}?page={self._token}", data=form, headers=here)

    def _open(self) -> None:
        self._client.base_url = httpx.URL(self._room.pages.base)
        found = re.search(r"\?page=(\w+)", self._client.get("setup").text)
        assert found is not None
        self._token = found[1]
