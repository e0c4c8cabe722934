"""Fetching an archive over lines and from servers that misbehave."""

from pathlib import Path

import pytest
import trustme

from companion.errors import CompanionError
from companion.models.fetch import Origin, fetch
from tests.models.servers import Behaviour, certificate, serving

CONTENT = bytes(range(256)) * 2_000


def _fetch(address: str, folder: Path, *, expected: int | None = None, proxy: str | None = None) -> bytes:
    target = folder / "a-model.zip"
    source = Origin(address, expected, proxy, plain_http=True)
    fetch(source, target, lambda _have, _total: None, pause_s=0.0)
    return target.read_bytes()


def test_whole_file_arrives(tmp_path: Path) -> None:
    """A good server's file arrives byte by byte, and no part is left beside it."""
    with serving(Behaviour(CONTENT)) as address:
        assert _fetch(address, tmp_path, expected=len(CONTENT)) == CONTENT
    assert [path.name for path in tmp_path.iterdir()] == ["a-model.zip"]


def test_progress_counts_up_to_the_whole(tmp_path: Path) -> None:
    """Progress rises to the full size, with the total known from the first report."""
    seen: list[tuple[int, int | None]] = []
    with serving(Behaviour(CONTENT)) as address:
        source = Origin(address, plain_http=True)
        fetch(source, tmp_path / "a.zip", lambda have, total: seen.append((have, total)))
    assert seen == sorted(seen)
    assert seen[-1] == (len(CONTENT), len(CONTENT))


def test_goes_on_after_a_broken_line(tmp_path: Path) -> None:
    """When the line breaks twice, only the rest is asked for and the file is whole in the end."""
    behaviour = Behaviour(CONTENT, break_after=[100_000, 50_000])
    with serving(behaviour) as address:
        assert _fetch(address, tmp_path) == CONTENT
    assert behaviour.asked == [None, "bytes=100000-", "bytes=150000-"]


def test_goes_on_in_a_later_run(tmp_path: Path) -> None:
    """A run that gives up keeps what arrived, and the next run goes on from there."""
    behaviour = Behaviour(CONTENT, break_after=[1_000, 0, 0, 0])
    with serving(behaviour) as address:
        with pytest.raises(CompanionError, match="kept"):
            _fetch(address, tmp_path)
        assert not (tmp_path / "a-model.zip").exists()
        assert _fetch(address, tmp_path) == CONTENT
    assert behaviour.asked[-1] == "bytes=1000-"


def test_changed_file_starts_anew(tmp_path: Path) -> None:
    """A file that changed on the server between two tries is fetched from its beginning."""
    behaviour = Behaviour(b"old" * 100_000, break_after=[1_000, 0, 0, 0])
    with serving(behaviour) as address:
        with pytest.raises(CompanionError):
            _fetch(address, tmp_path)
        behaviour.content, behaviour.etag = CONTENT, '"two"'
        assert _fetch(address, tmp_path) == CONTENT


def test_server_without_ranges_starts_anew(tmp_path: Path) -> None:
    """A server that ignores ranges sends everything again, and nothing is doubled."""
    with serving(Behaviour(CONTENT, break_after=[1_000], ignore_range=True)) as address:
        assert _fetch(address, tmp_path) == CONTENT


def test_length_that_is_not_the_known_one_is_refused(tmp_path: Path) -> None:
    """A server that announces another size than the known one is refused before anything is kept."""
    with serving(Behaviour(CONTENT)) as address, pytest.raises(CompanionError, match="another file"):
        _fetch(address, tmp_path, expected=len(CONTENT) + 1)
    assert list(tmp_path.iterdir()) == []


def test_length_that_promises_too_much_ends_plainly(tmp_path: Path) -> None:
    """A server that announces more than it has ends as a broken line, in plain words."""
    with (
        serving(Behaviour(CONTENT, stated_length=len(CONTENT) + 9)) as address,
        pytest.raises(CompanionError),
    ):
        _fetch(address, tmp_path)
    assert not (tmp_path / "a-model.zip").exists()


