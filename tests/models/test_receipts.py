"""What is remembered about models, where the file of it is damaged."""

from pathlib import Path

import pytest

from companion.errors import CompanionError
from companion.models.receipts import pin_sha256, pinned_sha256, read_receipt


@pytest.mark.parametrize("content", ["null", '"0"', '{"small": 1}', "{", "\x80"])
def test_damaged_checksums_are_told_and_not_written_over(tmp_path: Path, content: str) -> None:
    """Else any archive would pass for the one that was fetched before."""
    pin_sha256(tmp_path, "small", "ab" * 32)
    (pins,) = tmp_path.rglob("pinned.json")
    pins.write_bytes(content.encode("latin-1"))
    with pytest.raises(CompanionError, match="damaged"):
        pinned_sha256(tmp_path, "small")
    with pytest.raises(CompanionError, match="damaged"):
        pin_sha256(tmp_path, "small", "cd" * 32)
    assert pins.read_bytes() == content.encode("latin-1")


def test_a_receipt_that_can_not_be_read_is_none(tmp_path: Path) -> None:
    """The model is checked as one of which nothing is known."""
    (tmp_path / ".receipts").mkdir()
    (tmp_path / ".receipts" / "small.receipt.json").write_bytes(b"\x80")
    assert read_receipt(tmp_path, "small") is None
