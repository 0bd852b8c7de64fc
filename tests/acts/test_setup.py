"""`deploy/setup.sh`: what it leaves alone."""

from __future__ import annotations

import os
import subprocess
from pathlib import Path

SETUP = Path(__file__).parents[2] / "deploy" / "setup.sh"


def test_an_environment_that_is_linked_from_elsewhere_is_left_alone(tmp_path: Path) -> None:
    """It is another checkout's: neither emptied nor installed into."""
    other, house = tmp_path / "other", tmp_path / "house"
    other.mkdir()
    house.mkdir()
    (other / "pyvenv.cfg").write_text("home = /usr/bin\n")
    (house / ".venv").symlink_to(other)
    environment = {k: v for k, v in os.environ.items() if k != "NEXTMORNING_VENV"}

    ended = subprocess.run(
        ["sh", "-euc", f'house="$1"; . "{SETUP}"; make_venv', "sh", str(house)],
        capture_output=True, text=True, env=environment, check=False,
    )  # fmt: skip

    assert ended.returncode == 1
    assert f"{house}/.venv is a link to {other}, which was not made for this" in ended.stderr
    assert [file.name for file in other.iterdir()] == ["pyvenv.cfg"]
