"""A machine that lacks a part is told which Debian package brings it, in one sentence."""

import shutil
import subprocess
from pathlib import Path

import pytest
from django.conf import settings

pytestmark = pytest.mark.skipif(not shutil.which("make"), reason="make is not installed")

OLD = '#!/bin/sh\n[ "$1" = --version ] && echo "Python 3.9.2" || exit 1\n'
WITHOUT_VENV = '#!/bin/sh\ncase "$2" in *ensurepip*) exit 1;; *) exit 0;; esac\n'


def told(folder: Path, python: str) -> str:
    """What `make start` says in a fresh copy with this Python."""
    shutil.copy(settings.BASE_DIR / "Makefile", folder)
    (folder / "requirements.txt").touch()
    made = subprocess.run(["make", "start", f"PYTHON={python}"], cwd=folder, capture_output=True, text=True)
    assert made.returncode != 0 and not (folder / ".venv").exists()
    return made.stderr.splitlines()[0]


def stand_in(folder: Path, script: str) -> str:
    python = folder / "python-stand-in"
    python.write_text(script)
    python.chmod(0o755)
    return str(python)


def test_no_python_at_all(tmp_path):
    sentence = told(tmp_path, "python-that-is-not-there")
    assert sentence == "Python 3.11 or newer is missing. On Debian: apt install python3 python3-venv"


def test_a_python_that_is_too_old(tmp_path):
    assert told(tmp_path, stand_in(tmp_path, OLD)).startswith("Python 3.9.2 is too old: 3.11 or newer is needed.")


def test_a_python_that_cannot_make_virtual_environments(tmp_path):
    assert "apt install python3-venv" in told(tmp_path, stand_in(tmp_path, WITHOUT_VENV))
