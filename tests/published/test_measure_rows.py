"""Measures against the published: rows M01, M02, M03, M05 of the table of checks; worked values and traps of part B.

Each check names its source beside it; “computed” is arithmetic on the published rule, “from memory” was not read again.
"""

import pytest

from caseload.errors import Refusal
from caseload.measures.bodies import Motion, Pain, QuickDash, Reach, Trigger
from caseload.measures.disability import score
from caseload.measures.grades import LEVELS, is_grade
from caseload.measures.limits import DEFICIT, FINGER_FLEXION, THUMB_FLEXION, doubts, refuse_impossible
from caseload.measures.motion import (
    FINGER_NORMAL,
    STRICKLAND_NORMAL,
    THUMB_NORMAL,
    strickland,
    strickland_band,
    total,
    total_band,
)
from caseload.measures.terms import Band, Joint, MeasureKind, TriggerScale
from caseload.timetable.terms import Digit
from caseload.wording.measures import say_grade, say_note
from tests.measures.builders import bent

ANSWERS = (3, 2, 4, 2, 3, 1, 2, 3, 3, 2, 4)


def pip_and_dip(flexion: tuple[int, int], deficit: tuple[int, int]) -> Motion:
    return Motion({Joint.PIP: Reach(flexion[0], deficit[0]), Joint.DIP: Reach(flexion[1], deficit[1])})


# B1: total active motion. The rule of the American Society for Surgery of the Hand: handlab.com, Clinical Pearl 18.


def test_m01_total_active_motion() -> None:
    """Flexion 85, 100, 65 and deficits 0, 10, 5: computed."""
    found = total(bent((85, 100, 65), (0, 10, 5)), Digit.RING)
    assert found.degrees == 235
    assert found.share == pytest.approx(90.38, abs=0.01)
    assert found.band is Band.GOOD


def test_b1_a_finger_bends_260_degrees() -> None:
    """85 + 110 + 65: medicalalgorithms.com."""
    found = total(bent((85, 110, 65), (0, 0, 0)), Digit.RING)
    assert (found.degrees, found.share, found.band) == (FINGER_NORMAL, 100, Band.EXCELLENT)


@pytest.mark.parametrize(
    ("share", "band"), [(100, Band.EXCELLENT), (75.1, Band.GOOD), (50.1, Band.FAIR), (49.9, Band.POOR)]
)
def test_b1_the_bands(share: float, band: Band) -> None:
    """Excellent 100 %, good above 75 %, fair above 50 %, poor below 50 %: handlab.com."""
    assert total_band(share) is band


def test_b1_trap_the_published_bands_leave_75_and_50_out() -> None:
    """Neither is assigned on handlab.com. Our own rule: the lower band."""
    assert (total_band(75), total_band(50)) == (Band.FAIR, Band.POOR)


def test_b1_trap_an_older_banding_leaves_80_to_97_degrees_of_a_thumb_out() -> None:
    """eatonhand.com, clf217, as printed. Ours, by shares, has a band for each, never a lower one for more degrees."""
    bands = [total(bent((degrees, 0), (0, 0)), Digit.THUMB).band for degrees in range(70, 141)]
    assert bands == sorted(bands, key=list(Band).index, reverse=True)
    assert total(bent((50, 80), (0, 0)), Digit.THUMB).of == THUMB_NORMAL == 130  # MCP 50, IP 80: brainscape.com (AAOS)


# B2: Strickland and Glogovac 1980. PIP and DIP only, and the bands: handlab.com; the divisor 175: from memory.


def test_m02_strickland() -> None:
    """PIP 95, DIP 60, deficits 15 and 5: 135 of 175: computed."""
    found = strickland(pip_and_dip((95, 60), (15, 5)), Digit.RING)
    assert STRICKLAND_NORMAL == 175
    assert found.share == pytest.approx(77.14, abs=0.01)
    assert found.band is Band.GOOD


def test_b2_a_fair_result() -> None:
    """90, 50, 20, 10: computed."""
    found = strickland(pip_and_dip((90, 50), (20, 10)), Digit.RING)
    assert found.share == pytest.approx(62.86, abs=0.01)
    assert found.band is Band.FAIR


def test_b2_trap_hyperextension_passes_100_per_cent() -> None:
    """105, 70, 0 and DIP 5 beyond straight: computed. Our own rule: it is not capped."""
    found = strickland(pip_and_dip((105, 70), (0, -5)), Digit.RING)
    assert found.share == pytest.approx(102.86, abs=0.01)
    assert found.band is Band.EXCELLENT


@pytest.mark.parametrize(
    ("share", "band"),
    [(85, Band.EXCELLENT), (84, Band.GOOD), (70, Band.GOOD), (69, Band.FAIR), (50, Band.FAIR), (49, Band.POOR)],
)
def test_b2_the_bands(share: float, band: Band) -> None:
    """Excellent 85-100, good 70-84, fair 50-69, poor below 50: handlab.com."""
    assert strickland_band(share) is band


# B3: ranges of motion.


