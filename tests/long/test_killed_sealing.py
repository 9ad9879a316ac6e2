"""Sealing that is killed at random moments loses nothing that was sealed. CONSERVE_KILLS says how many times: 20, or 200."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

TESTS = Path(__file__).parent.parent
KILLS = os.environ.get("CONSERVE_KILLS", "20")


@pytest.mark.parametrize(("what", "seed"), [("killed", "2"), ("clock", "3")])
def test_killed_at_any_moment_nothing_that_was_sealed_is_lost(tmp_path: Path, what: str, seed: str):
    done = subprocess.run(
        [sys.executable, TESTS / "sealing_apart.py", what, tmp_path, KILLS, seed], capture_output=True, text=True
    )
    assert done.returncode == 0, done.stdout + done.stderr
    print(done.stdout)
