"""Sixteen processes book, move and cancel the same slots through HTTP: one winner each, on the lane's own database.

The race is a process of its own, over a database of its own, so that nothing of these tests stands under it.
"""

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
ROUNDS = 15
"""As many as the time of the suite allows: about 70 ms of work for each of 240 forms. Longer races by command."""

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="forks its racers")


def test_sixteen_processes_race_and_each_slot_has_one_winner():
    on = os.environ.get("DATABASE_URL") or "sqlite"
    command = [sys.executable, "-m", "tests.races", "--rounds", str(ROUNDS), "--database", on]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True)
    assert done.returncode == 0, done.stdout + done.stderr
