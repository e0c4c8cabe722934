"""Who may read the companion's folder."""

import os
from pathlib import Path

import pytest

from companion.access import keep_to_user, others, others_in

OWN = "S-1-5-21-1004336348-1177238915-682003330-512"


@pytest.mark.parametrize(
    ("sddl", "found"),
    [
        (f"home\r\nD:PAI(A;OICI;FA;;;SY)(A;OICI;FA;;;BA)(A;OICI;FA;;;{OWN})\r\n", []),
        (f"home\r\nD:AI(A;OICIID;FA;;;SY)(A;OICIID;0x1200a9;;;BU)(A;ID;FA;;;{OWN})\r\n", ["BU"]),
        ("home\r\nD:(D;;FA;;;WD)(A;;FR;;;WD)(A;;FR;;;S-1-5-21-7)\r\n", ["WD", "S-1-5-21-7"]),
        ("nothing of the kind", []),
    ],
)
def test_an_access_list_tells_who_else_is_let_in(sddl: str, found: list[str]) -> None:
    """As Windows writes one down, in any language of the system: users, everybody, another account."""
    assert others_in(sddl, OWN) == found


def test_a_folder_is_kept_to_its_user(tmp_path: Path) -> None:
    """It was open to others, and is not afterwards; what comes into it later is closed as well."""
    folder = tmp_path / "home"
    folder.mkdir(mode=0o755)
    assert os.name == "nt" or others(folder) == ["its group", "everybody"]
    keep_to_user(folder)
    assert others(folder) == []
    (folder / "inside").mkdir(mode=0o700)
    assert others(folder / "inside") == []
    assert others(tmp_path / "nowhere") == []