def test_b3_the_usual_ranges_raise_no_doubt() -> None:
    """MCP 0-90 (beyond straight 45), PIP 0-100, DIP 0-90; thumb MCP 0-50, IP 0-80: brainscape.com (AAOS, AMA)."""
    assert doubts(bent((90, 100, 90), (0, 0, 0)), Digit.RING) == ()
    assert doubts(bent((50, 80), (0, -20)), Digit.THUMB) == ()


def test_b3_the_limits_of_what_is_typed() -> None:
    """Judgement, for the clinic to agree to; those of the thumb are our own guess of the same width."""
    assert FINGER_FLEXION == {Joint.MCP: (0, 110), Joint.PIP: (0, 120), Joint.DIP: (0, 100)}
    assert THUMB_FLEXION == {Joint.MCP: (0, 80), Joint.IP: (0, 100)}
    assert DEFICIT == (-30, 90)


def test_b3_trap_a_copy_prints_the_pip_as_0_to_10() -> None:
    """eatonhand.com, clf218. A PIP that bends to 100 degrees is usual."""
    assert FINGER_FLEXION[Joint.PIP][1] > 10
    assert doubts(pip_and_dip((100, 60), (0, 0)), Digit.RING) == ()


@pytest.mark.parametrize(("joint", "arc"), [(Joint.MCP, (19, 71)), (Joint.PIP, (23, 87)), (Joint.DIP, (10, 64))])
def test_b3_what_nine_of_ten_daily_tasks_need_is_usual(joint: Joint, arc: tuple[int, int]) -> None:
    """J Hand Surg Eur 2015 (Flinders)."""
    low, high = FINGER_FLEXION[joint]
    assert low <= arc[0] < arc[1] <= high


# B4: trigger grades. Green: orthofixar.com (IIIA and IIIB: from memory). Quinnell: from memory.


def test_m05_green_iii_and_quinnell_3_are_never_taken_for_one_another() -> None:
    assert not is_grade(Trigger(TriggerScale.GREEN, "3")) and not is_grade(Trigger(TriggerScale.QUINNELL, "III"))


def test_b4_the_grades_of_each_scale() -> None:
    assert [*LEVELS[TriggerScale.GREEN]] == ["I", "II", "III", "IIIA", "IIIB", "IV"]
    assert [*LEVELS[TriggerScale.QUINNELL]] == ["0", "1", "2", "3", "4"]


@pytest.mark.parametrize(
    ("scale", "grade", "word"),
    [
        (TriggerScale.GREEN, "I", "tender"), (TriggerScale.GREEN, "II", "catches"),
        (TriggerScale.GREEN, "III", "freed passively"), (TriggerScale.GREEN, "IIIA", "straightened"),
        (TriggerScale.GREEN, "IIIB", "bent"), (TriggerScale.GREEN, "IV", "fixed"),
        (TriggerScale.QUINNELL, "0", "normal"), (TriggerScale.QUINNELL, "1", "uneven"),
        (TriggerScale.QUINNELL, "2", "freed actively"), (TriggerScale.QUINNELL, "3", "freed passively"),
        (TriggerScale.QUINNELL, "4", "fixed"),
    ],
)  # fmt: skip
def test_b4_the_words_of_each_grade(scale: TriggerScale, grade: str, word: str) -> None:
    assert word in say_grade(Trigger(scale, grade))


# B5: pain, a whole number from 0 to 10 (common practice).


def test_b5_pain_has_eleven_steps() -> None:
    for score_ in range(11):
        refuse_impossible(Pain(score_), Digit.RING)
    for outside in (-1, 11):
        with pytest.raises(Refusal):
            refuse_impossible(Pain(outside), Digit.RING)


# B6: QuickDASH. At least ten answers: BMC Musculoskelet Disord 2006;7:44. The formula: the scoring sheet, zaro.info.


@pytest.mark.parametrize(("answer", "points"), [(1, 0), (2, 25), (5, 100)])
def test_b6_the_same_answer_throughout(answer: int, points: int) -> None:
    """Computed."""
    assert score(QuickDash((answer,) * 11)) == points


def test_m03_quickdash() -> None:
    """3, 2, 4, 2, 3, 1, 2, 3, 3, 2, 4: computed."""
    assert score(QuickDash(ANSWERS)) == pytest.approx(40.9091, abs=5e-5)
    assert score(QuickDash((*ANSWERS[:10], None))) == pytest.approx(37.5, abs=5e-5)
    assert score(QuickDash((*ANSWERS[:9], None, None))) is None


def test_b6_trap_flattened_copies_lose_the_division() -> None:
    """(sum - 1) x 25 would be far above 100: computed."""
    assert (sum(ANSWERS) - 1) * 25 == 700
    assert score(QuickDash(ANSWERS)) <= 100


def test_b6_the_change_that_may_mean_little() -> None:
    """14 (9-20): Sorensen 2013, cited on issh.org. Other studies say 6.8 (2020) and 16-26 (J Hand Ther 2016)."""
    assert "fewer than about 14 points" in say_note(MeasureKind.QUICKDASH)
