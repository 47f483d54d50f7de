"""Every control of the hazards in `hazards.md` is proven by tests that are there and are not skipped."""

import ast
import re
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
TEXT = (Path(__file__).parent / "hazards.md").read_text()
HAZARDS = {each.split()[0]: each for each in TEXT.split("\n## ")[1:]}
PROOF = re.compile(r"`(tests/[\w/]+\.py)::(\w+)`")
LEFT_OUT = {"skip", "skipif", "xfail"}


@cache
def marks_of_tests(file: str) -> dict[str, set[str]]:
    """The tests of a file, also those in classes, with the names of their marks."""
    found = (each for each in ast.walk(ast.parse((ROOT / file).read_text())) if isinstance(each, ast.FunctionDef))
    return {each.name: {part.attr for mark in each.decorator_list for part in _named(mark)} for each in found}


def _named(mark: ast.expr) -> list[ast.Attribute]:
    return [each for each in ast.walk(mark) if isinstance(each, ast.Attribute)]


def test_the_nine_hazards_are_all_there():
    assert list(HAZARDS) == [f"H{number}" for number in range(1, 10)]


@pytest.mark.parametrize("hazard", HAZARDS)
def test_a_hazard_has_its_cause_its_effect_and_controls_that_are_proven(hazard: str):
    about, *controls = HAZARDS[hazard].split("\n- ")
    assert "\nCause: " in about and " Effect: " in about
    assert len(controls) >= 3 and all(PROOF.search(control) for control in controls)


@pytest.mark.parametrize(("file", "test"), sorted(set(PROOF.findall(TEXT))))
def test_a_proof_is_there_and_runs(file: str, test: str):
    assert (ROOT / file).exists()
    assert test in marks_of_tests(file)
    assert not marks_of_tests(file)[test] & LEFT_OUT
