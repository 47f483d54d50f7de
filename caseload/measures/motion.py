"""How far a digit bends and straightens: total active motion, and Strickland's share.

Decides: the sum in degrees, its share in per cent, and one of four bands for each.

- Total active motion (TAM): active flexion of all joints minus the extension deficits of all joints, in degrees.
  American Society for Surgery of the Hand, as quoted in Clinical Pearl 18 of handlab.com: as a share of the same
  digit of the other hand, or of 260 degrees (MCP 85 + PIP 110 + DIP 65: medicalalgorithms.com). Excellent 100 %, good
  above 75 %, fair above 50 %, poor below.
- Strickland and Glogovac 1980: PIP and DIP only, (flexion - deficits) / 175. Bands from handlab.com: excellent
  85-100, good 70-84, fair 50-69, poor below 50. The divisor 175 is from memory.

Assumes, where the sources are silent:

- A share of exactly 75 or 50 % of TAM belongs to no published band: it takes the lower one.
- What lies between two bands of Strickland, such as 84.5, takes the lower one.
- A joint that goes beyond straight has a deficit below zero, so it adds to the sum. Neither share is capped: both may
  pass 100 %, which is excellent.
- A thumb is measured against 130 degrees (MCP 50 + IP 80, the usual ranges of the AAOS as tabled on brainscape.com;
  their sum is ours). It has no Strickland.
- A joint that was not measured, or only half, leaves no sum: None, never a guess. An other digit that was not
  measured in full counts as not measured.
"""

from collections.abc import Mapping
from typing import Final, NamedTuple

from caseload.measures.bodies import Motion, Reach
from caseload.measures.terms import Band, Joint
from caseload.timetable.terms import Digit

FINGER_JOINTS: Final = (Joint.MCP, Joint.PIP, Joint.DIP)
THUMB_JOINTS: Final = (Joint.MCP, Joint.IP)
FINGER_NORMAL: Final = 260
THUMB_NORMAL: Final = 130
STRICKLAND_JOINTS: Final = (Joint.PIP, Joint.DIP)
STRICKLAND_NORMAL: Final = 175


class Total(NamedTuple):
    """`degrees` of `of` degrees; `by_other` says that these are the other hand's. `share` is in per cent."""

    degrees: int
    of: int
    by_other: bool
    share: float
    band: Band


class Share(NamedTuple):
    """In per cent."""

    share: float
    band: Band


def joints_of(digit: Digit) -> tuple[Joint, ...]:
    """The joints of a digit, from the palm outward."""
    return THUMB_JOINTS if digit is Digit.THUMB else FINGER_JOINTS


def total_active_motion(joints: Mapping[Joint, Reach], digit: Digit) -> int | None:
    """In degrees; None unless every joint of the digit was measured both ways."""
    return _sum(joints, joints_of(digit))


def total(motion: Motion, digit: Digit) -> Total | None:
    """The sum and its share of the other hand's same digit, or of the usual one where that was not measured in full."""
    degrees = total_active_motion(motion.joints, digit)
    if degrees is None:
        return None
    other = total_active_motion(motion.other, digit) or 0
    by_other = other > 0
    usual = THUMB_NORMAL if digit is Digit.THUMB else FINGER_NORMAL
    of = other if by_other else usual
    share = 100 * degrees / of
    return Total(degrees, of, by_other, share, total_band(share))


def strickland(motion: Motion, digit: Digit) -> Share | None:
    """None for a thumb, and unless PIP and DIP were measured both ways."""
    degrees = None if digit is Digit.THUMB else _sum(motion.joints, STRICKLAND_JOINTS)
    if degrees is None:
        return None
    share = 100 * degrees / STRICKLAND_NORMAL
    return Share(share, strickland_band(share))


def total_band(share: float) -> Band:
    """The band of a share in per cent of the other hand's, or of the usual motion."""
    if share >= 100:
        return Band.EXCELLENT
    if share > 75:
        return Band.GOOD
    return Band.FAIR if share > 50 else Band.POOR


def strickland_band(share: float) -> Band:
    """The band of a share in per cent of 175 degrees."""
    if share >= 85:
        return Band.EXCELLENT
    if share >= 70:
        return Band.GOOD
    return Band.FAIR if share >= 50 else Band.POOR


def _sum(joints: Mapping[Joint, Reach], wanted: tuple[Joint, ...]) -> int | None:
    """Flexion minus deficits over the joints that are wanted."""
    degrees = 0
    for joint in wanted:
        reach = joints.get(joint)
        if reach is None or reach.flexion is None or reach.deficit is None:
            return None
        degrees += reach.flexion - reach.deficit
    return degrees