def test_sender_without_end_is_cut_off(tmp_path: Path) -> None:
    """A server that announces no length can't send more than the known size."""
    behaviour = Behaviour(CONTENT, chunked_without_end=True)
    with serving(behaviour) as address, pytest.raises(CompanionError, match="more than 1000"):
        _fetch(address, tmp_path, expected=1_000)
    assert not (tmp_path / "a-model.zip").exists()


@pytest.mark.parametrize("status", [403, 404, 500])
def test_refusal_names_the_answer(tmp_path: Path, status: int) -> None:
    """A server's refusal is reported with its number."""
    with serving(Behaviour(b"", status=status)) as address, pytest.raises(CompanionError, match=str(status)):
        _fetch(address, tmp_path)


def test_nobody_there_is_said_plainly(tmp_path: Path) -> None:
    """An address where nobody answers ends in a sentence that names the ways out."""
    with serving(Behaviour(CONTENT)) as address:
        pass
    with pytest.raises(CompanionError, match="stick"):
        _fetch(address, tmp_path)


def test_plain_http_needs_a_checksum(tmp_path: Path) -> None:
    """Without a confirmed checksum an unencrypted address is refused before any request."""
    behaviour = Behaviour(CONTENT)
    with serving(behaviour) as address, pytest.raises(CompanionError, match="https"):
        fetch(Origin(address), tmp_path / "a.zip", lambda _have, _total: None)
    assert behaviour.asked == []


def test_untrusted_certificate_is_refused(tmp_path: Path) -> None:
    """A server whose certificate nobody vouches for gets no request, and the stick is named as a way."""
    behaviour = Behaviour(CONTENT)
    with (
        serving(behaviour, certificate(trustme.CA())) as address,
        pytest.raises(CompanionError, match=r"certificate.*stick"),
    ):
        fetch(Origin(address), tmp_path / "a.zip", lambda _have, _total: None, pause_s=0.0)
    assert behaviour.asked == []


@pytest.fixture
def trusted_authority(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> trustme.CA:
    """Give an authority that this process trusts, as a school's own certificate would be."""
    authority = trustme.CA()
    authority.cert_pem.write_to_path(str(tmp_path / "authority.pem"))
    monkeypatch.setenv("SSL_CERT_FILE", str(tmp_path / "authority.pem"))
    return authority


def test_trusted_certificate_is_enough(tmp_path: Path, trusted_authority: trustme.CA) -> None:
    """With a certificate that the system trusts, an encrypted address needs no checksum."""
    with serving(Behaviour(CONTENT), certificate(trusted_authority)) as address:
        fetch(Origin(address), tmp_path / "a.zip", lambda _have, _total: None)
    assert (tmp_path / "a.zip").read_bytes() == CONTENT


def test_redirect_out_of_encryption_is_refused(tmp_path: Path, trusted_authority: trustme.CA) -> None:
    """An encrypted address that leads on to an unencrypted one is refused."""
    with serving(Behaviour(CONTENT)) as plain:
        behaviour = Behaviour(b"", location=plain)
        with (
            serving(behaviour, certificate(trusted_authority)) as address,
            pytest.raises(CompanionError, match="https"),
        ):
            fetch(Origin(address), tmp_path / "a.zip", lambda _have, _total: None)
    assert not (tmp_path / "a.zip").exists()


def test_proxy_is_asked(tmp_path: Path) -> None:
    """With a proxy given, the proxy gets the request for the far address."""
    behaviour = Behaviour(CONTENT)
    with serving(behaviour) as proxy:
        far = "http://models.alder-lane.invalid/a-model.zip"
        assert _fetch(far, tmp_path, proxy=proxy.removesuffix("/a-model.zip")) == CONTENT
    assert behaviour.asked == [None]
