"""What every test about models gets."""

import pytest


@pytest.fixture(autouse=True)
def no_proxy_of_the_machine(monkeypatch: pytest.MonkeyPatch) -> None:
    """Keep a proxy of the machine that runs the tests out of them."""
    for name in ("HTTP_PROXY", "HTTPS_PROXY", "ALL_PROXY", "http_proxy", "https_proxy", "all_proxy"):
        monkeypatch.delenv(name, raising=False)
