"""The lock files: hashed, complete, and naming no place to download from."""

import re
import tomllib
from pathlib import Path

import pytest
from django.conf import settings
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(settings.BASE_DIR)
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text())
LOCKS = {
    "requirements.txt": PROJECT["project"]["dependencies"],
    "requirements-dev.txt": PROJECT["project"]["dependencies"] + PROJECT["dependency-groups"]["dev"],
}


def locked(name: str) -> dict[str, str]:
    pins = re.findall(r"^([\w.-]+)(?:\[[\w,]+\])?==([\w.!+]+)", (ROOT / name).read_text(), re.MULTILINE)
    return {canonicalize_name(package): version for package, version in pins}


@pytest.mark.parametrize("name", LOCKS)
def test_a_lock_holds_every_dependency_in_an_allowed_version(name):
    pins = locked(name)
    for wanted in map(Requirement, LOCKS[name]):
        assert wanted.specifier.contains(pins[canonicalize_name(wanted.name)]), wanted


@pytest.mark.parametrize("name", LOCKS)
def test_every_locked_package_has_a_hash_and_no_line_names_a_host(name):
    text = (ROOT / name).read_text()
    entries = re.findall(r"^[\w.-]+(?:\[[\w,]+\])?==[^\n]*(?:\n    --hash=[^\n]*)*", text, re.MULTILINE)
    assert len(entries) == len(locked(name))
    assert all("--hash=sha256:" in entry for entry in entries)
    assert not re.search(r"https?://|^--|@ ", text, re.MULTILINE)


def test_both_locks_agree():
    run, dev = locked("requirements.txt"), locked("requirements-dev.txt")
    assert {name: dev[name] for name in run} == run
