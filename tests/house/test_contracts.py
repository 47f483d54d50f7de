"""The heart is plain Python: values in, values out. What import-linter cannot see is read from the syntax here."""

import ast
import tomllib
from pathlib import Path

import pytest
from django.conf import settings

ROOT = Path(settings.BASE_DIR)
HEART = ("access", "booking", "errors", "exchange", "measures", "parsing", "timetable", "waits")
CLOCKS = {"today", "now", "utcnow", "localtime", "gmtime"}
MACHINE = {"open", "print", "input", "exec", "eval", "__import__"}
CONTRACTS = tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]["importlinter"]["contracts"]


def heart_files() -> list[Path]:
    named = [ROOT / "caseload" / f"{name}.py" for name in HEART]
    return [path for path in named if path.exists()] + [
        path for name in HEART for path in sorted((ROOT / "caseload" / name).rglob("*.py"))
    ]


def called(node: ast.Call) -> str:
    return getattr(node.func, "id", "") or getattr(node.func, "attr", "")


@pytest.mark.parametrize("path", heart_files(), ids=lambda path: str(path.relative_to(ROOT)))
def test_the_heart_asks_no_clock_and_touches_no_machine(path):
    calls = {called(node) for node in ast.walk(ast.parse(path.read_text())) if isinstance(node, ast.Call)}
    assert not calls & (CLOCKS | MACHINE)


def test_every_part_of_the_heart_stands_in_its_contract():
    there = {path.relative_to(ROOT / "caseload").parts[0].removesuffix(".py") for path in heart_files()}
    contract = next(contract for contract in CONTRACTS if contract["name"].startswith("The heart"))
    assert {f"caseload.{name}" for name in there} == set(contract["source_modules"])


def test_only_the_settings_read_the_environment():
    readers = {"environ", "getenv"}
    for path in sorted((ROOT / "caseload").rglob("*.py")):
        names = {getattr(node, "attr", "") for node in ast.walk(ast.parse(path.read_text()))}
        # `start` hands its own environment on to its children; it takes nothing from it.
        assert not names & readers or path.name == "start.py", path


def test_only_a_task_publishes_so_no_request_waits_for_redis():
    publishing = {"delay", "apply_async", "send_task"}
    for path in sorted((ROOT / "caseload").rglob("*.py")):
        calls = {called(node) for node in ast.walk(ast.parse(path.read_text())) if isinstance(node, ast.Call)}
        assert not calls & publishing or path == ROOT / "caseload" / "tasks.py", path
