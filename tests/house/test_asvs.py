"""Every requirement of levels 1 and 2 of OWASP ASVS 5.0.0 has a row, and every test that a row names is there.

The numbers were taken from the published list of the standard; that there are 253 of them is from memory.
"""

import re
from collections import Counter
from pathlib import Path

import pytest

from tests.house.test_hazards import LEFT_OUT, PROOF, ROOT, marks_of_tests

TEXT = (Path(__file__).parent / "asvs.md").read_text()
ROWS = re.findall(r"^\| ([\d., –]+) \| (.+?) \| (.+) \|$", TEXT, re.M)
WANTED = """
1.1 1-2, 1.2 1-9, 1.3 1-11, 1.4 1-3, 1.5 1-2, 2.1 1-3, 2.2 1-3, 2.3 1-4, 2.4 1-1, 3.2 1-2, 3.3 1-4, 3.4 1-6, 3.5 1-5,
3.7 1-2, 4.1 1-3, 4.2 1-1, 4.3 1-2, 4.4 1-4, 5.1 1-1, 5.2 1-3, 5.3 1-2, 5.4 1-3, 6.1 1-3, 6.2 1-12, 6.3 1-4, 6.4 1-4,
6.5 1-5, 6.6 1-3, 6.8 1-4, 7.1 1-3, 7.2 1-4, 7.3 1-2, 7.4 1-5, 7.5 1-2, 7.6 1-2, 8.1 1-2, 8.2 1-3, 8.3 1-1, 8.4 1-1,
9.1 1-3, 9.2 1-4, 10.1 1-2, 10.2 1-2, 10.3 1-4, 10.4 1-11, 10.5 1-5, 10.6 1-2, 10.7 1-3, 11.1 1-2, 11.2 1-3, 11.3 1-3,
11.4 1-4, 11.5 1-1, 11.6 1-1, 12.1 1-3, 12.2 1-2, 12.3 1-4, 13.1 1-1, 13.2 1-5, 13.3 1-2, 13.4 1-5, 14.1 1-2, 14.2 1-4,
14.3 1-3, 15.1 1-3, 15.2 1-3, 15.3 1-7, 16.1 1-1, 16.2 1-5, 16.3 1-4, 16.4 1-3, 16.5 1-3, 17.1 1-1, 17.2 1-4, 17.3 1-2
"""
"""Sections, and the first and last number of level 1 or 2 in each: no section has gaps between them."""


def numbers(first: str, last: str) -> list[str]:
    section, _dot, begin = first.rpartition(".")
    return [f"{section}.{number}" for number in range(int(begin), int(last.rpartition(".")[2]) + 1)]


def covered(cell: str) -> list[str]:
    spans = (part.split("–") for part in cell.split(", "))
    return [number for span in spans for number in numbers(span[0], span[-1])]


def wanted() -> list[str]:
    found = (each.split() for each in WANTED.replace("\n", " ").split(","))
    return [f"{section}.{n}" for section, span in found for n in range(1, int(span.split("-")[1]) + 1)]


def test_every_requirement_has_one_row_and_no_row_is_of_anything_else():
    assert len(wanted()) == 253
    assert Counter(number for cell, _, _ in ROWS for number in covered(cell)) == Counter(wanted())


def test_every_row_says_what_is_asked_and_how_it_is_met():
    assert all(len(asked) > 2 and len(said) > 4 for _, asked, said in ROWS)


@pytest.mark.parametrize(("file", "test"), sorted(set(PROOF.findall(TEXT))))
def test_a_proof_is_there_and_runs(file: str, test: str):
    assert test in marks_of_tests(file) and not marks_of_tests(file)[test] & LEFT_OUT


def test_every_file_of_tests_that_is_named_is_there():
    assert all((ROOT / file).exists() for file in re.findall(r"`(tests/[\w/]+\.py)", TEXT))
