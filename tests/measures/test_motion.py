"""Motion: sums, shares and bands, with the edges that this project decides (the module says which)."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from caseload.measures.bodies import Motion, Reach
from caseload.measures.motion import joints_of, strickland, strickland_band, total, total_active_motion, total_band
from caseload.measures.terms import Band, Joint
from caseload.timetable.terms import Digit
from tests.measures.builders import FINGER, bent, joints

ANGLES = st.integers(-30, 180)
REACHES = st.builds(Reach, ANGLES, st.integers(-90, 180))
FINGERS = st.fixed_dictionaries(dict.fromkeys(FINGER, REACHES))


def test_a_finger_has_three_joints_and_a_thumb_two():
    assert joints_of(Digit.LITTLE) == (Joint.MCP, Joint.PIP, Joint.DIP)
    assert joints_of(Digit.THUMB) == (Joint.MCP, Joint.IP)


def test_the_sum_is_flexion_minus_deficits():
    assert total_active_motion(joints((90, 100, 70), (5, 10, 0)), Digit.RING) == 245


def test_a_joint_beyond_straight_adds_to_the_sum():
    assert total_active_motion(joints((80, 100, 60), (-10, 0, 0)), Digit.RING) == 250


@pytest.mark.parametrize(
    "measured",
    [joints((90, 100, None), (0, 0, 0)), joints((90, 100, 70), (0, None, 0)), {Joint.PIP: Reach(100, 0)}, {}],
)
def test_a_sum_is_never_guessed(measured):
    assert total_active_motion(measured, Digit.RING) is None
    assert total(Motion(measured), Digit.RING) is None


def test_the_share_is_of_the_other_hand_where_that_was_measured():
    found = total(bent((80, 90, 50), (0, 0, 0), other=240), Digit.RING)
    assert (found.of, found.by_other, found.band) == (240, True, Band.GOOD)
    assert found.share == pytest.approx(220 / 240 * 100)


@pytest.mark.parametrize("other", [{}, joints((90, 100, None), (0, 0, 0)), joints((0, 0, 0), (0, 0, 0))])
def test_another_hand_not_measured_in_full_or_without_any_motion_is_no_yardstick(other):
    found = total(Motion(joints((80, 90, 50), (0, 0, 0)), other), Digit.RING)
    assert (found.of, found.by_other) == (260, False)


def test_a_thumb_is_measured_against_130_degrees():
    found = total(bent((50, 60), (0, 10)), Digit.THUMB)
    assert (found.degrees, found.of, found.band) == (100, 130, Band.GOOD)


@pytest.mark.parametrize(
    ("share", "band"),
    [
        (140, Band.EXCELLENT), (100, Band.EXCELLENT), (99.9, Band.GOOD), (75.1, Band.GOOD), (75, Band.FAIR),
        (50.1, Band.FAIR), (50, Band.POOR), (-3, Band.POOR),
    ],
)  # fmt: skip
def test_the_edges_of_tam_take_the_lower_band(share, band):
    assert total_band(share) is band


@pytest.mark.parametrize(("degrees", "band"), [(195, Band.FAIR), (196, Band.GOOD), (130, Band.POOR), (131, Band.FAIR)])
def test_an_edge_is_met_exactly_in_whole_degrees(degrees, band):
    assert total(bent((degrees, 0, 0), (0, 0, 0)), Digit.INDEX).band is band


@pytest.mark.parametrize(
    ("share", "band"),
    [
        (102.9, Band.EXCELLENT), (85, Band.EXCELLENT), (84.5, Band.GOOD), (70, Band.GOOD), (69.5, Band.FAIR),
        (50, Band.FAIR), (49.5, Band.POOR),
    ],
)  # fmt: skip
def test_what_lies_between_two_bands_of_strickland_takes_the_lower(share, band):
    assert strickland_band(share) is band


def test_strickland_asks_nothing_of_the_knuckle():
    assert strickland(Motion({Joint.PIP: Reach(95, 15), Joint.DIP: Reach(60, 5)}), Digit.RING).band is Band.GOOD


def test_strickland_needs_both_joints_and_a_finger():
    assert strickland(Motion({Joint.PIP: Reach(95, 15)}), Digit.RING) is None
    assert strickland(bent((50, 60), (0, 10)), Digit.THUMB) is None


@given(FINGERS, st.sampled_from(FINGER), st.integers(1, 20))
def test_more_bending_is_never_a_lower_share(measured, joint, more):
    better = measured | {joint: measured[joint]._replace(flexion=measured[joint].flexion + more)}
    before, after = (total(Motion(each), Digit.MIDDLE) for each in (measured, better))
    assert after.share > before.share
    assert list(Band).index(after.band) <= list(Band).index(before.band)


@given(FINGERS, FINGERS)
def test_the_same_hand_as_its_own_yardstick_is_all_of_it(measured, other):
    own = total(Motion(measured, measured), Digit.MIDDLE)
    assert not own.by_other or own.share == 100
    assert total(Motion(measured, other), Digit.MIDDLE).degrees == own.degrees
