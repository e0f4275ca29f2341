"""The script behind `make score`."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

SCRIPT = Path(__file__).resolve().parents[2] / "scripts" / "score.py"


def test_without_labelled_episodes_it_says_so(tmp_path: Path) -> None:
    """Where no labelled episodes lie, one clear line and no failure."""
    run = subprocess.run(
        [sys.executable, str(SCRIPT), str(tmp_path)], capture_output=True, text=True, check=False
    )
    assert run.returncode == 0
    assert run.stdout.splitlines() == [f"No labelled episodes in {tmp_path}; nothing was scored."]
    assert run.stderr == ""
