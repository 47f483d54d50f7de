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
PDF = PROJECT["project"]["optional-dependencies"]["pdf"]
LOCKS = {
    "requirements.txt": PROJECT["project"]["dependencies"],
    "requirements-pdf.txt": PROJECT["project"]["dependencies"] + PDF,
    "requirements-dev.txt": PROJECT["project"]["dependencies"] + PDF + PROJECT["dependency-groups"]["dev"],
    "requirements-benchmarks.txt": PROJECT["project"]["dependencies"] + PROJECT["dependency-groups"]["benchmarks"],
}


def locked(name: str) -> dict[str, str]:
    pins = re.findall(r"^([\w.-]+)(?:\[[\w, -]+\])?==([\w.!+]+)", (ROOT / name).read_text(), re.MULTILINE)
    return {canonicalize_name(package): version for package, version in pins}


@pytest.mark.parametrize("name", LOCKS)
def test_a_lock_holds_every_dependency_in_an_allowed_version(name):
    pins = locked(name)
    for wanted in map(Requirement, LOCKS[name]):
        assert wanted.specifier.contains(pins[canonicalize_name(wanted.name)]), wanted


@pytest.mark.parametrize("name", LOCKS)
def test_every_locked_package_has_a_hash_and_no_line_names_a_host(name):
    text = (ROOT / name).read_text()
    entries = re.findall(r"^[\w.-]+(?:\[[\w, -]+\])?==[^\n]*(?:\n    --hash=[^\n]*)*", text, re.MULTILINE)
    assert {entry.split("==")[0].split("[")[0].lower() for entry in entries} >= {each.lower() for each in locked(name)}
    assert all("--hash=sha256:" in entry for entry in entries)
    assert not re.search(r"https?://|^--|@ ", text, re.MULTILINE)


@pytest.mark.parametrize(("fewer", "more"), [("", "-pdf"), ("-pdf", "-dev")])
def test_a_lock_holds_the_same_versions_as_the_smaller_one(fewer, more):
    held, wanted = locked(f"requirements{more}.txt"), locked(f"requirements{fewer}.txt")
    assert {name: held[name] for name in wanted} == wanted
