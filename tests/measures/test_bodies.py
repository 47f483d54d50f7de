"""Bodies and their form as JSON are each other's inverse."""

import json
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from caseload.measures import bodies, limits
from caseload.measures.bodies import (
    KIND_OF,
    Grip,
    Infection,
    Motion,
    Pain,
    QuickDash,
    Reach,
    Swelling,
    Trigger,
    read,
    write,
)
from caseload.measures.terms import InfectionKind, Joint, MeasureKind, TriggerScale

DAYS = st.none() | st.dates()
KILOGRAMS = st.lists(st.floats(0, 200), max_size=3).map(tuple)
REACHES = st.builds(Reach, st.none() | st.integers(-30, 180), st.none() | st.integers(-90, 180))
JOINTS = st.dictionaries(st.sampled_from(Joint), REACHES)
BODIES = st.one_of(
    st.builds(Infection, st.sampled_from(InfectionKind), st.text(max_size=20), DAYS, DAYS),
    st.builds(Pain, st.integers(0, 10)),
    st.builds(Swelling, st.floats(1, 100), st.none() | st.floats(1, 100)),
    st.builds(Motion, JOINTS, JOINTS),
    st.builds(Trigger, st.sampled_from(TriggerScale), st.sampled_from(["III", "3"])),
    st.builds(Grip, KILOGRAMS, KILOGRAMS),
    st.builds(QuickDash, st.lists(st.none() | st.integers(1, 5), min_size=11, max_size=11).map(tuple)),
)


@given(BODIES)
def test_what_is_written_is_read_as_it_was(body):
    assert read(KIND_OF[type(body)], json.loads(json.dumps(write(body)))) == body


@pytest.mark.parametrize(
    ("body", "stored"),
    [
        (
            Infection(InfectionKind.SUPERFICIAL, "flucloxacillin", date(2026, 4, 1)),
            {"kind": "superficial", "antibiotic": "flucloxacillin", "from_on": "2026-04-01", "until_on": None},
        ),
        (Motion({Joint.MCP: Reach(-10, 85)}), {"joints": {"mcp": [-10, 85]}, "other": {}}),
    ],
)
def test_days_and_joints_are_kept_so_that_what_was_stored_is_read_for_good(body, stored):
    assert write(body) == {"shape": 1} | stored
    assert read(KIND_OF[type(body)], {"shape": 1} | stored) == body


def test_every_kind_has_a_body_that_is_written_read_and_kept_within_what_can_be():
    assert sorted(KIND_OF.values()) == sorted(MeasureKind)
    assert bodies._WRITERS.keys() == KIND_OF.keys() == limits._IMPOSSIBLE.keys()
    assert bodies._READERS.keys() == set(MeasureKind)


@pytest.mark.parametrize("stored", [{}, {"shape": 2, "score": 3}, {"score": 3}])
def test_a_shape_from_elsewhere_is_not_read(stored):
    with pytest.raises(ValueError, match="is not known"):
        read(MeasureKind.PAIN, stored)
